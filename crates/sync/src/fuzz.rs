//! Entries for a fuzzer: bytes from nowhere into everything that reads some. Whatever they
//! are, nothing panics, nothing hangs, and nothing is kept that was not asked for.

mod host;
mod peer;

use std::sync::Arc;
use std::time::Duration;

use units::DeviceId;

use self::host::Bare;
use self::peer::Script;
use crate::exchange::{self, Side};
use crate::frame;
use crate::memory::{self, Faults};
use crate::pairing::{self, Offers, OwnSide};
use crate::{ExchangeError, Limits, PairingCode, Report};

const HONEST: DeviceId = DeviceId([1; 32]);
const HOSTILE: DeviceId = DeviceId([2; 32]);

/// Reads the bytes as every kind of frame.
pub fn frame(data: &[u8]) {
    if let Some((head, body)) = data.split_first_chunk() {
        frame::open_as_all(*head);
        frame::decode_as_all(body);
    }
    frame::decode_as_all(data);
}

/// Reads the bytes as the text of a pairing code. What is one survives text and back.
pub fn code(data: &[u8]) {
    let text = String::from_utf8_lossy(data);
    if let Ok(code) = text.parse::<PairingCode>() {
        assert_eq!(code.to_string().parse(), Ok(code));
    }
}

/// Holds a conversation, in memory, with a peer that does what the bytes say: some of its
/// steps are right, in any order, and some are noise. The first byte picks which
/// conversation it is.
pub fn talk(data: &[u8]) {
    let (pick, rest) = data.split_first().unwrap_or((&0, &[]));
    let script = Script::new(rest);
    paused(async {
        match pick % 5 {
            0 => drop(meet(Side::Called, script).await),
            1 => drop(meet(Side::Caller, script).await),
            2 => offer(script).await,
            3 => join(script).await,
            _ => confirm(script, pick & 128 != 0).await,
        }
    });
}

/// Runs on one thread, with a clock that moves when nothing else does.
fn paused<T>(conversation: impl Future<Output = T>) -> T {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .start_paused(true)
        .build();
    let runtime = runtime.expect("a runtime without input and output");
    runtime.block_on(conversation)
}

/// The limits of a device that soon has enough.
fn limits() -> Arc<Limits> {
    Arc::new(Limits {
        changes: 100,
        change_bytes: 1 << 20,
        blobs: 8,
        blob_bytes: 1 << 20,
        quiet: Duration::from_secs(5),
        meeting: Duration::from_secs(60),
        connect: Duration::from_secs(5),
        offer: Duration::from_secs(60),
        ..Limits::default()
    })
}

async fn meet(side: Side, script: Script<'_>) -> Result<Report, ExchangeError> {
    let (honest, hostile) = memory::links(HONEST, HOSTILE, &Faults::default());
    let host = Arc::new(Bare::default());
    let meeting = exchange::meet(honest, side, host.clone(), limits());
    let (outcome, ()) = tokio::join!(meeting, script.play(hostile, None));
    host.check(&outcome);
    outcome
}

fn own_side() -> OwnSide {
    OwnSide {
        device: HONEST,
        addrs: Vec::new(),
        about: b"private".to_vec(),
    }
}

/// The honest device has an offer open. The peer does not hold its secret.
async fn offer(script: Script<'_>) {
    let (honest, hostile) = memory::links(HONEST, HOSTILE, &Faults::default());
    let offers = Offers::default();
    let code = PairingCode::new(HONEST, &[], [7; 16]);
    let offer = offers.open(code, own_side(), &limits());
    tokio::join!(
        pairing::answer(honest, &offers, limits()),
        script.play(hostile, None)
    );
    offer.cancel();
    assert!(offer.joined().await.is_err(), "paired without the secret");
}

/// The honest device joins. The peer does not hold the secret.
async fn join(script: Script<'_>) {
    let (honest, hostile) = memory::links(HONEST, HOSTILE, &Faults::default());
    let code = PairingCode::new(HOSTILE, &[], [7; 16]);
    let joining = pairing::join(honest, &code, own_side(), limits());
    let (joined, ()) = tokio::join!(joining, script.play(hostile, None));
    assert!(joined.is_err(), "paired without the secret");
}

/// Both hold the secret; once it is proven the peer does as it likes.
async fn confirm(script: Script<'_>, hostile_joins: bool) {
    let (honest, hostile) = memory::links(HONEST, HOSTILE, &Faults::default());
    let (offering, joining, answers, joins) = if hostile_joins {
        (HONEST, HOSTILE, honest, hostile)
    } else {
        (HOSTILE, HONEST, hostile, honest)
    };
    let own = |device| OwnSide {
        device,
        ..own_side()
    };
    let code = PairingCode::new(offering, &[], [7; 16]);
    let offers = Offers::default();
    let offer = offers.open(code.clone(), own(offering), &limits());
    let ((), offered, joined) = tokio::join!(
        pairing::answer(answers, &offers, limits()),
        offer.joined(),
        pairing::join(joins, &code, own(joining), limits()),
    );
    let (offered, joined) = (offered.expect("proven"), joined.expect("proven"));
    let (honest, mut hostile) = if hostile_joins {
        (offered, joined)
    } else {
        (joined, offered)
    };
    let (link, streams) = hostile.take_thread();
    let (confirmed, ()) = tokio::join!(honest.confirm(), script.play(link, Some(streams)));
    if let Ok(paired) = confirmed {
        assert!(paired.about.len() <= Limits::ABOUT_BYTES);
        assert!(paired.addrs.len() <= Limits::CODE_ADDRESSES);
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::peer::Script;
    use crate::exchange::Side;

    /// The steps of one that calls, has what the honest device has, serves the two blobs
    /// that are wanted and asks for none.
    fn honest_steps() -> Vec<u8> {
        let anything = [0xEE; 32];
        [
            &[0, 0][..],
            // A greeting, the list, and no changes.
            &[3, 0, 0, 10, 253],
            &anything,
            &[1],
            &[3, 0, 1, 3],
            &[3, 0, 2, 0, 1],
            // The two blobs that it is asked for.
            &[1, 0, 1, 0],
            &[3, 1, 9, 3, 1, 11, 3, 1, 12, 0, 200, 6, 1, 0],
            &[3, 2, 10, 3, 2, 13, 6, 2, 0],
            // The summary, and time for the answer to it.
            &[3, 0, 3, 0, 0, 0, 0],
            &[5, 0].repeat(6),
        ]
        .concat()
    }

    #[test]
    fn a_script_can_play_an_honest_peer_to_the_end() {
        let steps = honest_steps();
        let outcome = super::paused(super::meet(Side::Called, Script::new(&steps)));
        let report = outcome.unwrap();
        assert_eq!((report.received_blobs, report.refused_blobs), (2, 0));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(200))]

        #[test]
        fn no_bytes_break_a_decoder(data in prop::collection::vec(any::<u8>(), 0..600)) {
            super::frame(&data);
            super::code(&data);
        }

        #[test]
        fn no_peer_breaks_a_conversation(data in prop::collection::vec(any::<u8>(), 0..400)) {
            super::talk(&data);
        }

        #[test]
        fn no_slip_of_an_honest_peer_breaks_a_conversation(
            slips in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>(), 0..3), 1..6),
        ) {
            let mut steps = honest_steps();
            for (at, byte, kind) in slips {
                let at = at.index(steps.len());
                match kind {
                    0 => steps[at] = byte,
                    1 => drop(steps.remove(at)),
                    _ => steps.insert(at, byte),
                }
            }
            super::talk(&[&[0][..], &steps].concat());
        }
    }
}
