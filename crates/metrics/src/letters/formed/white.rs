//! White that a letter encloses: the eye of an e, and how high a bowl reaches.

use units::LetterForm;

use super::Of;
use crate::letters::darkness::Darkness;

/// The usual eye of a page that shows eyes at all, in squares of the x-height.
pub(super) const LEAST_EYE: f64 = 0.03;
/// No more than this is no eye.
pub(super) const NO_EYE: f64 = 0.004;
/// Limits of darkness that an eye is looked for at: blur lays grey over a small one, and opens a thin
/// stroke round a large one.
const LIMITS: [f64; 6] = [0.5, 0.6, 0.7, 0.75, 0.8, 0.85];
/// Letters whose bowl stands within the short zone and has no loop.
const BOWLED: &str = "adgpq";
/// A bowl whose white reaches higher, in x-heights, closes too high.
const HIGH: f64 = 1.2;
/// White of a bowl, at least, in squares of the x-height.
const LEAST_BOWL: f64 = 0.03;

/// White of an e's eye, in squares of the x-height; `None` for any other letter.
pub(super) fn of_an_eye(of: Of<'_>) -> Option<f64> {
    let e = (of.ch == 'e').then_some(of)?;
    let darkness = darkness(e, 1.3)?;
    let largest = |limit: f64| {
        let white = darkness.enclosed(limit).into_iter().map(|patch| patch.0);
        white.fold(0.0, f64::max)
    };
    let white = LIMITS.iter().map(|limit| largest(*limit));
    Some(white.fold(0.0, f64::max) / (of.x_height * of.x_height))
}

/// How high the white of a bowl reaches, in x-heights, where that is too high.
pub(super) fn high_bowl(of: Of<'_>, form: &LetterForm) -> Option<f64> {
    if !BOWLED.contains(of.ch) || form.looped {
        return None;
    }
    let least = LEAST_BOWL * of.x_height * of.x_height;
    let darkness = darkness(of, 2.5)?;
    let white = darkness.enclosed(0.5).into_iter();
    let tops = white.filter(|patch| patch.0 >= least).map(|(_, b)| b.y0);
    let top = of.height(f64::from(tops.min()?));
    (top > HIGH).then_some(top)
}

fn darkness(of: Of<'_>, high: f64) -> Option<Darkness> {
    let zone = (of.row(high), of.row(-0.3));
    Darkness::of(of.evidence.ink, &of.glyph.piece, zone)
}
