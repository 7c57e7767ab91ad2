//! Frames on streams, counted, with an end to every wait.

use std::future::Future;
use std::io;
use std::pin::pin;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use tokio::io::{AsyncReadExt, AsyncWriteExt};

use crate::close::Lost;
use crate::frame::{self, Frame, FrameError, HEAD};
use crate::link::{Reader, Writer};

/// Blobs are written and read in pieces of at most this many bytes.
const PIECE_BYTES: usize = 64 << 10;

/// Memory is taken for one piece, then for at most so many times what has come, and for at most so many bytes
/// ahead of it: a photograph's bytes are moved to a larger place once.
const AHEAD_TIMES: usize = 32;
const AHEAD_BYTES: usize = 2 << 20;

/// Why nothing more can be read or written.
#[derive(Debug)]
pub(crate) enum WireError {
    /// What came is not of this protocol.
    Frame(FrameError),
    /// The connection is gone.
    Lost(Lost),
    /// This stream ended too early; the connection still stands.
    Stream,
    /// Nothing moved for too long.
    Quiet,
}

impl From<FrameError> for WireError {
    fn from(error: FrameError) -> Self {
        Self::Frame(error)
    }
}

impl From<Lost> for WireError {
    fn from(lost: Lost) -> Self {
        Self::Lost(lost)
    }
}

impl From<io::Error> for WireError {
    fn from(error: io::Error) -> Self {
        error.downcast().map_or(Self::Stream, Self::Lost)
    }
}

/// Counts what moves over all streams of one connection, and so knows when the peer
/// has gone quiet.
pub(crate) struct Wire {
    sent: AtomicU64,
    received: AtomicU64,
    quiet: Duration,
}

impl Wire {
    pub(crate) fn new(quiet: Duration) -> Self {
        Self {
            sent: AtomicU64::new(0),
            received: AtomicU64::new(0),
            quiet,
        }
    }

    /// Bytes sent until now.
    pub(crate) fn sent(&self) -> u64 {
        self.sent.load(Ordering::Relaxed)
    }

    /// Bytes received until now.
    pub(crate) fn received(&self) -> u64 {
        self.received.load(Ordering::Relaxed)
    }

    fn note_received(&self, bytes: usize) {
        self.received.fetch_add(bytes as u64, Ordering::Relaxed);
    }

    /// Waits, but not while nothing at all moves on the connection.
    pub(crate) async fn wait<T, E>(
        &self,
        done: impl Future<Output = Result<T, E>>,
    ) -> Result<T, WireError>
    where
        WireError: From<E>,
    {
        let mut done = pin!(done);
        loop {
            let before = (self.sent(), self.received());
            match tokio::time::timeout(self.quiet, &mut done).await {
                Ok(outcome) => return Ok(outcome?),
                Err(_) if before == (self.sent(), self.received()) => return Err(WireError::Quiet),
                Err(_) => {}
            }
        }
    }

    /// Writes one frame.
    pub(crate) async fn write<F: Frame>(
        &self,
        stream: &mut Writer,
        frame: &F,
    ) -> Result<(), WireError> {
        self.write_run(stream, &frame::encode(frame)).await
    }

    /// Writes plain bytes.
    pub(crate) async fn write_run(
        &self,
        stream: &mut Writer,
        bytes: &[u8],
    ) -> Result<(), WireError> {
        for piece in bytes.chunks(PIECE_BYTES) {
            self.wait(stream.write_all(piece)).await?;
            self.sent.fetch_add(piece.len() as u64, Ordering::Relaxed);
        }
        Ok(())
    }

    /// Ends a stream after what was written. Fails only if the peer has stopped the
    /// stream, which the next read tells, or needs nothing more of it.
    pub(crate) async fn finish(&self, stream: &mut Writer) {
        let _ = stream.shutdown().await;
    }

    /// Reads one frame of the kind that is due here.
    pub(crate) async fn read<F: Frame>(&self, stream: &mut Reader) -> Result<F, WireError> {
        let mut head = [0; HEAD];
        self.wait(stream.read_exact(&mut head)).await?;
        self.note_received(HEAD);
        let length = frame::open::<F>(head)?;
        let mut body = Vec::new();
        self.read_run(stream, &mut body, length).await?;
        Ok(frame::decode(&body)?)
    }

    /// Appends plain bytes up to a whole length of `length`, and keeps those that came if
    /// the stream ends before. Memory grows with what has come, not with what was
    /// announced.
    pub(crate) async fn read_run(
        &self,
        stream: &mut Reader,
        onto: &mut Vec<u8>,
        length: usize,
    ) -> Result<(), WireError> {
        while onto.len() < length {
            self.read_some(stream, onto, length).await?;
        }
        Ok(())
    }

    /// Appends what comes next, up to a whole length of `length`; gives how much it was,
    /// one byte at least.
    pub(crate) async fn read_some(
        &self,
        stream: &mut Reader,
        onto: &mut Vec<u8>,
        length: usize,
    ) -> Result<usize, WireError> {
        let left = length.saturating_sub(onto.len());
        let room = PIECE_BYTES.min(left);
        if onto.capacity() - onto.len() < room {
            let ahead = (onto.len() * AHEAD_TIMES).clamp(PIECE_BYTES, AHEAD_BYTES);
            onto.reserve_exact(left.min(ahead));
        }
        let mut piece = stream.take(room as u64);
        let read = self.wait(piece.read_buf(onto)).await?;
        if read == 0 {
            return Err(WireError::Stream);
        }
        self.note_received(read);
        Ok(read)
    }

    /// Whether the stream ends here.
    pub(crate) async fn at_end(&self, stream: &mut Reader) -> Result<bool, WireError> {
        Ok(self.wait(stream.read(&mut [0])).await? == 0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_photograph_is_moved_to_a_larger_place_once() {
        let wire = Wire::new(Duration::from_secs(1));
        let length = 1_200_000;
        let mut stream: Reader = Box::new(io::Cursor::new(vec![7; length]));
        let mut photo = Vec::new();
        let mut places = vec![0];
        while photo.len() < length {
            wire.read_some(&mut stream, &mut photo, length)
                .await
                .unwrap();
            if places.last() != Some(&photo.capacity()) {
                places.push(photo.capacity());
            }
        }
        assert_eq!(places, [0, PIECE_BYTES, length]);
    }
}
