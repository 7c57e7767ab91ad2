//! Tall letters that do not clear the short ones, and tails that do not cross the line.

use units::{LetterClass, LetterForm};

use super::Of;

/// Share of what its model has a tall letter rise above the short ones, or a tail fall below the line,
/// that it must at least.
const SHARE: f64 = 0.2;

/// Height of a tall letter that does not clear the short ones, in x-heights.
pub(super) fn not_tall(of: Of<'_>, form: &LetterForm) -> Option<f64> {
    let (top, bottom) = of.evidence.rows(of.glyph);
    // It stands on its own foot, not on the line's mean.
    let high = (bottom - top) / of.x_height;
    let least = 1.0 + SHARE * (form.above.0 - 1.0);
    (form.class == LetterClass::Tall && high < least).then_some(high)
}

/// Depth of a tail that does not cross the line, in x-heights.
pub(super) fn not_below(of: Of<'_>, form: &LetterForm) -> Option<f64> {
    let bottom = of.evidence.rows(of.glyph).1;
    let low = (bottom - of.evidence.lines[of.glyph.line].base_at(of.middle())) / of.x_height;
    let least = SHARE * form.below.0;
    (form.class == LetterClass::Tail && low < least).then_some(low.max(0.0))
}
