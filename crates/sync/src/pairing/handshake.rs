//! Both devices prove that they hold the secret.

use std::sync::Arc;

use super::code::PairingCode;
use super::offer::{Offers, Open};
use super::proof::{Nonce, Transcript, commitment};
use super::{OwnSide, Pairing, Role, Thread, VERSION, closing};
use crate::close::Close;
use crate::frame::{Challenge, CounterProof, Knock, Proof};
use crate::link::Link;
use crate::wire::Wire;
use crate::{Limits, PairError};

pub(crate) fn random<const N: usize>() -> Result<[u8; N], PairError> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).map_err(|_| PairError::NoRandomness)?;
    Ok(bytes)
}

/// The joining side, on a link to the code's device.
pub(crate) async fn join(
    link: Arc<dyn Link>,
    code: &PairingCode,
    own: OwnSide,
    limits: Arc<Limits>,
) -> Result<Pairing, PairError> {
    let greeting = knock(&link, code, own, &limits);
    let outcome = match tokio::time::timeout(limits.connect, greeting).await {
        Ok(outcome) => outcome,
        Err(_) => Err(PairError::Quiet),
    };
    if outcome.is_err() {
        link.close(closing(&outcome));
    }
    outcome
}

async fn knock(
    link: &Arc<dyn Link>,
    code: &PairingCode,
    own: OwnSide,
    limits: &Arc<Limits>,
) -> Result<Pairing, PairError> {
    let wire = Wire::new(limits.quiet);
    let joining_nonce: Nonce = random()?;
    let (mut send, mut recv) = wire.wait(link.open()).await?;
    let knock = Knock {
        version: VERSION,
        commitment: commitment(&joining_nonce),
    };
    wire.write(&mut send, &knock).await?;
    let challenge: Challenge = wire.read(&mut recv).await?;
    let transcript = Transcript {
        secret: code.secret(),
        offering: code.device(),
        joining: own.device,
        offering_nonce: challenge.nonce,
        joining_nonce,
    };
    let proof = Proof {
        nonce: joining_nonce,
        mac: transcript.joining_mac().into(),
    };
    wire.write(&mut send, &proof).await?;
    let CounterProof { mac } = wire.read(&mut recv).await?;
    if transcript.offering_mac() != mac {
        return Err(PairError::Unproven);
    }
    let words = transcript.words();
    let thread = Thread {
        link: Arc::clone(link),
        send,
        recv,
    };
    Ok(Pairing::new(Role::Joining, words, own, thread, limits))
}

/// The offering side, on a link that somebody opened.
pub(crate) async fn answer(link: Arc<dyn Link>, offers: &Offers, limits: Arc<Limits>) {
    let Some(open) = offers.latest() else {
        return link.close(Close::NoOffer);
    };
    if let Err(reason) = open.admits() {
        return link.close(reason);
    }
    let greeting = challenge(&link, &open, &limits);
    let reason = match tokio::time::timeout(limits.connect, greeting).await {
        Ok(Ok(())) => return,
        Ok(Err(Turned::Away(reason))) => reason,
        Ok(Err(Turned::Failed(error))) => closing(&Err::<(), _>(error)),
        Err(_) => Close::Quiet,
    };
    link.close(reason);
}

/// Why a device that knocked got no further.
enum Turned {
    /// By the offer.
    Away(Close),
    /// By what it sent, or by the network.
    Failed(PairError),
}

impl<E> From<E> for Turned
where
    PairError: From<E>,
{
    fn from(error: E) -> Self {
        Self::Failed(error.into())
    }
}

async fn challenge(link: &Arc<dyn Link>, open: &Open, limits: &Arc<Limits>) -> Result<(), Turned> {
    let wire = Wire::new(limits.quiet);
    let (send, recv) = wire.wait(link.accept()).await?;
    let mut thread = Thread {
        link: Arc::clone(link),
        send,
        recv,
    };
    let (nonce, proof) = ask_for_proof(&wire, &mut thread).await?;
    let transcript = Transcript {
        secret: open.code.secret(),
        offering: open.own.device,
        joining: link.peer(),
        offering_nonce: nonce,
        joining_nonce: proof.nonce,
    };
    let right = transcript.joining_mac() == proof.mac;
    open.judge(right).map_err(Turned::Away)?;
    let mac = transcript.offering_mac().into();
    if let Err(error) = wire.write(&mut thread.send, &CounterProof { mac }).await {
        open.tell(Err(error.into()));
        return Err(Turned::Away(Close::Refused));
    }
    let (words, own) = (transcript.words(), open.own.clone());
    open.tell(Ok(Pairing::new(Role::Offering, words, own, thread, limits)));
    Ok(())
}

/// This side's nonce, and the proof that came for it; not judged yet, but of the nonce
/// that the other side was committed to.
async fn ask_for_proof(wire: &Wire, thread: &mut Thread) -> Result<(Nonce, Proof), PairError> {
    let knock: Knock = wire.read(&mut thread.recv).await?;
    // A newer one is told by its frame.
    if knock.version != VERSION {
        return Err(PairError::Malformed { what: "knock" });
    }
    let nonce = random()?;
    wire.write(&mut thread.send, &Challenge { nonce }).await?;
    let proof: Proof = wire.read(&mut thread.recv).await?;
    if commitment(&proof.nonce) != knock.commitment {
        return Err(PairError::Malformed { what: "proof" });
    }
    Ok((nonce, proof))
}
