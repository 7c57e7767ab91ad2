//! What people should hear of that happened while nobody looked, and what was refused, kept apart.

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use casefile::{Refused, SignedChange};
use serde::{Deserialize, Serialize};
use units::{DeviceId, Moment, Problem};

use crate::App;
use crate::api::{Event, Nothing, Notice, NoticeList, NoticeRow};
use crate::device::read_setting;

const NOTICES: &str = "notices";
const MOST_NOTICES: usize = 50;
/// Changes that were refused, the newest last, for whoever looks into it.
const APART: &str = "apart";
const MOST_APART: usize = 64;
const LARGEST_APART: usize = 2 << 10;

#[derive(Serialize, Deserialize)]
struct Apart {
    from: DeviceId,
    author: DeviceId,
    at: Moment,
    why: String,
    /// The first bytes of the change as it came, base64.
    bytes: String,
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

    /// Keeps refused changes apart, and says so.
    pub(crate) fn set_apart(
        &self,
        from: DeviceId,
        refused: &[(&SignedChange, Refused)],
    ) -> Result<(), Problem> {
        let Some((first, _)) = refused.first() else {
            return Ok(());
        };
        let mut apart: Vec<Apart> = read_setting(&self.inner.store, APART)?.unwrap_or_default();
        let known = |change: &SignedChange, apart: &[Apart]| {
            let bytes = begun(change);
            apart.iter().any(|kept| kept.bytes == bytes)
        };
        let mut new = 0;
        for (change, why) in refused {
            // Brought again at every meeting, it is told once.
            if known(change, &apart) {
                continue;
            }
            new += 1;
            apart.push(Apart {
                from,
                author: change.doc.author,
                at: self.now(),
                why: why.to_string(),
                bytes: begun(change),
            });
        }
        if new == 0 {
            return Ok(());
        }
        let over = apart.len().saturating_sub(MOST_APART);
        apart.drain(..over);
        self.write_setting(APART, &apart)?;
        self.notice(Notice::Refused {
            from,
            author: first.doc.author,
            changes: new,
        })
    }
}

fn begun(change: &SignedChange) -> String {
    let mut bytes = change.encode();
    bytes.truncate(LARGEST_APART);
    BASE64_STANDARD.encode(bytes)
}
