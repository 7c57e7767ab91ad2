//! Frames on QUIC streams, counted, with an end to every wait.

use std::future::Future;
use std::pin::pin;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use iroh::endpoint::{ReadError, ReadExactError, RecvStream, SendStream, WriteError};

use crate::close::Lost;
use crate::frame::{self, Frame, FrameError, HEAD};

/// Blobs are written and read in pieces of at most this many bytes.
const PIECE_BYTES: usize = 64 << 10;

/// Why nothing more can be read or written.
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

impl From<ReadError> for WireError {
    fn from(error: ReadError) -> Self {
        match error {
            ReadError::ConnectionLost(error) => Self::Lost(error.into()),
            _ => Self::Stream,
        }
    }
}

impl From<ReadExactError> for WireError {
    fn from(error: ReadExactError) -> Self {
        match error {
            ReadExactError::ReadError(error) => error.into(),
            ReadExactError::FinishedEarly(_) => Self::Stream,
        }
    }
}

impl From<WriteError> for WireError {
    fn from(error: WriteError) -> Self {
        match error {
            WriteError::ConnectionLost(error) => Self::Lost(error.into()),
            _ => Self::Stream,
        }
    }
}

impl From<iroh::endpoint::ConnectionError> for WireError {
    fn from(error: iroh::endpoint::ConnectionError) -> Self {
        Self::Lost(error.into())
    }
}

/// Counts what moves over all streams of one connection, and so knows when the peer
/// has gone quiet.
pub(crate) struct Wire {
    moved: AtomicU64,
    quiet: Duration,
}

impl Wire {
    pub(crate) fn new(quiet: Duration) -> Self {
        Self {
            moved: AtomicU64::new(0),
            quiet,
        }
    }

    /// Bytes sent and received until now.
    pub(crate) fn moved(&self) -> u64 {
        self.moved.load(Ordering::Relaxed)
    }

    fn count(&self, bytes: usize) {
        self.moved.fetch_add(bytes as u64, Ordering::Relaxed);
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
            let before = self.moved();
            match tokio::time::timeout(self.quiet, &mut done).await {
                Ok(outcome) => return Ok(outcome?),
                Err(_) if self.moved() == before => return Err(WireError::Quiet),
                Err(_) => {}
            }
        }
    }

    /// Writes one frame.
    pub(crate) async fn write<F: Frame>(
        &self,
        stream: &mut SendStream,
        frame: &F,
    ) -> Result<(), WireError> {
        self.write_run(stream, &frame::encode(frame)).await
    }

    /// Writes plain bytes.
    pub(crate) async fn write_run(
        &self,
        stream: &mut SendStream,
        bytes: &[u8],
    ) -> Result<(), WireError> {
        for piece in bytes.chunks(PIECE_BYTES) {
            self.wait(stream.write_all(piece)).await?;
            self.count(piece.len());
        }
        Ok(())
    }

    /// Reads one frame of the kind that is due here.
    pub(crate) async fn read<F: Frame>(&self, stream: &mut RecvStream) -> Result<F, WireError> {
        let mut head = [0; HEAD];
        self.wait(stream.read_exact(&mut head)).await?;
        self.count(HEAD);
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
        stream: &mut RecvStream,
        onto: &mut Vec<u8>,
        length: usize,
    ) -> Result<(), WireError> {
        let mut piece = vec![0; PIECE_BYTES.min(length - onto.len())];
        while onto.len() < length {
            let room = piece.len().min(length - onto.len());
            let read = self.wait(stream.read(&mut piece[..room])).await?;
            let read = read.ok_or(WireError::Stream)?;
            self.count(read);
            onto.extend_from_slice(&piece[..read]);
        }
        Ok(())
    }
}
