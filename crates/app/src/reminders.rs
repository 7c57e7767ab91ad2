//! A reminder for the weekly page, shown by the system where the program around this one can.

use std::sync::atomic::Ordering;

use units::{Day, Lesson, Problem, Role, Weekday};

use crate::App;
use crate::api::{Nothing, ReminderView, SetReminder};
use crate::device::read_setting;

const REMINDER: &str = "device/reminder";
/// The day on which it was last shown.
const SHOWN: &str = "device/reminded";

impl App {
    /// When this device reminds of the weekly page, if it does.
    ///
    /// # Errors
    /// The data folder cannot be read.
    pub fn reminder(&self, _: Nothing) -> Result<ReminderView, Problem> {
        Ok(ReminderView {
            at: read_setting(&self.inner.store, REMINDER)?.flatten(),
            possible: self.inner.reminds.load(Ordering::Relaxed),
        })
    }

    /// Sets when this device reminds of the weekly page, or that it does not.
    ///
    /// # Errors
    /// The time is none, or the disk is full.
    pub fn set_reminder(&self, input: SetReminder) -> Result<Nothing, Problem> {
        if input.at.is_some_and(|at| at.minute >= Lesson::DAY) {
            return Err(Problem::new(
                "no-such-time",
                "This is no time of a day.",
                "Choose a time between 00:00 and 23:59.",
            ));
        }
        self.write_setting(REMINDER, &input.at)?;
        Ok(Nothing {})
    }

    /// Says that the program around this one can show what the system calls a notification.
    pub fn can_remind(&self) {
        self.inner.reminds.store(true, Ordering::Relaxed);
    }

    /// Whether it is time to remind, by the clock on the wall; true once on that day, and only while no
    /// page of that week is here.
    ///
    /// # Errors
    /// The data folder cannot be read.
    pub fn is_time_to_remind(&self, day: Day, minute: u16) -> Result<bool, Problem> {
        if self.settled()?.role != Role::Parent {
            return Ok(false);
        }
        let store = &self.inner.store;
        let at: Option<Lesson> = read_setting(store, REMINDER)?.flatten();
        let shown: Option<Day> = read_setting(store, SHOWN)?;
        let due = |at: &Lesson| at.weekday == day.weekday() && at.minute <= minute;
        if !at.as_ref().is_some_and(due) || shown == Some(day) {
            return Ok(false);
        }
        self.write_setting(SHOWN, &day)?;
        let monday = Day(day.0 - day.weekday() as i32 + Weekday::Monday as i32);
        let mut waits = false;
        for pupil in self.pupil_ids()? {
            let pages = &self.books(pupil)?.pages;
            waits |= !pages.iter().any(|page| page.written_on >= monday);
        }
        Ok(waits)
    }
}
