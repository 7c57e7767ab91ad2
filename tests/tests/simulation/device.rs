//! One device of a schedule: its folder, its clock, its chances, its disk, and the program on it.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use app::api::Nothing;
use app::units::{DeviceId, Moment, Problem, Role};
use app::{App, Opening};
use pothook_tests::opener;

use crate::dice::Dice;
use crate::plug::{Lie, Plug};

/// Monday 4 March 2024, in the afternoon.
const BEGINS: i64 = 1_709_564_400_000;
/// The years of a jumping clock: 1990 to 2090, about.
const CLOCKS: std::ops::RangeInclusive<i64> = 631_152_000_000..=3_786_912_000_000;

pub struct Device {
    pub name: &'static str,
    pub role: Role,
    pub folder: PathBuf,
    pub id: DeviceId,
    pub plug: Arc<Plug>,
    clock: Arc<AtomicI64>,
    chance: Arc<Mutex<Dice>>,
    app: Option<App>,
}

impl Device {
    /// Opens the device in a folder; `seed` is where the bytes of its ids come from at first.
    pub fn open(
        name: &'static str,
        role: Role,
        folder: &Path,
        seed: u64,
        lie: Lie,
    ) -> Result<Self, Problem> {
        let mut device = Self {
            name,
            role,
            folder: folder.to_owned(),
            id: DeviceId([0; 32]),
            plug: Arc::new(Plug::new(folder, lie)),
            clock: Arc::new(AtomicI64::new(BEGINS)),
            chance: Arc::new(Mutex::new(Dice::new(seed))),
            app: None,
        };
        device.switch_on()?;
        let told = device.app().overview(Nothing {})?.device;
        device.id = told.map_or(device.id, |told| told.id);
        Ok(device)
    }

    pub fn app(&self) -> &App {
        self.app.as_ref().expect("the device is on")
    }

    /// Ends the program as a person does.
    pub fn switch_off(&mut self) {
        self.app = None;
    }

    /// Starts the program; first, what a cut left takes the place of the folder.
    pub fn switch_on(&mut self) -> Result<(), Problem> {
        self.app = None;
        self.plug.restore();
        let (clock, chance) = (Arc::clone(&self.clock), Arc::clone(&self.chance));
        let mut opening = Opening::new(&self.folder, opener());
        opening.clock = Arc::new(move || Moment(clock.fetch_add(7, Ordering::Relaxed)));
        opening.chance = Arc::new(move |bytes| {
            let mut dice = chance.lock().unwrap_or_else(PoisonError::into_inner);
            dice.fill(bytes);
            Ok(())
        });
        opening.around.disk = Arc::clone(&self.plug) as Arc<dyn store::Disk>;
        self.app = Some(open_when_free(opening)?);
        Ok(())
    }

    /// Where the bytes of ids come from, from now on.
    pub fn chances(&self, seed: u64) {
        let mut dice = self.chance.lock().unwrap_or_else(PoisonError::into_inner);
        *dice = Dice::new(seed);
    }

    pub fn jump(&self, milliseconds: i64) {
        let now = self.clock.load(Ordering::Relaxed);
        let then = now.saturating_add(milliseconds);
        let then = then.clamp(*CLOCKS.start(), *CLOCKS.end());
        self.clock.store(then, Ordering::Relaxed);
    }
}

/// A program that another test starts holds every lock of this one between its fork and its own
/// beginning; so a lock is asked for again.
fn open_when_free(opening: Opening) -> Result<App, Problem> {
    let again = |opening: &Opening| Opening {
        folder: opening.folder.clone(),
        opener: opener(),
        clock: opening.clock.clone(),
        chance: opening.chance.clone(),
        around: opening.around.clone(),
    };
    for _ in 0..100 {
        match App::open_with(again(&opening)) {
            Err(problem) if problem.code == "data-in-use" => {
                std::thread::sleep(Duration::from_millis(20));
            }
            answer => return answer,
        }
    }
    App::open_with(opening)
}
