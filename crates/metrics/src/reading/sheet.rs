//! What a person has said of the sheet, before anything is read on it: which ink is no writing, and where a
//! line of writing stands.

use units::{Amendment, BoxMm};

use crate::pieces::{BoxPx, Piece};

/// The pieces without the ink in places that hold no writing. What reaches out of such a place stays.
pub(super) fn writing(pieces: Vec<Piece>, amendments: &[Amendment], mm: f64) -> Vec<Piece> {
    let places = places(amendments, mm, |amendment| match amendment {
        Amendment::NotWriting { at } => Some(at),
        _ => None,
    });
    if places.is_empty() {
        return pieces;
    }
    let pieces = pieces.into_iter();
    let left = pieces.flat_map(|piece| {
        let touched = |place: &BoxPx| place.meets(piece.bounds());
        let within: Vec<BoxPx> = places.iter().copied().filter(touched).collect();
        if within.is_empty() {
            return vec![piece];
        }
        let parts = piece.part(2, |run| {
            let rows: Vec<BoxPx> = within
                .iter()
                .copied()
                .filter(|it| it.has_row(run.y))
                .collect();
            move |x| usize::from(rows.iter().any(|it| it.has_column(x)))
        });
        // Cut, it may hang together no longer.
        parts.first().map(Piece::parts).unwrap_or_default()
    });
    left.collect()
}

/// Where lines of writing stand by what a person has said, the last said last. One where no ink is stands
/// nowhere.
pub(super) fn lines(pieces: &[Piece], amendments: &[Amendment], mm: f64) -> Vec<BoxPx> {
    let mut places = places(amendments, mm, |amendment| match amendment {
        Amendment::Line { at } => Some(at),
        _ => None,
    });
    places.retain(|place| {
        let mut runs = pieces.iter().flat_map(|piece| &piece.runs);
        runs.any(|run| place.has_row(run.y) && run.x0 < place.x1 && place.x0 < run.x1)
    });
    places
}

fn places(
    amendments: &[Amendment],
    mm: f64,
    place: impl Fn(&Amendment) -> Option<&BoxMm>,
) -> Vec<BoxPx> {
    let places = amendments.iter().filter_map(place);
    places.map(|at| BoxPx::of_mm(at, mm)).collect()
}
