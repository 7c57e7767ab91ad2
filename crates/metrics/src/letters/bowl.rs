//! Whether a letter's bowl is closed: how dark its ring is at the lightest place.
//!
//! Ink that is darker than a limit encloses white or does not. The darkest limit at which it does is
//! the lightest place of the ring: a ring that is whole stays closed up to the darkness of its
//! strokes, one with a gap closes only where blur has laid a little grey over the gap.

use units::{LetterForm, Storeys};

use crate::aspects::Evidence;
use crate::letters::Glyph;
use crate::letters::darkness::Darkness;

/// Letters whose bowl is closed in every hand that is taught.
const BOWLED: &str = "adgoq";
/// Less than this a gap is.
const OPEN: f64 = 0.3;
/// A bowl's foot is closed up to this height, in x-heights.
const FOOT: f64 = 0.2;
/// White of a bowl reaches above this, in x-heights; what a hook at the foot encloses does not.
const REACHES: f64 = 0.45;
/// The bowl of a two-storey a is its lower storey.
const REACHES_TWO: f64 = 0.25;
/// White of a bowl, at least, as a share of a square of the x-height …
const LEAST_WHITE: f64 = 0.02;
/// … and in pixels.
const LEAST_PIXELS: f64 = 4.0;
/// Limits that are tried.
const STEPS: u32 = 20;

/// Whether the bowl is open, and how dark its ring is at the lightest place, as a share of the
/// darkness of the letter's strokes; `None` for a letter without a bowl, and where no white is seen.
#[tracing::instrument(level = "trace", name = "bowl", skip_all)]
pub(crate) fn look(
    evidence: &Evidence<'_>,
    glyph: &Glyph,
    form: &LetterForm,
) -> Option<(bool, f64)> {
    let bowled = glyph.ch.is_some_and(|c| BOWLED.contains(c));
    // A g of two storeys has two bowls, and its upper one an ear.
    if !bowled || (form.storeys == Storeys::Two && form.letter == 'g') {
        return None;
    }
    let line = &evidence.lines[glyph.line];
    let middle = (glyph.edges.left + glyph.edges.right) / 2.0;
    let base = evidence.level.on_sheet(middle, line.base_at(middle));
    let zone = (base - 1.2 * line.x_height, base + 0.15 * line.x_height);
    let mut darkness = Darkness::of(evidence.ink, &glyph.piece, zone)?;
    // A bowl is left open above. At its foot a printed line may have taken ink with it.
    darkness.floor(base - FOOT * line.x_height);
    let least = (LEAST_WHITE * line.x_height * line.x_height).max(LEAST_PIXELS);
    let reaches = match form.storeys {
        Storeys::One => REACHES,
        Storeys::Two => REACHES_TWO,
    };
    let above = base - reaches * line.x_height;
    let closed_at = |k: &u32| darkness.encloses(f64::from(*k) / f64::from(STEPS), least, above);
    let ring = match (1..STEPS).rev().find(closed_at) {
        Some(k) => f64::from(k) / f64::from(STEPS),
        // Nothing is enclosed: a pocket is a bowl left wide open; without one it is filled.
        None if darkness.pocket() >= least => 0.0,
        None => return None,
    };
    Some((ring < OPEN, ring))
}
