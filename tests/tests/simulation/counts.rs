//! How much happened, so that nobody takes an empty run for a good one.

use std::fmt;
use std::ops::AddAssign;

macro_rules! counts {
    ($($name:ident),*) => {
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
        pub struct Counts {
            $(pub $name: u64,)*
        }

        impl AddAssign for Counts {
            fn add_assign(&mut self, more: Self) {
                $(self.$name += more.$name;)*
            }
        }
    };
}

counts!(
    schedules,
    edits,
    perhaps,
    refused_by_full_disk,
    meetings,
    broken_meetings,
    changes_moved,
    blobs_moved,
    edits_in_meetings,
    power_cuts,
    cuts_while_starting,
    foundings,
    forgotten,
    erased,
    files_made,
    files_taken,
    files_waiting,
    files_refused,
    files_damaged,
    removals,
    new_phones,
    jumps,
    rounds_to_level
);

impl fmt::Display for Counts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} schedules: {} edits ({} of them cut short, {} refused by a full disk, {} in the midst of a \
             meeting), {} meetings ({} broken off) that moved {} changes and {} blobs, {} power cuts ({} \
             while starting), {} foundings, {} pages forgotten, {} pupils erased, {} carry files made ({} \
             taken, {} waited, {} refused, {} damaged), {} removals, {} new phones, {} jumps of a clock, \
             {} rounds to come level",
            self.schedules,
            self.edits,
            self.perhaps,
            self.refused_by_full_disk,
            self.edits_in_meetings,
            self.meetings,
            self.broken_meetings,
            self.changes_moved,
            self.blobs_moved,
            self.power_cuts,
            self.cuts_while_starting,
            self.foundings,
            self.forgotten,
            self.erased,
            self.files_made,
            self.files_taken,
            self.files_waiting,
            self.files_refused,
            self.files_damaged,
            self.removals,
            self.new_phones,
            self.jumps,
            self.rounds_to_level,
        )
    }
}
