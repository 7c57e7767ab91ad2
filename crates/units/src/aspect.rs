//! The eight aspects of a page and the measures that speak for them.

use serde::{Deserialize, Serialize};

/// One of the eight things that a page is read for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub enum Aspect {
    /// Whether the writing stands on the line.
    Baseline,
    /// Short letters of one height.
    XHeight,
    /// The reach of ascenders and descenders.
    Reach,
    /// Letters formed so that they read as meant.
    Form,
    /// Joins between letters.
    Joins,
    /// Gaps between letters and between words.
    Gaps,
    /// The lean of the downstrokes.
    Slant,
    /// How mistakes are put right.
    Corrections,
}

impl Aspect {
    /// All aspects in the order in which they are always shown.
    pub const ALL: [Self; 8] = [
        Self::Baseline,
        Self::XHeight,
        Self::Reach,
        Self::Form,
        Self::Joins,
        Self::Gaps,
        Self::Slant,
        Self::Corrections,
    ];
}

/// The unit of a measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub enum Unit {
    /// Millimetres.
    Mm,
    /// Degrees.
    Degrees,
    /// A pure number.
    Ratio,
    /// A share, 0 to 1.
    Share,
    /// Widths of this writer's own lower-case o.
    OWidths,
    /// Per cent for each 100 mm along the line.
    PercentPer100Mm,
    /// For each 100 words.
    Per100Words,
    /// Letters a minute.
    LettersPerMinute,
}

macro_rules! measure_names {
    ($($(#[$doc:meta])* $name:ident = $text:literal, $aspect:expr, $unit:ident;)*) => {
        /// One number that a page can be measured for.
        #[derive(
            Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
        )]
        #[cfg_attr(feature = "ts", derive(ts_rs::TS))]
        pub enum MeasureName {
            $($(#[$doc])* #[serde(rename = $text)] $name,)*
        }

        impl MeasureName {
            /// All measures, in the order of their aspects; pace, which is none of them, last.
            pub const ALL: &[Self] = &[$(Self::$name,)*];

            /// The name as written in files and commands.
            pub fn text(self) -> &'static str {
                match self { $(Self::$name => $text,)* }
            }

            /// The aspect that this measure speaks for; `None` for pace, which no look at a page
            /// tells.
            pub fn aspect(self) -> Option<Aspect> {
                use Aspect::*;
                match self { $(Self::$name => $aspect,)* }
            }

            /// The unit of its value.
            pub fn unit(self) -> Unit {
                match self { $(Self::$name => Unit::$unit,)* }
            }
        }
    };
}

measure_names! {
    /// Slope of the letter bottoms against the ruling; + climbs. Median over lines.
    Drift = "drift", Some(Baseline), Degrees;
    /// Root mean square of the bottoms about each line's own drift.
    Wander = "wander", Some(Baseline), Mm;
    /// Median height of the bottoms above the rule; + above.
    Offset = "offset", Some(Baseline), Mm;
    /// Share of letters that stand on the rule within tolerance.
    OnLine = "on_line", Some(Baseline), Share;
    /// Mean ink height of short letters.
    XHeight = "x_height", Some(XHeight), Mm;
    /// Their standard deviation over their mean.
    XHeightCv = "x_height_cv", Some(XHeight), Ratio;
    /// Change of x-height along the line.
    Growth = "growth", Some(XHeight), PercentPer100Mm;
    /// Median reach of tall letters above the baseline, in x-heights.
    AscenderRatio = "ascender_ratio", Some(Reach), Ratio;
    /// Median reach of tails below the baseline, in x-heights.
    DescenderRatio = "descender_ratio", Some(Reach), Ratio;
    /// Share of tall letters that clear the short ones.
    TallClear = "tall_clear", Some(Reach), Share;
    /// Share of judged letters in which no fault of form was found.
    WellFormed = "well_formed", Some(Form), Share;
    /// Share of expected joins that are made, and at the right height.
    JoinsMade = "joins_made", Some(Joins), Share;
    /// White between neighbouring letters of a word.
    LetterGap = "letter_gap", Some(Gaps), OWidths;
    /// Standard deviation of letter gaps over their mean.
    LetterGapCv = "letter_gap_cv", Some(Gaps), Ratio;
    /// White between neighbouring words.
    WordGap = "word_gap", Some(Gaps), OWidths;
    /// Standard deviation of word gaps over their mean.
    WordGapCv = "word_gap_cv", Some(Gaps), Ratio;
    /// Width of this writer's own lower-case o.
    OWidth = "o_width", Some(Gaps), Mm;
    /// Mean lean of downstrokes; + forward.
    Slant = "slant", Some(Slant), Degrees;
    /// Standard deviation of the lean.
    SlantSd = "slant_sd", Some(Slant), Degrees;
    /// Corrections for each 100 words.
    Corrections = "corrections", Some(Corrections), Per100Words;
    /// Letters written, over the minutes that an adult gave.
    Pace = "pace", None, LettersPerMinute;
}

impl core::str::FromStr for MeasureName {
    type Err = &'static str;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Self::ALL
            .iter()
            .copied()
            .find(|name| name.text() == text)
            .ok_or("there is no measure of this name")
    }
}
