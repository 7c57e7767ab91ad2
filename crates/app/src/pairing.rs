//! Making two devices known to each other.

use std::time::Duration;

use qrcode::render::svg;
use qrcode::{EcLevel, QrCode};
use serde::{Deserialize, Serialize};
use sync::{Offer, PairError, Paired, Pairing, PairingCode};
use units::{DeviceId, Moment, Problem, PupilId, Role};

use crate::App;
use crate::api::{
    ConfirmPairing, DeviceRow, Event, Exchange, JoinPairing, Nothing, OfPupil, Offered,
    PairingState,
};
use crate::device::{locked, short_text};
use crate::peers::Peer;
use crate::problem;

/// How long an offer stands, milliseconds; the meeting itself holds to the same.
const STANDS_FOR: i64 = 10 * 60 * 1000;

/// How far the pairing under way has come, with what is needed to go on.
pub(crate) enum Stage {
    Idle,
    Waiting {
        offered: Offered,
        task: tokio::task::AbortHandle,
    },
    Compare {
        pairing: Box<Pairing>,
        pupil: Option<PupilId>,
    },
    Confirmed {
        words: Vec<String>,
        task: tokio::task::AbortHandle,
    },
    Done {
        device: DeviceRow,
    },
    Failed {
        problem: Problem,
    },
}

/// What each side hands over once both have confirmed.
#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "camelCase")]
struct About {
    name: String,
    role: Role,
    /// The pupil that the tutor's device shares; absent from a parent's.
    pupil: Option<PupilId>,
}

impl App {
    /// How far the pairing under way has come.
    ///
    /// # Errors
    /// None.
    pub fn pairing(&self, _: Nothing) -> Result<PairingState, Problem> {
        Ok(match &*locked(&self.inner.pairing) {
            Stage::Idle => PairingState::Idle {},
            Stage::Waiting { offered, .. } => PairingState::Waiting {
                offered: offered.clone(),
            },
            Stage::Compare { pairing, .. } => PairingState::Compare {
                words: words(pairing),
            },
            Stage::Confirmed { words, .. } => PairingState::Confirmed {
                words: words.clone(),
            },
            Stage::Done { device } => PairingState::Done {
                device: device.clone(),
            },
            Stage::Failed { problem } => PairingState::Failed {
                problem: problem.clone(),
            },
        })
    }

    /// Opens an offer for one pupil; an earlier one ends.
    ///
    /// # Errors
    /// This is not the tutor's device, there is no such pupil, or the network
    /// address cannot be used.
    pub async fn offer_pairing(&self, input: OfPupil) -> Result<PairingState, Problem> {
        self.only(Role::Tutor)?;
        self.profile(input.pupil)?;
        let about = self.about(Some(input.pupil))?;
        let offer = self.node().await?.offer(about).map_err(problem::pair)?;
        let offered = offered(&offer, self.now())?;
        let app = self.clone();
        let task = tokio::spawn(async move {
            let stage = match offer.joined().await {
                Ok(pairing) => Stage::Compare {
                    pairing: Box::new(pairing),
                    pupil: Some(input.pupil),
                },
                Err(error) => Stage::Failed {
                    problem: problem::pair(error),
                },
            };
            app.pairing_is(stage);
        });
        self.pairing_is(Stage::Waiting {
            offered,
            task: task.abort_handle(),
        });
        self.pairing(Nothing {})
    }

    /// Takes up a pairing text.
    ///
    /// # Errors
    /// This is not a parent's device, the text has a slip, or the other device is
    /// out of reach or refuses.
    pub async fn join_pairing(&self, input: JoinPairing) -> Result<PairingState, Problem> {
        self.only(Role::Parent)?;
        let code: PairingCode = input.code.parse().map_err(|error| problem::code(&error))?;
        let about = self.about(None)?;
        let pairing = self
            .node()
            .await?
            .join(&code, about)
            .await
            .map_err(problem::pair)?;
        self.pairing_is(Stage::Compare {
            pairing: Box::new(pairing),
            pupil: None,
        });
        self.pairing(Nothing {})
    }

    /// Says whether both devices show the same words.
    ///
    /// # Errors
    /// No words are shown.
    pub async fn confirm_pairing(&self, input: ConfirmPairing) -> Result<PairingState, Problem> {
        let mut slot = locked(&self.inner.pairing);
        let (pairing, pupil) = match std::mem::replace(&mut *slot, Stage::Idle) {
            Stage::Compare { pairing, pupil } => (pairing, pupil),
            other => {
                *slot = other;
                return Err(Problem::new(
                    "nothing-to-compare",
                    "No words are shown to be compared.",
                    "Begin the pairing again.",
                ));
            }
        };
        if input.same {
            let words = words(&pairing);
            let app = self.clone();
            let task = tokio::spawn(async move { app.finish(*pairing, pupil).await });
            *slot = Stage::Confirmed {
                words,
                task: task.abort_handle(),
            };
        } else {
            pairing.refuse();
            *slot = Stage::Failed {
                problem: problem::words_differ(),
            };
        }
        drop(slot);
        self.tell(Event::Pairing {});
        self.pairing(Nothing {})
    }

    /// Ends the pairing under way.
    ///
    /// # Errors
    /// None.
    pub async fn cancel_pairing(&self, _: Nothing) -> Result<PairingState, Problem> {
        self.pairing_is(Stage::Idle);
        self.pairing(Nothing {})
    }

    async fn finish(&self, pairing: Pairing, pupil: Option<PupilId>) {
        let stage = match pairing.confirm().await {
            Ok(paired) => match self.welcome(paired, pupil) {
                Ok(device) => Stage::Done { device },
                Err(problem) => Stage::Failed { problem },
            },
            Err(error) => Stage::Failed {
                problem: problem::pair(error),
            },
        };
        let joined = match &stage {
            Stage::Done { device } if pupil.is_none() => Some(device.device),
            _ => None,
        };
        {
            // Not through `pairing_is`: that would end this very task.
            *locked(&self.inner.pairing) = stage;
        }
        self.tell(Event::Pairing {});
        self.tell(Event::Changed { pupil: None });
        if joined.is_some() {
            self.fetch_books(joined).await;
        }
    }

    /// The books come at once; where that fails the next meeting brings them.
    async fn fetch_books(&self, device: Option<DeviceId>) {
        for _ in 0..10 {
            let met = self.exchange(Exchange { device }).await;
            let unknown = met.is_ok_and(|met| {
                let mut problems = met
                    .meetings
                    .into_iter()
                    .filter_map(|meeting| meeting.problem);
                problems.any(|problem| problem.code == "not-paired")
            });
            if !unknown {
                return;
            }
            // The other device has said yes, but not yet written this one down.
            tokio::time::sleep(Duration::from_millis(200)).await;
        }
    }

    /// Takes the other device in, once both people have confirmed.
    fn welcome(&self, paired: Paired, pupil: Option<PupilId>) -> Result<DeviceRow, Problem> {
        let unreadable = || {
            problem::pair(PairError::Malformed {
                what: "its introduction",
            })
        };
        let about: About = serde_json::from_slice(&paired.about).map_err(|_| unreadable())?;
        let name = short_text(&about.name, "a name for the other device")?;
        let mine = self.settled()?.role;
        let pupil = match (mine, about.role) {
            (Role::Tutor, Role::Parent) => pupil,
            (Role::Parent, Role::Tutor) => about.pupil,
            _ => None,
        };
        self.add_peer(Peer {
            device: paired.peer,
            name,
            role: about.role,
            pupils: vec![pupil.ok_or_else(unreadable)?],
            last_met: None,
            addresses: paired.addrs,
        })
    }

    fn about(&self, pupil: Option<PupilId>) -> Result<Vec<u8>, Problem> {
        let settled = self.settled()?;
        let about = About {
            name: settled.name,
            role: settled.role,
            pupil,
        };
        Ok(serde_json::to_vec(&about).expect("an introduction is plain data"))
    }

    fn pairing_is(&self, stage: Stage) {
        let before = std::mem::replace(&mut *locked(&self.inner.pairing), stage);
        if let Stage::Waiting { task, .. } | Stage::Confirmed { task, .. } = before {
            task.abort();
        }
        self.tell(Event::Pairing {});
    }
}

fn words(pairing: &Pairing) -> Vec<String> {
    pairing.words.iter().map(|&word| word.to_owned()).collect()
}

fn offered(offer: &Offer, now: Moment) -> Result<Offered, Problem> {
    let code = offer.code().to_string();
    let picture = QrCode::with_error_correction_level(&code, EcLevel::M).map_err(|_| {
        Problem::new(
            "no-picture",
            "The pairing text is too long for a picture.",
            "Type the text instead.",
        )
    })?;
    let qr_svg = picture
        .render::<svg::Color<'_>>()
        .min_dimensions(240, 240)
        .build();
    Ok(Offered {
        code,
        qr_svg,
        expires_at: Moment(now.0 + STANDS_FOR),
    })
}
