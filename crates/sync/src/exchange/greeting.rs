//! Greetings: who speaks, how much it takes, and what it has.
//!
//! The caller speaks first and lets its list of documents follow at once if that is small.
//! The called device has read the caller's greeting before it answers, so each side knows
//! whether the lists differ before it sends a long one.

use blake3::Hasher;

use super::changes::Theirs;
use super::{Meeting, Side, VERSION};
use crate::frame::{AtMost, Have, Hello, Octets, encode};
use crate::link::{Reader, Writer};
use crate::{ExchangeError, HostError, Limits};

/// Largest list of documents that a caller sends unasked, in bytes. With both greetings
/// and summaries a meeting without news stays below 1 KiB.
const SMALL_HAVE: usize = 704;

/// This device's documents, each with the number of its changes.
pub(super) type Documents = Vec<(Vec<u8>, u64)>;

impl Meeting {
    /// Asks the host once for what it has.
    pub(super) async fn documents(&self) -> Result<Documents, ExchangeError> {
        let have = self.ask(|host, peer| host.have(peer)).await?;
        let long = |(id, _): &(Vec<u8>, u64)| id.len() > Limits::DOCUMENT_ID_BYTES;
        if have.len() > Limits::DOCUMENTS || have.iter().any(long) {
            let what = "more documents, or longer names of them, than a meeting holds";
            return Err(ExchangeError::Host(HostError::new(what)));
        }
        Ok(have)
    }

    /// Greets and hears the other's greeting; gives what the other has, or `None` if both
    /// have the same.
    pub(super) async fn greet(
        &self,
        side: Side,
        send: &mut Writer,
        recv: &mut Reader,
        have: &Documents,
    ) -> Result<Option<Theirs>, ExchangeError> {
        let digest = digest(have);
        let hello = |have| Hello {
            version: VERSION,
            changes: self.limits.changes,
            change_bytes: self.limits.change_bytes,
            digest,
            have,
        };
        let list = list(have);
        // Whether the list is told already, what the other said, and its list if that came.
        let (told, theirs, heard) = match side {
            Side::Caller => {
                let small = encode(&list).len() <= SMALL_HAVE;
                self.wire.write(send, &hello(small)).await?;
                if small {
                    self.wire.write(send, &list).await?;
                }
                (small, self.hear(recv).await?, None)
            }
            Side::Called => {
                let theirs = self.hear(recv).await?;
                let heard: Option<Have> = match theirs.have {
                    true => Some(self.wire.read(recv).await?),
                    false => None,
                };
                self.wire
                    .write(send, &hello(theirs.digest != digest))
                    .await?;
                (false, theirs, heard)
            }
        };
        if theirs.digest == digest {
            return Ok(None);
        }
        let tell = async {
            match told {
                true => Ok(()),
                false => self.wire.write(send, &list).await,
            }
        };
        let hear = async {
            match heard {
                Some(have) => Ok(have),
                None => self.wire.read(recv).await,
            }
        };
        let ((), have) = tokio::try_join!(tell, hear)?;
        Ok(Some(Theirs::new(&self.limits, &theirs, have)))
    }

    async fn hear(&self, recv: &mut Reader) -> Result<Hello, ExchangeError> {
        let hello: Hello = self.wire.read(recv).await?;
        // A newer one is told by its frame.
        if hello.version != VERSION {
            return Err(ExchangeError::Malformed { what: "greeting" });
        }
        Ok(hello)
    }
}

fn list(have: &Documents) -> Have {
    let documents = have.iter().map(|(id, count)| (Octets(id.clone()), *count));
    Have {
        documents: AtMost(documents.collect()),
    }
}

/// The same for the same documents in any order; those without changes count for nothing.
fn digest(have: &Documents) -> [u8; 32] {
    let mut documents: Vec<_> = have.iter().filter(|(_, count)| *count > 0).collect();
    documents.sort_unstable();
    let mut hasher = Hasher::new_derive_key("pothook 2026 list of documents 2");
    for (id, count) in documents {
        hasher.update(&[id.len() as u8]).update(id);
        hasher.update(&count.to_be_bytes());
    }
    *hasher.finalize().as_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_digest_is_of_the_documents_and_not_of_their_order() {
        let of = |documents: &[(&str, u64)]| {
            let documents = documents
                .iter()
                .map(|(id, count)| (id.as_bytes().to_vec(), *count));
            digest(&documents.collect())
        };
        let same = of(&[("a", 1), ("b", 2)]);
        assert_eq!(of(&[("b", 2), ("a", 1), ("c", 0)]), same);
        for other in [
            &[("a", 1)][..],
            &[("a", 2), ("b", 1)],
            &[("a", 1), ("b", 3)],
            &[("ab", 1), ("", 2)],
            &[],
        ] {
            assert_ne!(of(other), same, "{other:?}");
        }
    }
}
