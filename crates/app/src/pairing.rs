//! Making two devices known to each other.

use std::time::Duration;

use casefile::Signer;
use qrcode::render::svg;
use qrcode::{EcLevel, QrCode};
use serde::{Deserialize, Serialize};
use sync::{Offer, PairError, Paired, Pairing, PairingCode};
use units::{DeviceId, Moment, Problem, PupilId, Role};

use crate::App;
use crate::api::{
    ConfirmPairing, DeviceRow, Event, Exchange, JoinPairing, Nothing, OfferPairing, Offered,
    PairingState,
};
use crate::device::{locked, short_text};
use crate::membership::read_paper_key;
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
        part: Part,
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
    /// What the offering device invites to; absent from the joining one.
    invite: Option<Invite>,
    /// The practice that it has, if it is one of a tutor's.
    #[serde(default)]
    practice: Option<PupilId>,
}

/// What a pairing is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "to", rename_all = "camelCase")]
enum Invite {
    /// A family's device, to a pupil.
    Family { pupil: PupilId },
    /// Another device of the tutor's, to the practice.
    OwnDevice { practice: PupilId },
    /// The tutor's new device, back to a pupil by the key on paper.
    TutorAgain { pupil: PupilId },
}

/// This device's part in a pairing.
#[derive(Debug, Clone)]
pub(crate) enum Part {
    Offering(Invited),
    /// With the key on paper, where a tutor comes back by it.
    Joining(Option<Box<Signer>>),
}

/// An invitation of this device's own.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Invited(Invite);

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

    /// Opens an offer; an earlier one ends.
    ///
    /// # Errors
    /// This is the other side's to offer, there is no such pupil, or the network address cannot be
    /// used.
    pub async fn offer_pairing(&self, input: OfferPairing) -> Result<PairingState, Problem> {
        let invite = match input {
            OfferPairing::Family { pupil } => {
                self.only(Role::Tutor)?;
                self.profile(pupil)?;
                Invite::Family { pupil }
            }
            OfferPairing::OwnDevice {} => {
                self.only(Role::Tutor)?;
                let practice = self.begun_practice()?;
                Invite::OwnDevice { practice }
            }
            OfferPairing::TutorAgain { pupil } => {
                self.only(Role::Parent)?;
                self.books(pupil)?;
                Invite::TutorAgain { pupil }
            }
        };
        let about = self.about(Some(invite))?;
        let offer = self.node().await?.offer(about).map_err(problem::pair)?;
        let offered = offered(&offer, self.now())?;
        let app = self.clone();
        let task = tokio::spawn(async move {
            let stage = match offer.joined().await {
                Ok(pairing) => Stage::Compare {
                    pairing: Box::new(pairing),
                    part: Part::Offering(Invited(invite)),
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
    /// The text or the key on paper has a slip, or the other device is out of reach or refuses.
    pub async fn join_pairing(&self, input: JoinPairing) -> Result<PairingState, Problem> {
        self.settled()?;
        let code: PairingCode = input.code.parse().map_err(|error| problem::code(&error))?;
        let paper = input.paper_key.filter(|text| !text.trim().is_empty());
        let paper = paper.as_deref().map(read_paper_key).transpose()?;
        let about = self.about(None)?;
        let pairing = self
            .node()
            .await?
            .join(&code, about)
            .await
            .map_err(problem::pair)?;
        self.pairing_is(Stage::Compare {
            pairing: Box::new(pairing),
            part: Part::Joining(paper.map(Box::new)),
        });
        self.pairing(Nothing {})
    }

    /// Says whether both devices show the same words.
    ///
    /// # Errors
    /// No words are shown.
    pub async fn confirm_pairing(&self, input: ConfirmPairing) -> Result<PairingState, Problem> {
        let mut slot = locked(&self.inner.pairing);
        let (pairing, part) = match std::mem::replace(&mut *slot, Stage::Idle) {
            Stage::Compare { pairing, part } => (pairing, part),
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
            let task = tokio::spawn(async move { app.finish(*pairing, part).await });
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

    async fn finish(&self, pairing: Pairing, part: Part) {
        let joining = matches!(part, Part::Joining(_));
        let stage = match pairing.confirm().await {
            Ok(paired) => match self.welcome(paired, part).await {
                Ok(device) => Stage::Done { device },
                Err(problem) => Stage::Failed { problem },
            },
            Err(error) => Stage::Failed {
                problem: problem::pair(error),
            },
        };
        let joined = match &stage {
            Stage::Done { device } if joining => Some(device.device),
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
    async fn welcome(&self, paired: Paired, part: Part) -> Result<DeviceRow, Problem> {
        let unreadable = || {
            problem::pair(PairError::Malformed {
                what: "its introduction",
            })
        };
        let about: About = serde_json::from_slice(&paired.about).map_err(|_| unreadable())?;
        let name = short_text(&about.name, "a name for the other device")?;
        let device = paired.peer;
        let (mine, theirs) = (self.settled()?.role, about.role);
        let invite = match &part {
            Part::Offering(Invited(invite)) => Some(*invite),
            Part::Joining(_) => about.invite,
        };
        // Before anything is written, for else the one would take the other in alone.
        if let Some(Invite::OwnDevice { practice }) = invite {
            let mine = self.practice_circle().map(|(id, _)| id);
            if [mine, about.practice]
                .into_iter()
                .flatten()
                .any(|id| id != practice)
            {
                return Err(problem::two_practices());
            }
        }
        let pupils: Vec<PupilId> = match invite {
            Some(Invite::Family { pupil } | Invite::TutorAgain { pupil }) => vec![pupil],
            _ => Vec::new(),
        };
        // A device that is let in again is known by its new pairing alone.
        self.note_peer(device, |peer| {
            peer.name.clone_from(&name);
            peer.role = theirs;
            peer.addresses.clone_from(&paired.addrs);
            for pupil in &pupils {
                if !peer.pupils.contains(pupil) {
                    peer.pupils.push(*pupil);
                }
            }
        })?;
        match (part, invite, mine, theirs) {
            (Part::Offering(_), Some(Invite::Family { pupil }), Role::Tutor, Role::Parent) => {
                self.admit_family(pupil, device, &name)?;
            }
            (Part::Joining(_), Some(Invite::Family { pupil }), Role::Parent, Role::Tutor) => {
                self.expect(pupil)?;
            }
            (Part::Offering(_), Some(Invite::OwnDevice { .. }), Role::Tutor, Role::Tutor) => {
                self.admit_tutors(device, &name)?;
            }
            (Part::Joining(_), Some(Invite::OwnDevice { practice }), Role::Tutor, Role::Tutor) => {
                self.join_practice(practice)?;
                self.note_peer(device, |peer| peer.pupils.push(practice))?;
            }
            // The log that the new device is to write in comes first.
            (Part::Offering(_), Some(Invite::TutorAgain { .. }), Role::Parent, Role::Tutor) => {}
            (
                Part::Joining(Some(paper)),
                Some(Invite::TutorAgain { pupil }),
                Role::Tutor,
                Role::Parent,
            ) => {
                self.expect(pupil)?;
                self.fetch_books(Some(device)).await;
                self.come_back(pupil, &paper)?;
            }
            _ => {
                self.change_peers(|peers| peers.retain(|peer| peer.device != device))?;
                return Err(problem::pairing_does_not_fit());
            }
        }
        let devices = self.devices(Nothing {})?.devices;
        let row = devices.into_iter().find(|row| row.device == device);
        row.ok_or_else(problem::no_such_device)
    }

    fn about(&self, invite: Option<Invite>) -> Result<Vec<u8>, Problem> {
        let settled = self.settled()?;
        let about = About {
            name: settled.name,
            role: settled.role,
            invite,
            practice: self.practice_circle().map(|(id, _)| id),
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
    let qr_svg = qr_svg(&code, EcLevel::M)?;
    Ok(Offered {
        code,
        qr_svg,
        expires_at: Moment(now.0 + STANDS_FOR),
    })
}

/// A text as a QR picture.
pub(crate) fn qr_svg(text: &str, level: EcLevel) -> Result<String, Problem> {
    let picture = QrCode::with_error_correction_level(text, level).map_err(|_| {
        Problem::new(
            "no-picture",
            "The text is too long for a picture.",
            "Type the text instead.",
        )
    })?;
    let mut svg = picture.render::<svg::Color<'_>>();
    Ok(svg.min_dimensions(240, 240).build())
}
