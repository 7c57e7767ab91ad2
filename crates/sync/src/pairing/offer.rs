//! An offer to pair: open for a while, for one use and few wrong tries.

use std::sync::{Arc, Mutex, MutexGuard};

use tokio::sync::mpsc;
use tokio::time::Instant;

use super::code::PairingCode;
use super::{OwnSide, Pairing};
use crate::close::Close;
use crate::{Limits, PairError, lock};

/// An open offer to pair. Dropping it cancels it.
#[derive(Debug)]
pub struct Offer {
    open: Arc<Open>,
    joined: tokio::sync::Mutex<mpsc::Receiver<Result<Pairing, PairError>>>,
}

impl Offer {
    /// The code to show to the other side.
    pub fn code(&self) -> PairingCode {
        self.open.code.clone()
    }

    /// When the offer ends by itself.
    pub fn ends(&self) -> std::time::Instant {
        self.open.deadline.into_std()
    }

    /// Waits until a device that holds the code has joined. The offer is used up then.
    pub async fn joined(&self) -> Result<Pairing, PairError> {
        let mut joined = self.joined.lock().await;
        let late = tokio::time::sleep_until(self.open.deadline);
        tokio::select! {
            biased;
            told = joined.recv() => return told.unwrap_or_else(|| Err(self.open.ended())),
            () = late => {}
        }
        self.open.end(Phase::Expired);
        // Used in the last moment: the proof is still on its way.
        joined
            .recv()
            .await
            .unwrap_or_else(|| Err(self.open.ended()))
    }

    /// Ends the offer. A pairing that came of it already is not touched.
    pub fn cancel(&self) {
        self.open.end(Phase::Cancelled);
    }
}

impl Drop for Offer {
    fn drop(&mut self) {
        self.cancel();
    }
}

/// The offer that a node has open, if any.
#[derive(Debug, Default)]
pub(crate) struct Offers(Mutex<Option<Arc<Open>>>);

impl Offers {
    /// Opens an offer; the one before it ends.
    pub(crate) fn open(&self, code: PairingCode, own: OwnSide, limits: &Limits) -> Offer {
        let (tell, joined) = mpsc::channel(1);
        let open = Arc::new(Open {
            code,
            own,
            deadline: Instant::now() + limits.offer,
            most_wrong: limits.wrong_tries,
            state: Mutex::new(State {
                phase: Phase::Open { wrong: 0 },
                tell: Some(tell),
            }),
        });
        if let Some(earlier) = self.slot().replace(Arc::clone(&open)) {
            earlier.end(Phase::Cancelled);
        }
        Offer {
            open,
            joined: tokio::sync::Mutex::new(joined),
        }
    }

    /// The latest offer, open or ended.
    pub(super) fn latest(&self) -> Option<Arc<Open>> {
        self.slot().clone()
    }

    /// Ends what is open.
    pub(crate) fn close(&self) {
        if let Some(open) = self.slot().take() {
            open.end(Phase::Cancelled);
        }
    }

    fn slot(&self) -> MutexGuard<'_, Option<Arc<Open>>> {
        lock(&self.0)
    }
}

/// An offer as the network sees it.
#[derive(Debug)]
pub(super) struct Open {
    pub(super) code: PairingCode,
    pub(super) own: OwnSide,
    deadline: Instant,
    most_wrong: u32,
    state: Mutex<State>,
}

#[derive(Debug)]
struct State {
    phase: Phase,
    /// Taken when the last word is said.
    tell: Option<mpsc::Sender<Result<Pairing, PairError>>>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Phase {
    Open { wrong: u32 },
    Used,
    Cancelled,
    Expired,
    TooManyTries,
}

impl Phase {
    fn error(self) -> PairError {
        match self {
            Self::Open { .. } | Self::Used => PairError::NoOffer,
            Self::Cancelled => PairError::Cancelled,
            Self::Expired => PairError::Expired,
            Self::TooManyTries => PairError::TooManyTries,
        }
    }
}

impl Open {
    /// Whether a device may try; if not, what it is told.
    pub(super) fn admits(&self) -> Result<(), Close> {
        let mut state = self.state();
        self.look_at_the_clock(&mut state);
        match state.phase {
            Phase::Open { .. } => Ok(()),
            Phase::Expired => Err(Close::Expired),
            Phase::TooManyTries => Err(Close::TooManyTries),
            Phase::Used | Phase::Cancelled => Err(Close::NoOffer),
        }
    }

    /// Judges one proof: the first right one uses the offer up, a wrong one is counted.
    /// Proofs tried at the same time are judged one after the other.
    pub(super) fn judge(&self, right: bool) -> Result<(), Close> {
        self.admits()?;
        let mut state = self.state();
        let Phase::Open { wrong } = state.phase else {
            return Err(Close::NoOffer);
        };
        if right {
            state.phase = Phase::Used;
            return Ok(());
        }
        let wrong = wrong + 1;
        if wrong < self.most_wrong {
            state.phase = Phase::Open { wrong };
            return Err(Close::WrongSecret);
        }
        state.end(Phase::TooManyTries);
        Err(Close::TooManyTries)
    }

    /// Tells the offering person's screen how the one use went.
    pub(super) fn tell(&self, outcome: Result<Pairing, PairError>) {
        let tell = self.state().tell.take();
        if let Some(tell) = tell {
            // Nobody listens any more: the pairing is dropped, which refuses it.
            let _ = tell.try_send(outcome);
        }
    }

    fn end(&self, phase: Phase) {
        self.state().end(phase);
    }

    fn ended(&self) -> PairError {
        self.state().phase.error()
    }

    fn look_at_the_clock(&self, state: &mut State) {
        if Instant::now() >= self.deadline {
            state.end(Phase::Expired);
        }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        lock(&self.state)
    }
}

impl State {
    /// Ends an open offer; one that has ended keeps its reason.
    fn end(&mut self, phase: Phase) {
        if matches!(self.phase, Phase::Open { .. }) {
            self.phase = phase;
            // Without a sender, whoever waits hears the end.
            self.tell = None;
        }
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use units::DeviceId;

    use super::*;

    fn offer(offers: &Offers) -> (Offer, Arc<Open>) {
        let own = OwnSide {
            device: DeviceId([1; 32]),
            addrs: Vec::new(),
            about: Vec::new(),
        };
        let code = PairingCode::new(own.device, &[], [2; 16]);
        let offer = offers.open(code, own, &Limits::default());
        (offer, offers.latest().unwrap())
    }

    #[tokio::test(start_paused = true)]
    async fn an_offer_ends_after_ten_minutes() {
        let offers = Offers::default();
        let (offer, open) = offer(&offers);
        tokio::time::advance(Duration::from_secs(599)).await;
        assert_eq!(open.admits(), Ok(()));
        tokio::time::advance(Duration::from_secs(1)).await;
        assert_eq!(open.judge(true), Err(Close::Expired));
        assert!(matches!(offer.joined().await, Err(PairError::Expired)));
    }

    #[tokio::test(start_paused = true)]
    async fn whoever_waits_hears_that_the_time_ran_out() {
        let offers = Offers::default();
        let (offer, _) = offer(&offers);
        assert!(matches!(offer.joined().await, Err(PairError::Expired)));
        assert!(matches!(offer.joined().await, Err(PairError::Expired)));
    }

    #[tokio::test]
    async fn the_fifth_wrong_try_closes_the_offer() {
        let offers = Offers::default();
        let (offer, open) = offer(&offers);
        for _ in 0..4 {
            assert_eq!(open.judge(false), Err(Close::WrongSecret));
        }
        assert_eq!(open.judge(false), Err(Close::TooManyTries));
        assert_eq!(open.judge(true), Err(Close::TooManyTries));
        assert!(matches!(offer.joined().await, Err(PairError::TooManyTries)));
    }

    #[tokio::test]
    async fn an_offer_has_one_use() {
        let offers = Offers::default();
        let (_offer, open) = offer(&offers);
        assert_eq!(open.judge(true), Ok(()));
        assert_eq!(open.judge(true), Err(Close::NoOffer));
        assert_eq!(open.judge(false), Err(Close::NoOffer));
    }

    #[tokio::test]
    async fn a_new_offer_ends_the_earlier_one_and_cancelling_ends_the_new_one() {
        let offers = Offers::default();
        let (first, first_open) = offer(&offers);
        let (second, second_open) = offer(&offers);
        assert_eq!(first_open.judge(true), Err(Close::NoOffer));
        assert!(matches!(first.joined().await, Err(PairError::Cancelled)));
        assert_eq!(second_open.admits(), Ok(()));
        second.cancel();
        assert_eq!(second_open.judge(true), Err(Close::NoOffer));
        assert!(matches!(second.joined().await, Err(PairError::Cancelled)));
    }
}
