//! What people should hear of that happened while nobody looked, and that something was refused.

use casefile::{Refused, SignedChange};
use serde::{Deserialize, Serialize};
use units::{DeviceId, Moment, Problem};

use crate::App;
use crate::api::{Event, Nothing, Notice, NoticeList, NoticeRow};
use crate::device::read_setting;

const NOTICES: &str = "notices";
const MOST_NOTICES: usize = 50;
/// Changes that were refused, the newest last, for whoever looks into it: not what was in them, which may
/// be forgotten one day.
const REFUSED: &str = "refused";
/// Most of them, and most that one device brought. Beyond that nothing more of that device is noted or told: it
/// has been told often enough, and it must not push out what is to be heard of others.
const MOST_REFUSED: usize = 256;
const MOST_REFUSED_OF_ONE: usize = 16;

#[derive(Serialize, Deserialize)]
struct Kept {
    from: DeviceId,
    author: DeviceId,
    at: Moment,
    why: String,
    /// BLAKE3 of the change as it came.
    hash: [u8; 32],
}

impl App {
    /// What happened while nobody looked, the newest first.
    ///
    /// # Errors
    /// The data folder cannot be read.
    pub fn notices(&self, _: Nothing) -> Result<NoticeList, Problem> {
        let mut notices: Vec<NoticeRow> =
            read_setting(&self.inner.store, NOTICES)?.unwrap_or_default();
        notices.reverse();
        Ok(NoticeList { notices })
    }

    /// Puts all notices away.
    ///
    /// # Errors
    /// The disk is full.
    pub fn clear_notices(&self, _: Nothing) -> Result<Nothing, Problem> {
        self.write_setting(NOTICES, &Vec::<NoticeRow>::new())?;
        self.tell(Event::Changed { pupil: None });
        Ok(Nothing {})
    }

    pub(crate) fn notice(&self, notice: Notice) -> Result<(), Problem> {
        let _turn = crate::device::locked(&self.inner.noticing);
        let mut notices: Vec<NoticeRow> =
            read_setting(&self.inner.store, NOTICES)?.unwrap_or_default();
        let at = self.now();
        notices.push(NoticeRow { at, notice });
        let over = notices.len().saturating_sub(MOST_NOTICES);
        notices.drain(..over);
        self.write_setting(NOTICES, &notices)?;
        self.tell(Event::Changed { pupil: None });
        Ok(())
    }

    /// Tells what is so each time anew, but not twice in a row.
    pub(crate) fn notice_once(&self, notice: Notice) -> Result<(), Problem> {
        let told: Vec<NoticeRow> = read_setting(&self.inner.store, NOTICES)?.unwrap_or_default();
        match told.last().is_some_and(|last| last.notice == notice) {
            true => Ok(()),
            false => self.notice(notice),
        }
    }

    /// Notes that changes were refused, and says so.
    pub(crate) fn set_apart(
        &self,
        from: DeviceId,
        refused: &[(&SignedChange, Refused)],
    ) -> Result<(), Problem> {
        let Some((first, _)) = refused.first() else {
            return Ok(());
        };
        let mut kept: Vec<Kept> = read_setting(&self.inner.store, REFUSED)?.unwrap_or_default();
        let mut new = 0;
        let mut room = MOST_REFUSED_OF_ONE;
        room = room.saturating_sub(kept.iter().filter(|known| known.from == from).count());
        if room == 0 {
            return Ok(());
        }
        for (change, why) in refused {
            let hash = *blake3::hash(&change.encode()).as_bytes();
            // Brought again at every meeting, it is told once.
            if kept.iter().any(|known| known.hash == hash) {
                continue;
            }
            new += 1;
            if room == 0 {
                continue;
            }
            room -= 1;
            kept.push(Kept {
                from,
                author: change.doc.author,
                at: self.now(),
                why: why.to_string(),
                hash,
            });
        }
        if new == 0 {
            return Ok(());
        }
        let over = kept.len().saturating_sub(MOST_REFUSED);
        kept.drain(..over);
        self.write_setting(REFUSED, &kept)?;
        self.notice(Notice::Refused {
            from,
            author: first.doc.author,
            changes: new,
        })
    }
}
