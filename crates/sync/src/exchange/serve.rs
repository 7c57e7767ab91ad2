//! Answering the peer's questions for blobs.

use std::future::pending;
use std::sync::Mutex;

use tokio::time::Instant;
use units::BlobId;

use super::{Halt, LANES, Meeting, Room};
use crate::frame::{Answer, Ask, BlobAnswer};
use crate::link::{Reader, Writer};
use crate::outline::Outline;
use crate::wire::WireError;
use crate::{ExchangeError, Limits, Wanted, lock};

/// Questions answered for every blob that a meeting may hold: a stream may break.
const QUESTIONS_PER_BLOB: u64 = 4;

/// What may still be served.
struct Left {
    questions: Room,
    bytes: Room,
}

/// A blob to be served, and its outline.
struct Held {
    bytes: Vec<u8>,
    outline: Vec<u8>,
}

impl Meeting {
    /// Answers the peer's questions for blobs until the meeting ends; returns only to
    /// end it because of them.
    pub(super) async fn serve_blobs(&self) -> ExchangeError {
        let left = Mutex::new(Left {
            questions: Room(self.limits.blobs.saturating_mul(QUESTIONS_PER_BLOB)),
            bytes: Room(self.limits.blob_bytes),
        });
        // As many as the peer asks at a time: some blobs are read while another is sent.
        const { assert!(LANES == 4) };
        tokio::select! {
            biased;
            error = self.serve_each(&left) => error,
            error = self.serve_each(&left) => error,
            error = self.serve_each(&left) => error,
            error = self.serve_each(&left) => error,
        }
    }

    async fn serve_each(&self, left: &Mutex<Left>) -> ExchangeError {
        loop {
            let Ok((send, recv)) = self.link.accept().await else {
                // The connection is gone, which the thread hears with its reason.
                return pending().await;
            };
            if !lock(left).questions.take(1) {
                let what = "questions for blobs";
                return ExchangeError::TooMuch { what };
            }
            match self.serve_blob(send, recv, left).await {
                Ok(()) | Err(Halt::Wire(WireError::Stream | WireError::Lost(_))) => {}
                Err(halt) => return halt.into(),
            }
        }
    }

    async fn serve_blob(
        &self,
        mut send: Writer,
        mut recv: Reader,
        left: &Mutex<Left>,
    ) -> Result<(), Halt> {
        let Ask { scope, id, offset } = self.wire.read(&mut recv).await?;
        let asked = Instant::now();
        let held = self.ask(move |host, peer| {
            let id = BlobId(id);
            let blob = host.blob(peer, Wanted { scope, id })?;
            let blob = blob.filter(|bytes| bytes.len() as u64 <= Limits::BLOB_BYTES);
            Ok(blob.map(|bytes| Held {
                outline: Outline::of(&bytes),
                bytes,
            }))
        });
        let Some(Held { bytes, outline }) = held.await? else {
            tokio::time::sleep_until(asked + Limits::MISSING).await;
            return Ok(self.answer(&mut send, BlobAnswer::Missing).await?);
        };
        let from = usize::try_from(offset).map_or(bytes.len(), |from| from.min(bytes.len()));
        let rest = &bytes[from..];
        if !lock(left).bytes.take(rest.len() as u64) {
            return Ok(self.answer(&mut send, BlobAnswer::Later).await?);
        }
        let length = BlobAnswer::Held(bytes.len() as u64);
        self.answer(&mut send, length).await?;
        self.wire.write_run(&mut send, &outline).await?;
        self.wire.write_run(&mut send, rest).await?;
        self.wire.finish(&mut send).await;
        Ok(())
    }

    async fn answer(&self, send: &mut Writer, answer: BlobAnswer) -> Result<(), WireError> {
        self.wire.write(send, &Answer { answer }).await
    }
}
