//! What a hand does, told in the measures that a page is read for.

use units::CorrectionKind;

use crate::font::Shapes;

/// What a hand does, on the whole and with what spread.
#[derive(Debug, Clone, PartialEq)]
pub struct Hand {
    /// Letter shapes.
    pub shapes: Shapes,
    /// Height of short letters, mm.
    pub x_height: f64,
    /// Spread of single letters' heights, as a share.
    pub x_height_cv: f64,
    /// Change of height along the line, per cent for each 100 mm.
    pub growth: f64,
    /// Width against height; 1 is the shape as drawn.
    pub width: f64,
    /// Lean added to the shapes' own, degrees; + forward.
    pub slant: f64,
    /// Spread of single letters' lean, degrees.
    pub slant_sd: f64,
    /// Climb of the lines, degrees; + climbs.
    pub drift: f64,
    /// Spread of the climb from line to line, degrees.
    pub drift_sd: f64,
    /// Spread of single letters about their line, mm.
    pub bob: f64,
    /// Height above the rule, mm.
    pub offset: f64,
    /// White between letters, in widths of the o, for unjoined shapes; added stretch for joined.
    pub letter_gap: f64,
    /// Its spread.
    pub letter_gap_sd: f64,
    /// White between words, in widths of the o.
    pub word_gap: f64,
    /// Its spread.
    pub word_gap_sd: f64,
    /// Reach of tall letters above the short ones; 1 is the shape as drawn.
    pub ascender: f64,
    /// Reach of tails; 1 is the shape as drawn.
    pub descender: f64,
    /// How far the same letter differs in shape from one time to the next, in heights of a short
    /// letter.
    pub wobble: f64,
    /// Share of words with a correction.
    pub corrections: f64,
    /// The kinds of correction this hand makes.
    pub kinds: Vec<CorrectionKind>,
}

impl Hand {
    /// An even hand with the given shapes; change what should differ.
    pub fn even(shapes: Shapes, x_height: f64) -> Self {
        Self {
            shapes,
            x_height,
            x_height_cv: 0.05,
            growth: 0.0,
            width: 1.0,
            slant: 0.0,
            slant_sd: 2.0,
            drift: 0.0,
            drift_sd: 0.15,
            bob: 0.12,
            offset: 0.0,
            letter_gap: 0.3,
            letter_gap_sd: 0.08,
            word_gap: 1.3,
            word_gap_sd: 0.2,
            ascender: 1.0,
            descender: 1.0,
            wobble: 0.03,
            corrections: 0.0,
            kinds: Vec::new(),
        }
    }
}
