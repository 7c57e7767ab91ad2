//! A peer that does what bytes say.

use std::sync::Arc;
use std::time::Duration;

use tokio::io::{AsyncReadExt, AsyncWriteExt};

use super::host::{SCOPE, WANTED, name, served};
use crate::close::Close;
use crate::exchange;
use crate::frame::{
    About, Answer, Ask, AtMost, BlobAnswer, Challenge, Changes, Confirmed, CounterProof, Done,
    Have, Hello, Kept, Knock, Octets, Proof, encode,
};
use crate::link::{Link, Reader, Writer};
use crate::outline::Outline;
use crate::pairing;

/// Longest wait of one step, so that a peer that waits in vain goes on.
const PATIENCE: Duration = Duration::from_secs(1);

/// Steps, one after the other.
pub(super) struct Script<'a>(&'a [u8]);

impl<'a> Script<'a> {
    pub(super) fn new(steps: &'a [u8]) -> Self {
        Self(steps)
    }

    /// The next byte; 0 behind the end.
    fn byte(&mut self) -> u8 {
        let (first, rest) = self.0.split_first().unwrap_or((&0, &[]));
        self.0 = rest;
        *first
    }

    fn bytes(&mut self, length: usize) -> &'a [u8] {
        let (taken, rest) = self.0.split_at(length.min(self.0.len()));
        self.0 = rest;
        taken
    }

    fn array(&mut self) -> [u8; 32] {
        let mut array = [0; 32];
        let taken = self.bytes(32);
        array[..taken.len()].copy_from_slice(taken);
        array
    }

    /// A number of any size: most are small.
    fn number(&mut self) -> u64 {
        match self.byte() {
            255 => u64::MAX,
            254 => u64::from(u32::MAX),
            253 => 1 << 20,
            small => small.into(),
        }
    }

    /// Plays all steps, with these streams open from the beginning; then leaves.
    pub(super) async fn play(mut self, link: Arc<dyn Link>, first: Option<(Writer, Reader)>) {
        let mut streams: Vec<(Option<Writer>, Option<Reader>)> = Vec::new();
        streams.extend(first.map(|(send, recv)| (Some(send), Some(recv))));
        while !self.0.is_empty() {
            let step = self.byte();
            let at = usize::from(self.byte() % 8);
            let patience = tokio::time::timeout(PATIENCE, async {
                match step % 8 {
                    0 => {
                        if let (true, Ok((send, recv))) = (streams.len() < 8, link.open().await) {
                            streams.push((Some(send), Some(recv)));
                        }
                    }
                    1 => {
                        if let (true, Ok((send, recv))) = (streams.len() < 8, link.accept().await) {
                            streams.push((Some(send), Some(recv)));
                        }
                    }
                    2..=4 => {
                        let bytes = if step % 8 == 2 {
                            let length = self.byte().into();
                            self.bytes(length).to_vec()
                        } else {
                            self.message()
                        };
                        if let Some((Some(send), _)) = streams.get_mut(at) {
                            let _ = send.write_all(&bytes).await;
                        }
                    }
                    5 => {
                        if let Some((_, Some(recv))) = streams.get_mut(at) {
                            let _ = recv.read(&mut [0; 4096]).await;
                        }
                    }
                    6 => {
                        if let Some((send, recv)) = streams.get_mut(at) {
                            match self.byte() % 3 {
                                0 => drop(send.take()),
                                1 => drop(recv.take()),
                                _ => tokio::time::sleep(PATIENCE).await,
                            }
                        }
                    }
                    _ => {
                        // Seldom: it ends the conversation.
                        if let (0, Some(reason)) = (at, Close::of(self.byte().into())) {
                            link.close(reason);
                        }
                    }
                }
            });
            // In vain: the next step.
            let _ = patience.await;
        }
        drop(streams);
        link.close(Close::Done);
    }

    /// Something that an honest device might say, somewhere.
    fn message(&mut self) -> Vec<u8> {
        let [large, small] = &*WANTED;
        match self.byte() % 20 {
            0 => encode(&Hello {
                version: exchange::VERSION,
                changes: self.number(),
                change_bytes: self.number(),
                digest: self.array(),
                have: self.byte() % 2 == 1,
            }),
            1 => encode(&Have {
                documents: AtMost(vec![(Octets(b"a book".to_vec()), self.number())]),
            }),
            2 => {
                let count = self.byte() % 8;
                let changes = (0..count).map(|_| Octets(vec![9; usize::from(self.byte()) * 50]));
                let changes = AtMost(changes.collect());
                let last = self.byte() % 2 == 1;
                encode(&Changes { changes, last })
            }
            3 => encode(&Done {
                changes: self.number(),
                refused: self.number(),
                blobs: self.number(),
                more: self.byte() % 2 == 1,
            }),
            4 => encode(&Ask {
                scope: SCOPE,
                id: name(&served()).0,
                offset: self.number(),
            }),
            5 => encode(&Ask {
                scope: SCOPE,
                id: self.array(),
                offset: self.number(),
            }),
            6 => encode(&Answer {
                answer: BlobAnswer::Missing,
            }),
            7 => encode(&Answer {
                answer: BlobAnswer::Later,
            }),
            8 => encode(&Answer {
                answer: BlobAnswer::Held(self.number()),
            }),
            9 => encode(&Answer {
                answer: BlobAnswer::Held(large.len() as u64),
            }),
            10 => encode(&Answer {
                answer: BlobAnswer::Held(small.len() as u64),
            }),
            11 => Outline::of(large),
            12 => {
                let from = usize::from(self.byte()) * 1000;
                let upto = (from + usize::from(self.byte()) * 1000).min(large.len());
                large.get(from..upto).unwrap_or_default().to_vec()
            }
            13 => small.clone(),
            14 => encode(&Knock {
                version: pairing::VERSION,
                commitment: self.array(),
            }),
            15 => encode(&Challenge {
                nonce: self.array(),
            }),
            16 => encode(&Proof {
                nonce: self.array(),
                mac: self.array(),
            }),
            17 => encode(&CounterProof { mac: self.array() }),
            18 => encode(&Confirmed {}),
            _ => {
                let about = About {
                    about: Octets(vec![1; usize::from(self.byte()) * 60]),
                    addresses: AtMost(vec![([192, 0, 2, 7], 4433).into()]),
                };
                [encode(&about), encode(&Kept {})].concat()
            }
        }
    }
}
