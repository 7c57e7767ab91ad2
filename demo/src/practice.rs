//! The invented practice: a tutor's device and a family's device with a year of pages, built
//! through the use cases as people would: no other way in.

mod calendar;
mod example;
mod marks;
mod pupils;
mod scene;
mod week;

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use std::time::Duration;

use app::api::{
    ConfirmPairing, Exchange, JoinPairing, Nothing, OfferPairing, PairingState, Settle,
};
use app::{App, Opening};
use units::{Moment, Problem, PupilId, Role};

use crate::font::Fonts;
pub use example::draw as draw_example;
use pupils::Course;

/// Why the practice could not be built.
#[derive(Debug, thiserror::Error)]
pub enum PracticeError {
    /// There is something in the way, or no room.
    #[error("{0}")]
    Folder(#[from] io::Error),
    /// A use case refused.
    #[error("while {doing}: {problem}")]
    Refused {
        /// What was being done.
        doing: String,
        /// What the use case said.
        problem: Problem,
    },
    /// The two devices did not come together.
    #[error("the two devices did not pair: the pairing stands at {at}")]
    Unpaired {
        /// How far it had come.
        at: String,
    },
}

/// Says what was being done when a use case refused.
trait While<T> {
    fn while_doing(self, doing: impl FnOnce() -> String) -> Result<T, PracticeError>;
}

impl<T> While<T> for Result<T, Problem> {
    fn while_doing(self, doing: impl FnOnce() -> String) -> Result<T, PracticeError> {
        self.map_err(|problem| PracticeError::Refused {
            doing: doing(),
            problem,
        })
    }
}

/// A clock that the builder sets: a year passes in minutes.
#[derive(Clone)]
struct Hands(Arc<AtomicI64>);

impl Hands {
    fn set(&self, moment: Moment) {
        self.0.store(moment.0, Ordering::SeqCst);
    }

    fn clock(&self) -> app::Clock {
        let hands = self.0.clone();
        Arc::new(move || Moment(hands.load(Ordering::SeqCst)))
    }
}

/// Both devices and the time on their wall.
struct Practice {
    tutor: App,
    parent: App,
    hands: Hands,
}

/// A pupil with the id that the tutor's device gave.
struct Enrolled {
    course: Course,
    pupil: PupilId,
}

/// The file with the key of both data folders. Whoever invents a practice needs no secrets.
pub fn key_file(out: &Path) -> PathBuf {
    out.join("key")
}

/// Builds the practice below `out`: the tutor's data folder `tutor` and the family's `parent`.
/// The school year ends at `now`. Tells of each step through `say`.
///
/// # Errors
/// There is no room, or a use case refuses: the folders then hold what was done until then.
pub async fn build(
    fonts: &Fonts,
    out: &Path,
    now: Moment,
    mut say: impl FnMut(&str),
) -> Result<(), PracticeError> {
    let weeks = calendar::school_weeks(now.day(), pupils::WEEKS);
    let hands = Hands(Arc::new(AtomicI64::new(0)));
    hands.set(calendar::at(weeks[0].monday, 9, 0));
    let open = |name: &str| {
        let folder = out.join(name);
        std::fs::create_dir_all(&folder)?;
        let doing = || format!("opening {}", folder.display());
        let opener = app::key_file(&key_file(out)).while_doing(doing)?;
        let mut opening = Opening::new(&folder, opener);
        opening.clock = hands.clock();
        App::open_with(opening).while_doing(doing)
    };
    let practice = Practice {
        tutor: open("tutor")?,
        parent: open("parent")?,
        hands: hands.clone(),
    };
    practice.settle()?;
    let enrolled = practice.enrol()?;
    for child in enrolled.iter().filter(|child| child.course.family) {
        practice.pair(child.pupil).await?;
        say(&format!(
            "paired the two devices for {}",
            child.course.profile.name
        ));
    }
    week::all(&practice, fonts, &enrolled, &weeks, now, &mut say).await?;
    practice.meet().await?;
    practice.tutor.close().await;
    practice.parent.close().await;
    Ok(())
}

impl Practice {
    fn settle(&self) -> Result<(), PracticeError> {
        for (app, role, name) in [
            (&self.tutor, Role::Tutor, "The study"),
            (&self.parent, Role::Parent, "The kitchen tablet"),
        ] {
            let settle = Settle {
                role,
                name: name.to_owned(),
            };
            app.settle(settle)
                .while_doing(|| format!("setting up {name}"))?;
        }
        Ok(())
    }

    fn enrol(&self) -> Result<Vec<Enrolled>, PracticeError> {
        pupils::courses()
            .into_iter()
            .map(|course| {
                let profile = course.profile.clone();
                let name = profile.name.clone();
                let added = self
                    .tutor
                    .add_pupil(app::api::AddPupil { profile })
                    .while_doing(|| format!("adding {name}"))?;
                Ok(Enrolled {
                    course,
                    pupil: added.pupil,
                })
            })
            .collect()
    }

    /// Pairs the two devices for one pupil; both people compare the words and say yes.
    async fn pair(&self, pupil: PupilId) -> Result<(), PracticeError> {
        let doing = || "pairing".to_owned();
        let offer = self
            .tutor
            .offer_pairing(OfferPairing::Family { pupil })
            .await;
        let PairingState::Waiting { offered } = offer.while_doing(doing)? else {
            return Err(self.unpaired());
        };
        let code = offered.code;
        self.parent
            .join_pairing(JoinPairing {
                code,
                paper_key: None,
            })
            .await
            .while_doing(doing)?;
        self.reach(|state| matches!(state, PairingState::Compare { .. }))
            .await?;
        for side in [&self.tutor, &self.parent] {
            let same = ConfirmPairing { same: true };
            side.confirm_pairing(same).await.while_doing(doing)?;
        }
        self.reach(|state| matches!(state, PairingState::Done { .. }))
            .await
    }

    /// Waits until both sides have got there.
    async fn reach(&self, there: impl Fn(&PairingState) -> bool) -> Result<(), PracticeError> {
        for _ in 0..1200 {
            let mut reached = true;
            for side in [&self.tutor, &self.parent] {
                let state = side
                    .pairing(Nothing {})
                    .while_doing(|| "pairing".to_owned())?;
                reached &= there(&state);
            }
            if reached {
                return Ok(());
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        Err(self.unpaired())
    }

    fn unpaired(&self) -> PracticeError {
        PracticeError::Unpaired {
            at: format!("{:?}", self.tutor.pairing(Nothing {})),
        }
    }

    /// The two devices meet over the loopback of this machine.
    async fn meet(&self) -> Result<(), PracticeError> {
        let doing = || "the two devices met".to_owned();
        let met = self
            .tutor
            .exchange(Exchange { device: None })
            .await
            .while_doing(doing)?;
        match met.meetings.into_iter().find_map(|meeting| meeting.problem) {
            Some(problem) => Err(problem).while_doing(doing),
            None => Ok(()),
        }
    }
}
