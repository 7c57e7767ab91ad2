//! Blobs: asked for one by one, served in pieces, gone on with where a stream broke.

use std::collections::VecDeque;
use std::future::pending;
use std::sync::Mutex;

use iroh::endpoint::{RecvStream, SendStream};
use units::BlobId;

use super::Meeting;
use crate::frame::{Answer, Ask, BlobAnswer, FrameError};
use crate::lock;
use crate::wire::WireError;
use crate::{ExchangeError, Limits};

/// Streams tried for one blob before it is given up for this meeting.
const STREAMS_PER_BLOB: usize = 16;
/// Questions answered for every blob that a meeting may hold: a stream may break.
const QUESTIONS_PER_BLOB: u64 = 4;

/// How much more this meeting holds of something.
struct Room(u64);

impl Room {
    /// Takes from it, if there is enough.
    fn take(&mut self, amount: u64) -> bool {
        let rest = self.0.checked_sub(amount);
        self.0 = rest.unwrap_or(self.0);
        rest.is_some()
    }
}

/// What is still to be asked for.
struct Wanted {
    blobs: VecDeque<BlobId>,
    bytes: Room,
}

/// What may still be served.
struct Left {
    questions: Room,
    bytes: Room,
}

/// A blob on its way.
#[derive(Default)]
struct Arriving {
    bytes: Vec<u8>,
    /// The whole length, once the peer has told it.
    length: Option<u64>,
}

/// How asking for a blob ended.
enum Fetched {
    Whole(Vec<u8>),
    Missing,
    Broken,
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
        let bytes = Room(self.limits.blob_bytes);
        let wanted = Mutex::new(Wanted { blobs, bytes });
        // Two, so that one blob is on its way while the other is checked and written.
        tokio::try_join!(self.fetch_each(&wanted), self.fetch_each(&wanted))?;
        Ok(())
    }

    async fn fetch_each(&self, wanted: &Mutex<Wanted>) -> Result<(), ExchangeError> {
        loop {
            let Some(id) = lock(wanted).blobs.pop_front() else {
                return Ok(());
            };
            match self.fetch(id, wanted).await? {
                Fetched::Whole(bytes) => self.keep(id, bytes).await?,
                Fetched::Missing => self.tally(|tally| tally.missing_blobs += 1),
                Fetched::Broken => self.tally(|tally| tally.refused_blobs += 1),
                Fetched::Later => {
                    lock(wanted).blobs.clear();
                    self.tally(|tally| tally.more = true);
                }
            }
        }
    }

    /// Keeps a blob if its bytes are those asked for.
    async fn keep(&self, id: BlobId, bytes: Vec<u8>) -> Result<(), ExchangeError> {
        let kept = self.ask(move |host, peer| {
            if *blake3::hash(&bytes).as_bytes() != id.0 {
                return Ok(false);
            }
            host.keep_blob(peer, id, bytes)?;
            Ok(true)
        });
        let kept = kept.await?;
        self.tally(|tally| {
            tally.received_blobs += u64::from(kept);
            tally.refused_blobs += u64::from(!kept);
        });
        Ok(())
    }

    async fn fetch(&self, id: BlobId, wanted: &Mutex<Wanted>) -> Result<Fetched, ExchangeError> {
        let mut arriving = Arriving::default();
        for _ in 0..STREAMS_PER_BLOB {
            match self.fetch_rest(id, wanted, &mut arriving).await {
                Ok(fetched) => return Ok(fetched),
                Err(WireError::Stream) => {}
                Err(error) => return Err(error.into()),
            }
        }
        Ok(Fetched::Broken)
    }

    /// Asks, on a stream of its own, for what has not come yet.
    async fn fetch_rest(
        &self,
        id: BlobId,
        wanted: &Mutex<Wanted>,
        arriving: &mut Arriving,
    ) -> Result<Fetched, WireError> {
        let (mut send, mut recv) = self.wire.wait(self.connection.open_bi()).await?;
        let offset = arriving.bytes.len() as u64;
        let ask = Ask { id: id.0, offset };
        self.wire.write(&mut send, &ask).await?;
        // Fails only if the peer has stopped the stream, which the next read tells.
        let _ = send.finish();
        let Answer { answer } = self.wire.read(&mut recv).await?;
        let length = match answer {
            BlobAnswer::Missing => return Ok(Fetched::Missing),
            BlobAnswer::Later => return Ok(Fetched::Later),
            BlobAnswer::Held(length) => length,
        };
        match arriving.length {
            None if length > Limits::BLOB_BYTES => return Err(FrameError::TooLarge("blob").into()),
            None if !lock(wanted).bytes.take(length) => return Ok(Fetched::Later),
            Some(told) if told != length => return Err(FrameError::Malformed("blob").into()),
            _ => arriving.length = Some(length),
        }
        // No overflow: a length is below the limit here.
        let bytes = &mut arriving.bytes;
        self.wire
            .read_run(&mut recv, bytes, length as usize)
            .await?;
        if self.wire.wait(recv.read_chunk(1)).await?.is_some() {
            return Err(FrameError::TooLarge("blob").into());
        }
        Ok(Fetched::Whole(std::mem::take(bytes)))
    }

    /// Answers the peer's questions for blobs until the meeting ends; returns only to
    /// end it because of them.
    pub(super) async fn serve_blobs(&self) -> ExchangeError {
        let left = Mutex::new(Left {
            questions: Room(self.limits.blobs.saturating_mul(QUESTIONS_PER_BLOB)),
            bytes: Room(self.limits.blob_bytes),
        });
        // Two, as the peer asks two at a time: one blob is read while the other is sent.
        tokio::select! {
            error = self.serve_each(&left) => error,
            error = self.serve_each(&left) => error,
        }
    }

    async fn serve_each(&self, left: &Mutex<Left>) -> ExchangeError {
        loop {
            let Ok((send, recv)) = self.connection.accept_bi().await else {
                // The connection is gone, which the thread hears with its reason.
                return pending().await;
            };
            if !lock(left).questions.take(1) {
                let what = "questions for blobs";
                return ExchangeError::TooMuch { what };
            }
            match self.serve_blob(send, recv, left).await {
                Ok(()) | Err(Unserved::Wire(WireError::Stream | WireError::Lost(_))) => {}
                Err(Unserved::Wire(error)) => return error.into(),
                Err(Unserved::Host(error)) => return error,
            }
        }
    }

    async fn serve_blob(
        &self,
        mut send: SendStream,
        mut recv: RecvStream,
        left: &Mutex<Left>,
    ) -> Result<(), Unserved> {
        let Ask { id, offset } = self.wire.read(&mut recv).await?;
        let blob = self.ask(move |host, peer| host.blob(peer, BlobId(id)));
        let blob = blob.await.map_err(Unserved::Host)?;
        let blob = blob.filter(|bytes| bytes.len() as u64 <= Limits::BLOB_BYTES);
        let from = usize::try_from(offset).unwrap_or(usize::MAX);
        let (answer, rest) = match &blob {
            None => (BlobAnswer::Missing, &[][..]),
            Some(bytes) => {
                let rest = bytes.get(from..);
                let rest = rest.ok_or(FrameError::Malformed("question for a blob"))?;
                if lock(left).bytes.take(rest.len() as u64) {
                    (BlobAnswer::Held(bytes.len() as u64), rest)
                } else {
                    (BlobAnswer::Later, &[][..])
                }
            }
        };
        self.wire.write(&mut send, &Answer { answer }).await?;
        self.wire.write_run(&mut send, rest).await?;
        // Fails only if the peer has stopped the stream; then it has what it wants.
        let _ = send.finish();
        Ok(())
    }
}

/// Why a question stayed without its answer.
enum Unserved {
    Wire(WireError),
    Host(ExchangeError),
}

impl<E> From<E> for Unserved
where
    WireError: From<E>,
{
    fn from(error: E) -> Self {
        Self::Wire(error.into())
    }
}
