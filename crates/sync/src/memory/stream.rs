//! One direction of a stream in memory: pieces with the time at which each arrives.

use std::collections::VecDeque;
use std::future::Future;
use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll, Waker};

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::time::{Instant, Sleep};

use super::carrier::{Carrier, End, State, other};

/// Most bytes of a stream that are on their way or unread; more wait at the sender.
const WINDOW: usize = 256 << 10;
/// Bytes taken at a time, so that streams share what passes.
const PIECE: usize = 16 << 10;

/// What one end has sent on one stream.
#[derive(Debug, Default)]
pub(super) struct Half {
    pieces: VecDeque<(Instant, Vec<u8>)>,
    /// Bytes in the pieces.
    unread: usize,
    /// Bytes of the first piece that are read.
    read: usize,
    started: Option<Instant>,
    last: Option<Instant>,
    finished: Option<Instant>,
    stopped: Option<Instant>,
    reader: Option<Waker>,
    writer: Option<Waker>,
}

impl Half {
    /// Appends a piece; gives when it arrives, which is not before the one ahead of it.
    pub(super) fn push(&mut self, bytes: Vec<u8>, arrives: Instant) -> Instant {
        let arrives = self.in_order(arrives);
        if !bytes.is_empty() {
            self.unread += bytes.len();
            self.pieces.push_back((arrives, bytes));
        }
        arrives
    }

    pub(super) fn finish(&mut self, arrives: Instant) {
        if self.finished.is_none() {
            self.finished = Some(self.in_order(arrives));
        }
    }

    pub(super) fn stop(&mut self, arrives: Instant) {
        self.stopped = Some(arrives);
        self.wake_writer();
    }

    /// When the first of it arrives.
    pub(super) fn starts(&self) -> Option<Instant> {
        self.started
    }

    pub(super) fn wake_reader(&mut self) {
        self.reader.take().into_iter().for_each(Waker::wake);
    }

    pub(super) fn wake_writer(&mut self) {
        self.writer.take().into_iter().for_each(Waker::wake);
    }

    fn in_order(&mut self, arrives: Instant) -> Instant {
        let arrives = self.last.map_or(arrives, |last| last.max(arrives));
        self.started.get_or_insert(arrives);
        self.last = Some(arrives);
        arrives
    }

    /// Moves what has arrived into `onto`.
    fn take(&mut self, onto: &mut ReadBuf<'_>) {
        if let Some((_, piece)) = self.pieces.front() {
            let rest = &piece[self.read..];
            let taken = rest.len().min(onto.remaining());
            onto.put_slice(&rest[..taken]);
            self.read += taken;
            self.unread -= taken;
            if self.read == piece.len() {
                self.pieces.pop_front();
                self.read = 0;
            }
            self.wake_writer();
        }
    }
}

/// Wakes a task at a time.
#[derive(Debug, Default)]
pub(super) struct Alarm(Option<Pin<Box<Sleep>>>);

impl Alarm {
    /// Ready once that time is here; never without one.
    pub(super) fn poll(&mut self, at: Option<Instant>, context: &mut Context<'_>) -> Poll<()> {
        let Some(at) = at else {
            return Poll::Pending;
        };
        let sleep = self
            .0
            .get_or_insert_with(|| Box::pin(tokio::time::sleep_until(at)));
        if sleep.deadline() != at {
            sleep.as_mut().reset(at);
        }
        sleep.as_mut().poll(context)
    }
}

/// One end's hold on one direction of a stream.
struct Hold {
    carrier: Arc<Carrier>,
    stream: u64,
    /// Who sends on it.
    from: End,
    /// Whose hold this is.
    end: End,
    alarm: Alarm,
}

impl Hold {
    /// Tries a step until it is done or the connection is over. A step that is not done has
    /// left its waker with the half, and says when to try again at the latest.
    fn poll<T>(
        &mut self,
        context: &mut Context<'_>,
        mut step: impl FnMut(&mut State, Instant) -> Result<T, Option<Instant>>,
    ) -> Poll<io::Result<T>> {
        loop {
            let now = Instant::now();
            let later = {
                let mut state = self.carrier.state();
                let over = state.over(self.end).cloned();
                match (step(&mut state, now), over) {
                    (Ok(done), _) => return Poll::Ready(Ok(done)),
                    (_, Some((at, lost))) if at <= now => {
                        return Poll::Ready(Err(io::Error::other(lost)));
                    }
                    (Err(later), over) => later.into_iter().chain(over.map(|(at, _)| at)).min(),
                }
            };
            if self.alarm.poll(later, context).is_pending() {
                return Poll::Pending;
            }
        }
    }
}

/// The sending half.
pub(super) struct Sending(Hold);

impl Sending {
    pub(super) fn new(carrier: Arc<Carrier>, stream: u64, end: End) -> Self {
        let alarm = Alarm::default();
        let from = end;
        Self(Hold {
            carrier,
            stream,
            from,
            end,
            alarm,
        })
    }

    fn finish(&self) {
        self.0.carrier.state().finish(self.0.stream, self.0.from);
    }
}

impl AsyncWrite for Sending {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        let (stream, from) = (self.0.stream, self.0.from);
        let waker = context.waker().clone();
        let stopped = || io::Error::from(io::ErrorKind::ConnectionReset);
        let written = self.0.poll(context, move |state, now| {
            if state.over(from).is_some_and(|(at, _)| *at <= now) {
                return Err(None);
            }
            let half = state.half(stream, from);
            if half.stopped.is_some_and(|at| at <= now) {
                return Ok(Err(stopped()));
            }
            if half.unread >= WINDOW {
                half.writer = Some(waker.clone());
                return Err(half.stopped);
            }
            let piece = &bytes[..bytes.len().min(PIECE)];
            Ok(Ok(state.send(stream, from, piece)))
        });
        written.map(Result::flatten)
    }

    fn poll_flush(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<io::Result<()>> {
        Poll::Ready(Ok(()))
    }

    fn poll_shutdown(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<io::Result<()>> {
        self.finish();
        Poll::Ready(Ok(()))
    }
}

impl Drop for Sending {
    fn drop(&mut self) {
        self.finish();
    }
}

/// The receiving half.
pub(super) struct Receiving(Hold);

impl Receiving {
    pub(super) fn new(carrier: Arc<Carrier>, stream: u64, from: End) -> Self {
        let alarm = Alarm::default();
        let end = other(from);
        Self(Hold {
            carrier,
            stream,
            from,
            end,
            alarm,
        })
    }
}

impl AsyncRead for Receiving {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        onto: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let (stream, from, end) = (self.0.stream, self.0.from, self.0.end);
        let waker = context.waker().clone();
        self.0.poll(context, move |state, now| {
            // What arrives behind the end of the connection is lost.
            let end = state.over(end).map_or(now, |(at, _)| now.min(*at));
            let half = state.half(stream, from);
            let next = half
                .pieces
                .front()
                .map(|(arrives, _)| *arrives)
                .or(half.finished);
            match next {
                Some(arrives) if arrives <= end => {
                    half.take(onto);
                    Ok(())
                }
                later => {
                    half.reader = Some(waker.clone());
                    Err(later)
                }
            }
        })
    }
}

impl Drop for Receiving {
    fn drop(&mut self) {
        self.0.carrier.state().stop(self.0.stream, self.0.from);
    }
}
