//! Ink that the known text has no letters for → words that were put out of use.

use crate::letters::{Atoms, Hand, WordInk};
use crate::pieces::Piece;
use crate::words::{self, Along, Blob};

/// A blob is left over where at least this share of its width is in no letter.
const MOST: f64 = 0.7;
/// Narrower ink, in x-heights, is no word that somebody would cross out.
const NARROW: f64 = 0.9;

/// Words of a line that the text does not have and that were struck, scribbled out or bracketed.
pub(super) fn words(
    line: usize,
    along: Along<'_>,
    blobs: &[Blob],
    (atoms, used): (&Atoms, &[bool]),
    hand: Hand<'_>,
) -> Vec<WordInk> {
    let unused: Vec<usize> = (0..blobs.len())
        .filter(|&b| is_left_over(b, atoms, used))
        .collect();
    let near = |a: usize, b: usize| {
        let white = words::white(&blobs[a].piece, &blobs[b].piece, along);
        b == a + 1 && white < hand.limit * along.line.x_height
    };
    let sure = sure_of_line(used_share(atoms, used));
    unused
        .chunk_by(|a, b| near(*a, *b))
        .filter_map(|group| {
            let word: Vec<&Blob> = group.iter().map(|&b| &blobs[b]).collect();
            let reach = word[1..].iter().fold(word[0].reach, |r, b| r.join(b.reach));
            let tall = reach.high - reach.low > 0.6 * along.line.x_height;
            let wide = reach.width() > NARROW * along.line.x_height;
            let struck = words::left_over(&word, along, hand.ink.pen)
                .filter(|_| sure || word.iter().any(|b| b.struck.is_some()))?;
            (tall && wide).then(|| WordInk {
                line,
                text: None,
                struck: Some(struck),
                piece: Piece::union(
                    word.iter()
                        .flat_map(|b| [&b.piece].into_iter().chain(&b.dots)),
                ),
            })
        })
        .collect()
}

/// Ink of a letter's size that is in no letter and was not put out of use.
pub(super) fn letters(
    along: Along<'_>,
    blobs: &[Blob],
    (atoms, used): (&Atoms, &[bool]),
) -> Vec<Piece> {
    let tall = |b: &Blob| b.reach.high - b.reach.low > 0.6 * along.line.x_height;
    let free = blobs.iter().enumerate().filter(|(index, blob)| {
        blob.struck.is_none() && tall(blob) && is_left_over(*index, atoms, used)
    });
    free.map(|(_, blob)| blob.piece.clone()).collect()
}

/// Share of a line's ink, by width, that is in a letter.
fn used_share(atoms: &Atoms, used: &[bool]) -> f64 {
    let width = |keep: &dyn Fn(bool) -> bool| -> f64 {
        let those = atoms
            .iter()
            .zip(used)
            .filter(|(a, u)| !a.suspect && keep(**u));
        those.map(|(a, _)| a.reach.width()).sum()
    };
    width(&|u| u) / width(&|_| true).max(1e-9)
}

/// Where much of a line found no letter its text is at fault, not the ink.
fn sure_of_line(share: f64) -> bool {
    share > 0.6
}

fn is_left_over(blob: usize, atoms: &Atoms, used: &[bool]) -> bool {
    let (mut free, mut all) = (0.0, 0.0);
    for (atom, used) in atoms.iter().zip(used).filter(|(a, _)| a.blob == blob) {
        all += atom.reach.width();
        free += if *used { 0.0 } else { atom.reach.width() };
    }
    all > 0.0 && free >= MOST * all
}
