//! Changes, both ways at once.

use std::collections::HashMap;

use super::Meeting;
use super::greeting::Documents;
use crate::frame::{AtMost, BATCH_BYTES, BATCH_CHANGES, Changes, Have, Hello, Octets};
use crate::link::{Reader, Writer};
use crate::{ExchangeError, Limits};

/// What the peer has, and how much it takes.
pub(super) struct Theirs {
    counts: HashMap<Vec<u8>, u64>,
    changes: u64,
    bytes: u64,
}

impl Theirs {
    /// Neither side need take or send more than its own limits say.
    pub(super) fn new(limits: &Limits, hello: &Hello, have: Have) -> Self {
        let documents = have.documents.0.into_iter();
        Self {
            counts: documents.map(|(id, count)| (id.0, count)).collect(),
            changes: hello.changes.min(limits.changes),
            bytes: hello.change_bytes.min(limits.change_bytes),
        }
    }

    /// How many changes the peer has that are not here, as far as it tells.
    fn news(&self, have: &Documents) -> u64 {
        let here: HashMap<&[u8], u64> = have.iter().map(|(id, count)| (&id[..], *count)).collect();
        let theirs = self.counts.iter();
        let lacking =
            theirs.map(|(id, count)| count.saturating_sub(here.get(&id[..]).copied().unwrap_or(0)));
        lacking.fold(0, u64::saturating_add)
    }
}

/// Changes gathered for one frame.
#[derive(Default)]
struct Batch {
    changes: Vec<Octets<{ Limits::CHANGE_BYTES }>>,
    bytes: usize,
}

impl Batch {
    fn has_room_for(&self, change: &[u8]) -> bool {
        self.changes.is_empty()
            || self.changes.len() < BATCH_CHANGES && self.bytes + change.len() <= BATCH_BYTES
    }

    fn push(&mut self, change: Vec<u8>) {
        self.bytes += change.len();
        self.changes.push(Octets(change));
    }

    fn into_frame(self, last: bool) -> Changes {
        let changes = AtMost(self.changes);
        Changes { changes, last }
    }
}

impl Meeting {
    /// Sends what the peer lacks and takes what this device lacks, at once.
    pub(super) async fn exchange_changes(
        &self,
        send: &mut Writer,
        recv: &mut Reader,
        have: &Documents,
        theirs: &Theirs,
    ) -> Result<(), ExchangeError> {
        self.track(|track| track.changes_expected = theirs.news(have));
        let sending = self.send_changes(send, have, theirs);
        tokio::try_join!(sending, self.take_changes(recv))?;
        Ok(())
    }

    /// Sends what the peer lacks, document after document.
    async fn send_changes(
        &self,
        stream: &mut Writer,
        have: &Documents,
        theirs: &Theirs,
    ) -> Result<(), ExchangeError> {
        let mut batch = Batch::default();
        let (mut sent, mut bytes, mut held_back, mut more) = (0, 0, 0, false);
        'documents: for (document, here) in have {
            let mut from = theirs.counts.get(document).copied().unwrap_or(0);
            while from < *here {
                let changes = self.changes(document, from, *here).await?;
                if changes.is_empty() {
                    break;
                }
                for change in changes {
                    if change.len() > Limits::CHANGE_BYTES {
                        held_back += 1;
                        continue 'documents;
                    }
                    bytes += change.len() as u64;
                    if sent == theirs.changes || bytes > theirs.bytes {
                        more = true;
                        break 'documents;
                    }
                    if !batch.has_room_for(&change) {
                        let full = std::mem::take(&mut batch).into_frame(false);
                        self.wire.write(stream, &full).await?;
                    }
                    batch.push(change);
                    sent += 1;
                    from += 1;
                }
            }
        }
        self.tally(|tally| {
            tally.sent_changes = sent;
            tally.held_back_documents = held_back;
            tally.more |= more;
        });
        Ok(self.wire.write(stream, &batch.into_frame(true)).await?)
    }

    /// The changes of a document from one number to before another, or a first part.
    async fn changes(
        &self,
        document: &[u8],
        from: u64,
        to: u64,
    ) -> Result<Vec<Vec<u8>>, ExchangeError> {
        let document = document.to_vec();
        let asked = self.ask(move |host, peer| host.changes(peer, &document, from));
        let mut changes = asked.await?;
        changes.truncate(usize::try_from(to - from).unwrap_or(usize::MAX));
        Ok(changes)
    }

    /// Takes what the peer sends, batch after batch.
    async fn take_changes(&self, stream: &mut Reader) -> Result<(), ExchangeError> {
        let (mut count, mut bytes) = (0, 0);
        loop {
            let Changes { changes, last } = self.wire.read(stream).await?;
            let changes: Vec<_> = changes.0.into_iter().map(|change| change.0).collect();
            if changes.is_empty() && !last {
                let what = "batch of changes";
                return Err(ExchangeError::Malformed { what });
            }
            count += changes.len() as u64;
            bytes += changes
                .iter()
                .map(|change| change.len() as u64)
                .sum::<u64>();
            if count > self.limits.changes || bytes > self.limits.change_bytes {
                return Err(ExchangeError::TooMuch { what: "changes" });
            }
            if !changes.is_empty() {
                let taken = self.ask(move |host, peer| {
                    let taken = host.accept(peer, changes)?;
                    Ok((taken, host.knows(peer)))
                });
                let (taken, known) = taken.await?;
                self.track(|track| track.changes = count);
                self.tally(|tally| {
                    tally.received_changes += taken.new;
                    tally.refused_changes += taken.refused;
                    tally.more |= taken.again;
                });
                if !known {
                    return Err(ExchangeError::Stranger);
                }
            }
            if last {
                self.tally(|tally| tally.arrived_changes = count);
                return Ok(());
            }
        }
    }
}
