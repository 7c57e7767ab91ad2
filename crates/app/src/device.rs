//! This device: its data folder, its key, whose it is.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::AtomicBool;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{SystemTime, UNIX_EPOCH};

use casefile::Signer;
use serde::{Deserialize, Serialize};
use store::Store;
use tokio::sync::broadcast;
use units::{BlobId, Day, DeviceId, Moment, Problem, Role};

use crate::api::{Event, Nothing, Overview, Settle, ThisDevice};
use crate::cases::Cases;
use crate::crops::Cut;
use crate::pairing::Stage;
use crate::peers::Peer;
use crate::problem;
use crate::staging::Seen;

/// Fills in random bytes. Handed in, so that a check can be run again the same.
pub type Chance = Arc<dyn Fn(&mut [u8]) -> Result<(), Problem> + Send + Sync>;

/// Tells the time. Handed in, so that a year can pass in a test.
pub type Clock = Arc<dyn Fn() -> Moment + Send + Sync>;

pub(crate) const SECRET: &str = "device/secret";
pub(crate) const SETTLED: &str = "device/settled";
/// The key of the device that a backup was made on, kept to introduce the new one. Under names that go on
/// from this one, those of the devices before that one, as long as nobody has met it.
pub(crate) const BEFORE: &str = "device/before";
const NETWORK: &str = "device/network";
const RELAY: &str = "device/relay";
const LONGEST_NAME: usize = 60;

/// One device's data folder, open. Cheap to clone; all clones are the same device.
#[derive(Clone)]
pub struct App {
    pub(crate) inner: Arc<Inner>,
}

pub(crate) struct Inner {
    pub store: Store,
    pub clock: Clock,
    pub chance: Chance,
    pub secret: [u8; 32],
    pub signer: Signer,
    pub settled: Mutex<Option<Settled>>,
    pub cases: Mutex<Cases>,
    pub peers: Mutex<Vec<Peer>>,
    /// What was seen in photographs that wait, by their handles. Whoever puts something in holds the cases, so
    /// that nothing is left in memory of a photograph that was let go of meanwhile.
    pub looked: Mutex<BTreeMap<String, Seen>>,
    /// Held while a kept page is measured again.
    pub rereading: Mutex<()>,
    /// Held while a draft is kept.
    pub drafting: Mutex<()>,
    /// Whether the program around this one can show the system's notifications.
    pub reminds: AtomicBool,
    /// Ends the meetings that run.
    pub stopping: tokio::sync::Notify,
    /// Held while a notice is added.
    pub noticing: Mutex<()>,
    /// Held while the disk is cleaned of what was let go: for what the store last got a new key.
    pub sweeping: Mutex<crate::cases::Owed>,
    /// Blobs whose file was found damaged, until they have come again.
    pub damaged: Mutex<BTreeSet<BlobId>>,
    /// The page picture that was last cut from.
    pub cut: Mutex<Option<Cut>>,
    /// Page pictures made small.
    pub thumbs: Mutex<BTreeMap<BlobId, Vec<u8>>>,
    pub node: tokio::sync::Mutex<Option<Arc<sync::Node>>>,
    pub pairing: Mutex<Stage>,
    pub events: broadcast::Sender<Event>,
}

/// Whose device this is, once said.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "camelCase")]
pub(crate) struct Settled {
    pub role: Role,
    pub name: String,
}

/// A lock whose holder panicked still guards whole data: every writer replaces
/// values, none leaves them half done.
pub(crate) fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Random bytes from the system, for ids and secrets.
///
/// # Errors
/// The system gives none.
pub fn random<const N: usize>() -> Result<[u8; N], Problem> {
    let mut bytes = [0; N];
    system_chance(&mut bytes)?;
    Ok(bytes)
}

pub(crate) fn system_chance(bytes: &mut [u8]) -> Result<(), Problem> {
    getrandom::fill(bytes).map_err(|error| {
        Problem::new(
            "no-randomness",
            format!("The system gave no random numbers ({error})."),
            "Restart the device, and try again.",
        )
    })
}

pub(crate) fn system_clock() -> Moment {
    let since = SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .unwrap_or_default();
    Moment(i64::try_from(since.as_millis()).unwrap_or(i64::MAX))
}

impl App {
    /// Events from now on.
    pub fn events(&self) -> broadcast::Receiver<Event> {
        self.inner.events.subscribe()
    }

    /// What this device is.
    ///
    /// # Errors
    /// The data folder cannot be read.
    pub fn overview(&self, _: Nothing) -> Result<Overview, Problem> {
        let settled = locked(&self.inner.settled).clone();
        Ok(Overview {
            device: settled.map(|Settled { role, name }| ThisDevice {
                id: self.id(),
                role,
                name,
            }),
            network: self.network()?,
            relay: self.relay()?,
            addresses: self.addresses(),
            opened_by: self.opened_by(),
            paper_key: match locked(&self.inner.settled).as_ref().map(|it| it.role) {
                Some(Role::Tutor) => {
                    let log = self.practice_circle().and_then(|(_, log)| log);
                    Some(log.is_some_and(|log| !log.paper.is_empty()))
                }
                _ => None,
            },
            version: env!("CARGO_PKG_VERSION").to_owned(),
        })
    }

    /// Settles at first start whose device this is.
    ///
    /// # Errors
    /// The name is empty or too long, or the role was settled otherwise before:
    /// what a device has signed stays signed in its role.
    pub fn settle(&self, input: Settle) -> Result<Overview, Problem> {
        let name = short_text(&input.name, "a name for this device")?;
        {
            let mut settled = locked(&self.inner.settled);
            if settled
                .as_ref()
                .is_some_and(|before| before.role != input.role)
            {
                return Err(Problem::new(
                    "already-settled",
                    "This device is already set up for the other side.",
                    "Use another data folder for the other side.",
                ));
            }
            let new = Settled {
                role: input.role,
                name,
            };
            self.write_setting(SETTLED, &new)?;
            *settled = Some(new);
        }
        self.tell(Event::Changed { pupil: None });
        self.overview(Nothing {})
    }

    pub(crate) fn id(&self) -> DeviceId {
        self.inner.signer.device()
    }

    /// Random bytes for ids and secrets.
    pub(crate) fn random<const N: usize>(&self) -> Result<[u8; N], Problem> {
        let mut bytes = [0; N];
        (self.inner.chance)(&mut bytes)?;
        Ok(bytes)
    }

    pub(crate) fn now(&self) -> Moment {
        (self.inner.clock)()
    }

    pub(crate) fn today(&self) -> Day {
        self.now().day()
    }

    pub(crate) fn tell(&self, event: Event) {
        // Nobody listening is no failure: a command has no screen.
        let _ = self.inner.events.send(event);
    }

    pub(crate) fn settled(&self) -> Result<Settled, Problem> {
        locked(&self.inner.settled).clone().ok_or_else(|| {
            Problem::new(
                "not-settled",
                "This device has not been set up yet.",
                "Say first whose device it is: the tutor's or a parent's.",
            )
        })
    }

    pub(crate) fn only(&self, role: Role) -> Result<(), Problem> {
        if self.settled()?.role == role {
            return Ok(());
        }
        let whose = match role {
            Role::Tutor => "the tutor's",
            Role::Parent => "a parent's",
        };
        Err(Problem::new(
            "other-side",
            format!("Only {whose} device can do this."),
            "Do it on that device; the change comes here when the two meet.",
        ))
    }

    pub(crate) fn relay(&self) -> Result<Option<String>, Problem> {
        Ok(read_setting(&self.inner.store, RELAY)?.flatten())
    }

    pub(crate) fn remember_relay(&self, relay: Option<&str>) -> Result<(), Problem> {
        self.write_setting(RELAY, &relay)
    }

    pub(crate) fn network(&self) -> Result<bool, Problem> {
        Ok(read_setting(&self.inner.store, NETWORK)?.unwrap_or(false))
    }

    pub(crate) fn remember_network(&self, on: bool) -> Result<(), Problem> {
        self.write_setting(NETWORK, &on)
    }

    pub(crate) fn write_setting(&self, name: &str, value: &impl Serialize) -> Result<(), Problem> {
        let bytes = serde_json::to_vec(value).expect("settings are plain data");
        self.inner
            .store
            .set_setting(name, &bytes)
            .map_err(problem::store)
    }
}

pub(crate) fn read_setting<T: for<'de> Deserialize<'de>>(
    store: &Store,
    name: &str,
) -> Result<Option<T>, Problem> {
    store
        .setting(name)
        .map_err(problem::store)?
        .map(|bytes| serde_json::from_slice(&bytes).map_err(|_| problem::damaged(name)))
        .transpose()
}

/// A name or the like: trimmed, not empty, at most 60 characters.
pub(crate) fn short_text(text: &str, what: &str) -> Result<String, Problem> {
    let text = text.trim();
    if text.is_empty() {
        return Err(Problem::new(
            "text-missing",
            format!("There is no {}.", what.trim_start_matches("a ")),
            format!("Enter {what}."),
        ));
    }
    if text.chars().count() > LONGEST_NAME {
        return Err(Problem::new(
            "text-too-long",
            format!("This is too long for {what}."),
            format!("Use at most {LONGEST_NAME} characters."),
        ));
    }
    Ok(text.to_owned())
}
