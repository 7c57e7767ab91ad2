//! Blobs that this device wants: asked for one by one, checked group by group as they
//! arrive, gone on with where a stream or a meeting broke.

use std::collections::VecDeque;
use std::iter;
use std::sync::Mutex;

use tokio::sync::Semaphore;
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};

use super::{Halt, LANES, Meeting, Room};
use crate::frame::{Answer, Ask, BlobAnswer, FrameError};
use crate::link::Reader;
use crate::outline::{GROUP, Outline};
use crate::wire::WireError;
use crate::{ExchangeError, Limits, Wanted, lock};

/// Streams tried for one blob before it is given up for this meeting.
const STREAMS_PER_BLOB: usize = 16;
/// Checked bytes are handed over in pieces of this size while a blob arrives. A
/// photograph is smaller, so it is written once.
const PART_BYTES: usize = 2 << 20;

/// So many KiB of whole blobs may wait to be kept, or a single larger one, and one more of each lane, which
/// asks for no other before there is room.
const WAITING_KIB: u32 = 16 << 10;
/// A blob counts for so many KiB at least: keeping a small one takes the disk nearly as long, and while many are
/// kept the peer hears nothing.
const LEAST_KIB: u32 = 64;

/// What is still to be asked for.
struct Left {
    blobs: VecDeque<Wanted>,
    bytes: Room,
}

/// Checked bytes of a blob from one on, for [`Host::keep_part`](crate::Host::keep_part).
pub(super) struct Part {
    pub(super) blob: Wanted,
    pub(super) from: u64,
    pub(super) bytes: Vec<u8>,
}

/// Blobs on their way from those that fetch to those that keep, so that the network does not stand still while
/// the disk works, nor the disk for the network.
pub(super) struct Whole {
    /// Taken out by those that fetch, and let go with the last of them.
    arrived: Mutex<Option<UnboundedSender<Arrived>>>,
    waiting: tokio::sync::Mutex<UnboundedReceiver<Arrived>>,
    /// In KiB.
    room: Semaphore,
}

type Arrived = (Wanted, Vec<u8>);

impl Whole {
    pub(super) fn new() -> Self {
        let (arrived, waiting) = unbounded_channel();
        Self {
            arrived: Mutex::new(Some(arrived)),
            waiting: waiting.into(),
            room: Semaphore::new(WAITING_KIB as usize),
        }
    }

    /// Waits until there is room for one of so many bytes, which waits already, so that it is not lost if
    /// the meeting ends here.
    async fn has_room(&self, bytes: usize) {
        let room = self.room.acquire_many(kib(bytes)).await;
        room.expect("it is never closed").forget();
    }

    /// One of so many bytes waits no more.
    fn makes_room(&self, bytes: usize) {
        self.room.add_permits(kib(bytes) as usize);
    }

    /// The next one that waits; `None` once all have come.
    async fn next(&self) -> Option<Arrived> {
        self.waiting.lock().await.recv().await
    }

    /// Those that a meeting which ended left waiting.
    pub(super) fn left(self) -> Vec<Arrived> {
        let mut waiting = self.waiting.into_inner();
        iter::from_fn(|| waiting.try_recv().ok()).collect()
    }
}

/// The room that a blob of so many bytes takes, no more than there is.
fn kib(bytes: usize) -> u32 {
    let kib = u32::try_from(bytes.div_ceil(1 << 10)).unwrap_or(WAITING_KIB);
    kib.clamp(LEAST_KIB, WAITING_KIB)
}

/// A blob on its way. Whatever ends its way, the host is handed what was checked.
struct Arriving<'a> {
    blob: Wanted,
    bytes: Vec<u8>,
    /// How many of the bytes fit the outline; what the host had kept is checked like
    /// what comes.
    checked: usize,
    /// How many of the bytes the host keeps already.
    kept: usize,
    /// The whole length, once the peer has told it.
    length: Option<usize>,
    /// How many bytes are told and have not come.
    to_come: u64,
    cut_short: &'a Mutex<Vec<Part>>,
}

impl<'a> Arriving<'a> {
    /// Goes on from whole groups that the host has kept.
    fn new(blob: Wanted, mut kept: Vec<u8>, cut_short: &'a Mutex<Vec<Part>>) -> Self {
        kept.truncate(kept.len() / GROUP * GROUP);
        Self {
            blob,
            checked: 0,
            kept: kept.len(),
            bytes: kept,
            length: None,
            to_come: 0,
            cut_short,
        }
    }

    /// Checks the groups that are whole; drops the first wrong one and all behind it.
    fn check(&mut self, outline: &Outline, length: usize) -> bool {
        while self.checked < length {
            let end = length.min(self.checked + GROUP);
            let Some(group) = self.bytes.get(self.checked..end) else {
                break;
            };
            if !outline.fits(self.checked / GROUP, group) {
                self.bytes.truncate(self.checked);
                self.kept = self.kept.min(self.checked);
                return false;
            }
            self.checked = end;
        }
        true
    }

    /// Takes out checked bytes that the host does not keep yet.
    fn take_part(&mut self) -> Option<Part> {
        let new = self.bytes.get(self.kept..self.checked)?;
        if new.is_empty() {
            return None;
        }
        let (from, bytes) = (self.kept as u64, new.to_vec());
        self.kept = self.checked;
        let blob = self.blob;
        Some(Part { blob, from, bytes })
    }
}

impl Drop for Arriving<'_> {
    fn drop(&mut self) {
        if let Some(part) = self.take_part() {
            lock(self.cut_short).push(part);
        }
    }
}

/// How asking for a blob ended.
enum Fetched {
    Whole(Vec<u8>),
    Missing,
    /// What came is not the blob, or it never came whole.
    Wrong,
    Later,
}

impl Meeting {
    /// Asks for the blobs that the host wants now.
    pub(super) async fn fetch_blobs(&self) -> Result<(), ExchangeError> {
        let mut blobs = VecDeque::from(self.ask(|host, peer| host.wants(peer)).await?);
        let most = usize::try_from(self.limits.blobs).unwrap_or(usize::MAX);
        if blobs.len() > most {
            blobs.truncate(most);
            self.tally(|tally| tally.more = true);
        }
        self.track(|track| track.blobs_expected = Some(blobs.len() as u64));
        let bytes = Room(self.limits.blob_bytes);
        let left = Mutex::new(Left { blobs, bytes });
        let fetch = async {
            let arrived = lock(&self.whole.arrived).take();
            let arrived = arrived.expect("blobs are fetched once in a meeting");
            const { assert!(LANES == 4) };
            tokio::try_join!(
                self.fetch_each(&left, &arrived),
                self.fetch_each(&left, &arrived),
                self.fetch_each(&left, &arrived),
                self.fetch_each(&left, &arrived),
            )
        };
        // As many are kept at a time: each waits for the disk more than once.
        const { assert!(LANES == 4) };
        tokio::try_join!(
            fetch,
            self.keep_each(),
            self.keep_each(),
            self.keep_each(),
            self.keep_each(),
        )?;
        Ok(())
    }

    async fn keep_each(&self) -> Result<(), ExchangeError> {
        while let Some((blob, bytes)) = self.whole.next().await {
            let length = bytes.len();
            let keeping = self.ask(move |host, peer| host.keep_blob(peer, blob, bytes));
            keeping.await?;
            self.whole.makes_room(length);
            self.tally(|tally| tally.received_blobs += 1);
            self.track(|track| track.blobs += 1);
        }
        Ok(())
    }

    async fn fetch_each(
        &self,
        left: &Mutex<Left>,
        arrived: &UnboundedSender<Arrived>,
    ) -> Result<(), ExchangeError> {
        loop {
            let Some(blob) = lock(left).blobs.pop_front() else {
                return Ok(());
            };
            match self.fetch(blob, left).await? {
                Fetched::Whole(bytes) => {
                    let length = bytes.len();
                    // Whoever keeps them is there as long as the meeting.
                    let _ = arrived.send((blob, bytes));
                    self.whole.has_room(length).await;
                    continue;
                }
                Fetched::Missing => self.tally(|tally| tally.missing_blobs += 1),
                Fetched::Wrong => self.tally(|tally| tally.refused_blobs += 1),
                Fetched::Later => {
                    lock(left).blobs.clear();
                    self.tally(|tally| tally.more = true);
                    continue;
                }
            }
            self.track(|track| track.blobs += 1);
        }
    }

    async fn fetch(&self, blob: Wanted, left: &Mutex<Left>) -> Result<Fetched, ExchangeError> {
        let kept = self.ask(move |host, peer| host.part(peer, blob)).await?;
        let kept = kept.filter(|bytes| bytes.len() as u64 <= Limits::BLOB_BYTES);
        let mut arriving = Arriving::new(blob, kept.unwrap_or_default(), &self.cut_short);
        let mut ended = Fetched::Wrong;
        for _ in 0..STREAMS_PER_BLOB {
            match self.fetch_rest(left, &mut arriving).await {
                Ok(fetched) => {
                    ended = fetched;
                    break;
                }
                Err(Halt::Wire(WireError::Stream)) => {}
                Err(halt) => return Err(halt.into()),
            }
        }
        // Of a whole blob nothing is left here.
        self.keep_part(&mut arriving).await?;
        self.track(|track| track.has_come(arriving.to_come));
        Ok(ended)
    }

    /// Notes that more of a blob is to come.
    fn expect(&self, arriving: &mut Arriving<'_>, bytes: u64) {
        arriving.to_come += bytes;
        self.track(|track| track.will_come(bytes));
    }

    /// Hands the host what was checked.
    async fn keep_part(&self, arriving: &mut Arriving<'_>) -> Result<(), ExchangeError> {
        let Some(Part { blob, from, bytes }) = arriving.take_part() else {
            return Ok(());
        };
        let keeping = self.ask(move |host, peer| host.keep_part(peer, blob, from, bytes));
        keeping.await
    }

    /// Asks, on a stream of its own, for what has not come yet. That the stream is of no
    /// further use is [`WireError::Stream`].
    async fn fetch_rest(
        &self,
        left: &Mutex<Left>,
        arriving: &mut Arriving<'_>,
    ) -> Result<Fetched, Halt> {
        let (mut send, mut recv) = self.wire.wait(self.link.open()).await?;
        let offset = arriving.bytes.len();
        let ask = Ask {
            scope: arriving.blob.scope,
            id: arriving.blob.id.0,
            offset: offset as u64,
        };
        self.wire.write(&mut send, &ask).await?;
        self.wire.finish(&mut send).await;
        let Answer { answer } = self.wire.read(&mut recv).await?;
        let told = match answer {
            BlobAnswer::Missing => return Ok(Fetched::Missing),
            BlobAnswer::Later => return Ok(Fetched::Later),
            BlobAnswer::Held(length) if length > Limits::BLOB_BYTES => {
                return Err(FrameError::TooLarge("blob").into());
            }
            BlobAnswer::Held(length) => length as usize,
        };
        match arriving.length {
            None => {
                let rest = told.saturating_sub(offset) as u64;
                if !lock(left).bytes.take(rest) {
                    return Ok(Fetched::Later);
                }
                self.expect(arriving, rest);
                arriving.length = Some(told);
            }
            Some(length) if length != told => return Err(FrameError::Malformed("blob").into()),
            Some(_) => {}
        }
        let mut outline = Vec::new();
        self.wire
            .read_run(&mut recv, &mut outline, Outline::size(told))
            .await?;
        match Outline::read(arriving.blob.id, told, &outline) {
            Some(outline) => self.arrive(&mut recv, &outline, told, arriving).await,
            None => Ok(Fetched::Wrong),
        }
    }

    /// Takes the bytes behind those that are here, and checks each group once it is whole.
    async fn arrive(
        &self,
        recv: &mut Reader,
        outline: &Outline,
        length: usize,
        arriving: &mut Arriving<'_>,
    ) -> Result<Fetched, Halt> {
        let before = arriving.bytes.len();
        arriving.bytes.truncate(length);
        if !arriving.check(outline, length) {
            // If the host kept something wrong, the peer sends it once more.
            let again = before - arriving.bytes.len();
            self.expect(arriving, again as u64);
            return if again > 0 {
                Err(WireError::Stream.into())
            } else {
                Ok(Fetched::Wrong)
            };
        }
        while arriving.bytes.len() < length {
            let reading = self.wire.read_some(recv, &mut arriving.bytes, length);
            let new = reading.await? as u64;
            arriving.to_come = arriving.to_come.saturating_sub(new);
            self.track(|track| track.has_come(new));
            if !arriving.check(outline, length) {
                return Ok(Fetched::Wrong);
            }
            if arriving.checked < length && arriving.checked - arriving.kept >= PART_BYTES {
                self.keep_part(arriving).await?;
            }
        }
        if !self.wire.at_end(recv).await? {
            return Err(FrameError::TooLarge("blob").into());
        }
        Ok(Fetched::Whole(std::mem::take(&mut arriving.bytes)))
    }
}
