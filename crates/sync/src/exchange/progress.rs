//! Telling the host how far a meeting is.

use std::convert::Infallible;
use std::time::Duration;

use super::Meeting;
use crate::{Progress, lock};

/// How often the host is told at most.
const EVERY: Duration = Duration::from_millis(250);

/// What the wire does not count.
#[derive(Default)]
pub(super) struct Track {
    pub(super) changes: u64,
    pub(super) changes_expected: u64,
    pub(super) blobs: u64,
    pub(super) blobs_expected: Option<u64>,
    /// Bytes of blobs that the peer has told and that have not come.
    to_come: Option<u64>,
}

impl Track {
    pub(super) fn will_come(&mut self, bytes: u64) {
        self.to_come = Some(self.to_come.unwrap_or(0) + bytes);
    }

    pub(super) fn has_come(&mut self, bytes: u64) {
        self.to_come = self.to_come.map(|to_come| to_come.saturating_sub(bytes));
    }
}

impl Meeting {
    pub(super) fn track(&self, note: impl FnOnce(&mut Track)) {
        note(&mut lock(&self.track));
    }

    /// Tells the host, as long as the meeting lasts, whenever something has moved.
    pub(super) async fn tell_progress(&self) -> Infallible {
        let mut told = self.so_far();
        loop {
            tokio::time::sleep(EVERY).await;
            let now = self.so_far();
            if now != told {
                told = now;
                // It has no outcome; a host that panics over it ends nothing.
                let telling = self.ask(move |host, peer| {
                    host.progress(peer, now);
                    Ok(())
                });
                let _ = telling.await;
            }
        }
    }

    fn so_far(&self) -> Progress {
        let track = lock(&self.track);
        let received = self.wire.received();
        Progress {
            sent: self.wire.sent(),
            received,
            to_receive: track.to_come.map(|to_come| received + to_come),
            changes: track.changes,
            changes_expected: track.changes_expected,
            blobs: track.blobs,
            blobs_expected: track.blobs_expected,
        }
    }
}
