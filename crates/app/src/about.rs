//! Which letter of a reading an amendment is about: that of its character which lies in its place.

use units::{Amendment, BoxMm, Letter, Reading};

/// The place and the character that an amendment names; `None` where it is about no letter.
pub(crate) fn named(amendment: &Amendment) -> Option<(&BoxMm, char)> {
    match amendment {
        Amendment::Letter { at, letter, .. }
        | Amendment::Fault { at, letter, .. }
        | Amendment::Reads { at, letter, .. }
        | Amendment::Join { at, letter, .. } => Some((at, *letter)),
        Amendment::Correction { .. } | Amendment::NotWriting { .. } | Amendment::Line { .. } => {
            None
        }
    }
}

/// The letter of that character in that place, and its index.
pub(crate) fn letter_at<'r>(
    reading: &'r Reading,
    at: &BoxMm,
    letter: char,
) -> Option<(usize, &'r Letter)> {
    let all = reading.letters.iter().enumerate();
    let there = all.filter(|(_, one)| one.char == Some(letter) && one.bounds.is_same_place(at));
    there.max_by(|(_, a), (_, b)| {
        let shared = |one: &Letter| one.bounds.overlap(at).0;
        shared(a).total_cmp(&shared(b))
    })
}
