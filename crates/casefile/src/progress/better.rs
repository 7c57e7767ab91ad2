//! In which direction a measure gets better.

use units::MeasureName;

/// The wanted direction of a measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Better {
    /// Less is better.
    Smaller,
    /// More is better.
    Larger,
    /// Nearer to zero is better.
    TowardsZero,
    /// A matter of the pupil's letter model and taste, not of better or worse.
    NoDirection,
}

/// The wanted direction of each measure (common practice in the trade: evenness is wanted, a size
/// or a slant is not).
pub fn better(measure: MeasureName) -> Better {
    use MeasureName as M;
    match measure {
        M::Drift | M::Offset | M::Growth => Better::TowardsZero,
        M::Wander | M::XHeightCv | M::LetterGapCv | M::WordGapCv | M::SlantSd => Better::Smaller,
        M::OnLine | M::TallClear | M::WellFormed | M::JoinsMade => Better::Larger,
        M::XHeight
        | M::AscenderRatio
        | M::DescenderRatio
        | M::LetterGap
        | M::WordGap
        | M::OWidth
        | M::Slant => Better::NoDirection,
        // Faster is better only while the letters stay as they were.
        M::Pace => Better::NoDirection,
        // More corrections may mean more mistakes or more care.
        M::Corrections => Better::NoDirection,
    }
}
