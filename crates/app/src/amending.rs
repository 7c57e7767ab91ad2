//! What a person puts right on a page; the page is measured again with it.

use casefile::Edit;
use units::{
    Amendment, AmendmentId, AmendmentRecord, BoxMm, Moment, Problem, Reading, Role, Skipped,
};

use crate::App;
use crate::about::{letter_at, named};
use crate::api::{Amend, Amended, Nothing, TakeBack};
use crate::instances::XHeights;

/// Most that is put right on one page: each makes a reading of the whole page, which is kept.
const MOST_OF_PAGE: usize = 400;

impl App {
    /// Puts something right on a page. It is kept together with the new reading.
    ///
    /// # Errors
    /// This is not the tutor's device, there is no such page, its picture is not here yet, the newest
    /// reading has no such letter there, the place is none on a page, too much was put right on it
    /// already, or the disk is full.
    pub fn amend(&self, input: Amend) -> Result<Amended, Problem> {
        self.only(Role::Tutor)?;
        let amendment = AmendmentId(self.random()?);
        self.reread(input.pupil, input.page, |page, put_right| {
            room_for_one_more(put_right)?;
            // Without a reading the page is not here as a whole, and is refused for that.
            if let Some(reading) = self.newest_reading(input.pupil, page)? {
                letter_is_there(&reading, &input.what)?;
            }
            let record = AmendmentRecord {
                id: amendment,
                page: input.page,
                what: input.what,
                made_at: after_all(put_right, self.now()),
                by: self.id(),
            };
            put_right.push(record.clone());
            Ok(vec![Edit::Amend(record)])
        })?;
        Ok(Amended { amendment })
    }

    /// Takes back what was put right.
    ///
    /// # Errors
    /// This is not the tutor's device, nothing of this id was put right on the page, its picture is
    /// not here yet, or the disk is full.
    pub fn take_back(&self, input: TakeBack) -> Result<Nothing, Problem> {
        self.only(Role::Tutor)?;
        self.reread(input.pupil, input.page, |_, put_right| {
            let all = put_right.len();
            put_right.retain(|known| known.id != input.amendment);
            if put_right.len() == all {
                return Err(Problem::new(
                    "no-such-amendment",
                    "This is not among what was put right on this page.",
                    "Open the page again: it may have been taken back on another device.",
                ));
            }
            Ok(vec![Edit::TakeBack(input.amendment)])
        })
    }
}

fn room_for_one_more(before: &[AmendmentRecord]) -> Result<(), Problem> {
    if before.len() < MOST_OF_PAGE {
        return Ok(());
    }
    Err(Problem::new(
        "too-many-amendments",
        format!("{MOST_OF_PAGE} things are put right on this page already: it can keep no more."),
        "Take back what is no longer needed. If most letters are wrong, check the text of the page.",
    ))
}

/// What is put right about a letter that nobody sees would be kept, and do nothing.
fn letter_is_there(reading: &Reading, what: &Amendment) -> Result<(), Problem> {
    let Some((at, letter)) = named(what) else {
        return Ok(());
    };
    let Some(text) = &reading.text else {
        return Err(Problem::new(
            "no-such-letter",
            "The text of this page is not known, so none of its letters is.",
            "Type what stands on the page; then its letters can be put right.",
        ));
    };
    let drawn = matches!(
        what,
        Amendment::Letter {
            bounds: Some(_),
            ..
        }
    );
    let heights = XHeights::of(reading);
    let expected = |skipped: &Skipped| {
        let near = heights.of_line(skipped.line) * Amendment::NEAR;
        skipped.letter == letter && within(&skipped.at, at, near.0)
    };
    if letter_at(reading, at, letter).is_some() || (drawn && text.skipped.iter().any(expected)) {
        return Ok(());
    }
    Err(Problem::new(
        "no-such-letter",
        format!("This page has no letter {letter} in this place."),
        "Open the page again: it may have been measured anew. \
         Where a letter was missed, choose it from the missing ones and draw the box over its ink.",
    ))
}

/// Whether two boxes overlap, or lie no farther than this from each other.
fn within(a: &BoxMm, b: &BoxMm, near: f64) -> bool {
    let across = (a.x0.0 - b.x1.0).max(b.x0.0 - a.x1.0).max(0.0);
    let down = (a.y0.0 - b.y1.0).max(b.y0.0 - a.y1.0).max(0.0);
    across.hypot(down) <= near
}

/// Now, but after all that was put right before: of two about the same the later holds, and the
/// clocks of two devices need not agree.
fn after_all(before: &[AmendmentRecord], now: Moment) -> Moment {
    let last = before.iter().map(|known| known.made_at.0).max();
    Moment(last.map_or(now.0, |last| now.0.max(last.saturating_add(1))))
}

#[cfg(test)]
mod tests {
    use units::{DeviceId, Mm, PageId};

    use super::*;

    fn place(x0: f64, y0: f64, x1: f64, y1: f64) -> BoxMm {
        BoxMm {
            x0: Mm(x0),
            y0: Mm(y0),
            x1: Mm(x1),
            y1: Mm(y1),
        }
    }

    #[test]
    fn a_page_keeps_four_hundred_and_no_more() {
        let record = |number: u8| AmendmentRecord {
            id: AmendmentId([number; 16]),
            page: PageId([1; 16]),
            what: Amendment::Correction {
                at: place(1.0, 1.0, 2.0, 2.0),
                kind: None,
            },
            made_at: Moment(0),
            by: DeviceId([2; 32]),
        };
        let mut before: Vec<_> = (0..399_u16).map(|n| record((n % 256) as u8)).collect();
        assert_eq!(room_for_one_more(&before), Ok(()));
        before.push(record(9));
        let refused = room_for_one_more(&before).unwrap_err();
        assert_eq!(refused.code, "too-many-amendments");
        assert!(refused.message.contains("400"), "{refused}");
    }

    #[test]
    fn boxes_are_near_by_the_white_between_them() {
        let a = place(0.0, 0.0, 2.0, 2.0);
        assert!(within(&a, &place(1.0, 1.0, 9.0, 9.0), 0.0), "they overlap");
        let aslant = place(5.0, 6.0, 6.0, 7.0);
        assert!(within(&a, &aslant, 5.0) && within(&aslant, &a, 5.0));
        assert!(!within(&a, &aslant, 4.9) && !within(&aslant, &a, 4.9));
        let nowhere = place(f64::NAN, 0.0, f64::INFINITY, 2.0);
        assert!(!within(&a, &nowhere, f64::NAN));
    }
}
