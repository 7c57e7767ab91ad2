//! The connection in memory: what is on its way, and when it arrives.

use std::collections::BTreeMap;
use std::future::poll_fn;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex, MutexGuard};
use std::task::{Context, Poll, Waker};
use std::time::Duration;

use tokio::time::Instant;
use units::DeviceId;

use super::stream::{Alarm, Half, Receiving, Sending};
use super::{Faults, Way};
use crate::close::{Close, Lost};
use crate::link::{Calls, Link, Reader, Soon, Writer};
use crate::lock;

/// Which end of the connection: 0 called, 1 was called.
pub(super) type End = usize;
/// The other end.
pub(super) fn other(end: End) -> End {
    1 - end
}

/// What both ends share.
#[derive(Debug)]
pub(super) struct Carrier(Mutex<State>);

impl Carrier {
    pub(super) fn state(&self) -> MutexGuard<'_, State> {
        lock(&self.0)
    }
}

#[derive(Debug)]
pub(super) struct State {
    ways: [Road; 2],
    streams: BTreeMap<u64, Stream>,
    opened: u64,
    /// For each end, when and how it is over.
    over: [Option<(Instant, Lost)>; 2],
    /// For each end, who waits for a stream or for the end.
    waiting: [Vec<Waker>; 2],
}

/// A stream: for each end, what it has sent.
#[derive(Debug)]
struct Stream {
    by: End,
    accepted: bool,
    halves: [Half; 2],
}

/// One direction.
#[derive(Debug)]
struct Road {
    way: Way,
    chance: Chance,
    /// When what was sent last is through the narrow place.
    free: Instant,
    carried: u64,
}

impl Road {
    fn new(way: Way) -> Self {
        Self {
            way,
            chance: Chance(way.seed),
            free: Instant::now(),
            carried: 0,
        }
    }

    /// Sends as much of `length` bytes as passes; gives how much, when it arrives, and
    /// whether the connection breaks behind it.
    fn send(&mut self, length: usize) -> (usize, Instant, bool) {
        let left = self
            .way
            .cut_after
            .map(|most| most.saturating_sub(self.carried));
        let passing = left.map_or(length, |left| {
            length.min(usize::try_from(left).unwrap_or(length))
        });
        self.carried += passing as u64;
        self.free = self.free.max(Instant::now());
        if let Some(rate) = self.way.bytes_per_second {
            let nanos = passing as u64 * 1_000_000_000 / rate.max(1);
            self.free += Duration::from_nanos(nanos);
        }
        let late = self.chance.up_to(self.way.spread);
        let cut = left.is_some_and(|left| left <= length as u64);
        (passing, self.free + self.way.delay + late, cut)
    }
}

/// Numbers that look like chance and are the same each time: Vigna's SplitMix64.
#[derive(Debug)]
struct Chance(u64);

impl Chance {
    fn up_to(&mut self, most: Duration) -> Duration {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ z >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ z >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^= z >> 31;
        let most = u64::try_from(most.as_nanos()).unwrap_or(u64::MAX - 1);
        Duration::from_nanos(z % (most + 1))
    }
}

impl State {
    /// How the connection ended for this end, if it has.
    pub(super) fn over(&self, end: End) -> Option<&(Instant, Lost)> {
        self.over[end].as_ref()
    }

    /// What an end has sent on a stream.
    pub(super) fn half(&mut self, stream: u64, from: End) -> &mut Half {
        let stream = self.streams.get_mut(&stream);
        // A stream stays as long as the connection.
        &mut stream.expect("a stream that was opened").halves[from]
    }

    /// Puts bytes on their way; gives how many are taken.
    pub(super) fn send(&mut self, stream: u64, from: End, bytes: &[u8]) -> usize {
        let (passing, arrives, cut) = self.ways[from].send(bytes.len());
        let half = self.half(stream, from);
        let arrives = half.push(bytes[..passing].to_vec(), arrives);
        if cut {
            let broken = || Lost::Broken("cut".into());
            self.end(from, arrives, broken());
            self.end(other(from), arrives, broken());
        }
        self.wake(stream, from);
        // What is behind the cut is lost on its way, which its sender cannot know.
        bytes.len()
    }

    /// Ends a stream behind what was sent.
    pub(super) fn finish(&mut self, stream: u64, from: End) {
        let (_, arrives, _) = self.ways[from].send(0);
        self.half(stream, from).finish(arrives);
        self.wake(stream, from);
    }

    /// Tells the sending end that nobody reads any more.
    pub(super) fn stop(&mut self, stream: u64, from: End) {
        let arrives = Instant::now() + self.ways[other(from)].way.delay;
        self.half(stream, from).stop(arrives);
    }

    fn open(&mut self, by: End) -> u64 {
        let number = self.opened;
        self.opened += 1;
        let halves = [Half::default(), Half::default()];
        let accepted = false;
        self.streams.insert(
            number,
            Stream {
                by,
                accepted,
                halves,
            },
        );
        number
    }

    /// The next stream that the other end opened, once something of it, or of a later one,
    /// is here (RFC 9000, 3.2: opening a stream opens those before it); else when to look
    /// again.
    fn accept(&mut self, end: End) -> Result<u64, Option<Instant>> {
        let mut theirs = self
            .streams
            .iter_mut()
            .filter(|(_, s)| s.by != end && !s.accepted);
        let Some((number, next)) = theirs.next() else {
            return Err(None);
        };
        let first = next.halves[other(end)].starts();
        let starts = theirs.filter_map(|(_, later)| later.halves[other(end)].starts());
        let starts = starts.chain(first).min();
        match starts {
            Some(starts) if starts <= Instant::now() => {
                next.accepted = true;
                Ok(*number)
            }
            later => Err(later),
        }
    }

    /// Ends the connection for one end, unless it ends sooner already.
    fn end(&mut self, end: End, at: Instant, lost: Lost) {
        let sooner = self.over[end]
            .as_ref()
            .is_some_and(|(sooner, _)| *sooner <= at);
        if !sooner {
            self.over[end] = Some((at, lost));
        }
        for stream in self.streams.values_mut() {
            stream.halves[other(end)].wake_reader();
            stream.halves[end].wake_writer();
        }
        self.wake_waiting(end);
    }

    fn close(&mut self, by: End, lost: Lost) {
        let now = Instant::now();
        let arrives = now + self.ways[by].way.delay;
        self.end(by, now, Lost::Here);
        self.end(other(by), arrives, lost);
    }

    /// Wakes whoever waits for what `from` sends on a stream.
    fn wake(&mut self, stream: u64, from: End) {
        self.half(stream, from).wake_reader();
        self.wake_waiting(other(from));
    }

    /// Wakes whoever waits for a new stream or for the end.
    fn wake_waiting(&mut self, end: End) {
        self.waiting[end].drain(..).for_each(Waker::wake);
    }
}

/// One end.
#[derive(Debug)]
struct Tied {
    carrier: Arc<Carrier>,
    end: End,
    peer: DeviceId,
}

pub(super) fn pair(
    caller: DeviceId,
    called: DeviceId,
    faults: &Faults,
) -> (Arc<dyn Link>, Arc<dyn Link>) {
    let carrier = Arc::new(Carrier(Mutex::new(State {
        ways: [Road::new(faults.there), Road::new(faults.back)],
        streams: BTreeMap::new(),
        opened: 0,
        over: [None, None],
        waiting: [Vec::new(), Vec::new()],
    })));
    let tied = |end, peer| {
        let carrier = Arc::clone(&carrier);
        Arc::new(Tied { carrier, end, peer })
    };
    (tied(0, called), tied(1, caller))
}

impl Tied {
    fn halves(&self, stream: u64) -> (Writer, Reader) {
        let carrier = || Arc::clone(&self.carrier);
        (
            Box::new(Sending::new(carrier(), stream, self.end)),
            Box::new(Receiving::new(carrier(), stream, other(self.end))),
        )
    }

    /// Waits until `ready` has something, or says when to look again.
    async fn until<T>(
        &self,
        mut ready: impl FnMut(&mut State) -> Result<T, Option<Instant>>,
    ) -> Result<T, Lost> {
        let mut alarm = Alarm::default();
        poll_fn(|context: &mut Context<'_>| {
            loop {
                let mut state = self.carrier.state();
                let over = state.over(self.end).cloned();
                if let Some((_, lost)) = over.as_ref().filter(|(at, _)| *at <= Instant::now()) {
                    return Poll::Ready(Err(lost.clone()));
                }
                match ready(&mut state) {
                    Ok(done) => return Poll::Ready(Ok(done)),
                    Err(later) => {
                        state.waiting[self.end].push(context.waker().clone());
                        drop(state);
                        let end = over.map(|(at, _)| at);
                        if alarm
                            .poll(later.into_iter().chain(end).min(), context)
                            .is_pending()
                        {
                            return Poll::Pending;
                        }
                    }
                }
            }
        })
        .await
    }
}

impl Link for Tied {
    fn peer(&self) -> DeviceId {
        self.peer
    }

    fn addrs(&self) -> Vec<SocketAddr> {
        Vec::new()
    }

    fn open(&self) -> Soon<'_, Result<(Writer, Reader), Lost>> {
        Box::pin(async {
            let stream = self.until(|state| Ok(state.open(self.end))).await?;
            Ok(self.halves(stream))
        })
    }

    fn accept(&self) -> Soon<'_, Result<(Writer, Reader), Lost>> {
        Box::pin(async {
            let stream = self.until(|state| state.accept(self.end)).await?;
            Ok(self.halves(stream))
        })
    }

    fn close(&self, reason: Close) {
        let mut state = self.carrier.state();
        state.close(self.end, Lost::Closed(reason));
    }

    fn closed(&self) -> Soon<'_, Lost> {
        Box::pin(async {
            let over = self
                .until(|_| Err::<std::convert::Infallible, _>(None))
                .await;
            let Err(lost) = over;
            lost
        })
    }

    fn calls(&self) -> Calls {
        Calls::Inline
    }
}

impl Drop for Tied {
    fn drop(&mut self) {
        let mut state = self.carrier.state();
        state.close(self.end, Lost::Closed(Close::Done));
    }
}
