//! A letter's ink → how it is formed: what it reads as, and what is amiss.
//!
//! Each fault is told by a figure of its own geometry; a recogniser of shapes is asked for what a letter
//! reads as. Only letters that the engine is sure of are judged.

use units::{Bowl, CorrectionKind, Fault, FaultKind, LetterForm, Ratio};

use crate::aspects::{Evidence, SURE};
use crate::letters::{Glyph, bowl};
use crate::pieces::BoxPx;
use crate::stats::{self, round};

mod apart;
mod body;
mod marks;
mod reach;
mod shape;
mod white;

pub(crate) use body::top as body_top;

/// How a letter is formed.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Formed {
    /// Whether it was judged.
    pub judged: bool,
    pub reads: Option<units::Reads>,
    pub bowl: Option<Bowl>,
    pub faults: Vec<Fault>,
    /// Whether a person said something of it.
    pub by_hand: bool,
}

impl Formed {
    fn add(&mut self, kind: FaultKind, figure: Option<f64>) {
        self.faults.extend(figure.map(|figure| Fault {
            kind,
            figure: Some(Ratio(round(figure, 2))),
        }));
    }
}

/// A letter and what is known of it.
#[derive(Clone, Copy)]
struct Of<'a> {
    evidence: &'a Evidence<'a>,
    glyph: &'a Glyph,
    ch: char,
    /// How it is taught; `None` for what is no small letter.
    form: Option<&'a LetterForm>,
    /// Height of the line's short letters, in pixels.
    x_height: f64,
}

impl Of<'_> {
    /// Column of the sheet in the letter's middle.
    fn middle(&self) -> f64 {
        (self.glyph.edges.left + self.glyph.edges.right) / 2.0
    }

    /// Row of the sheet so many x-heights above the letter's baseline.
    fn row(&self, above: f64) -> f64 {
        let x = self.middle();
        let base = self.evidence.lines[self.glyph.line].base_at(x);
        self.evidence
            .level
            .on_sheet(x, base - above * self.x_height)
    }

    /// Height of a row of the sheet above the letter's baseline, in x-heights.
    fn height(&self, row: f64) -> f64 {
        let along = self.evidence.along(self.glyph.line);
        along.height(self.middle(), row) / self.x_height
    }
}

/// Judges every letter of a page.
#[tracing::instrument(level = "trace", name = "form", skip_all)]
pub(crate) fn all(evidence: &Evidence<'_>) -> Vec<Formed> {
    let written_over: Vec<BoxPx> = evidence
        .corrections
        .iter()
        .filter(|mended| mended.kind == CorrectionKind::WrittenOver)
        .map(|mended| mended.bounds)
        .collect();
    let judged = |glyph| -> Option<Of<'_>> {
        let glyph: &Glyph = glyph;
        let ch = glyph.ch.filter(|_| glyph.identity >= SURE)?;
        if written_over.contains(&glyph.piece.bounds()) {
            return None;
        }
        Some(Of {
            evidence,
            glyph,
            ch,
            form: evidence.model.form(ch),
            x_height: evidence.lines[glyph.line].x_height,
        })
    };
    let letters: Vec<Option<Of<'_>>> = evidence.glyphs.iter().map(judged).collect();
    let eyes: Vec<Option<f64>> = letters
        .iter()
        .map(|of| of.and_then(white::of_an_eye))
        .collect();
    let seen: Vec<f64> = eyes.iter().flatten().copied().collect();
    // Where most eyes of a page cannot be seen, the picture or the hand hides them all.
    let eyes_seen = stats::median(&seen).is_some_and(|usual| usual >= white::LEAST_EYE);
    let mut all: Vec<Formed> = letters
        .iter()
        .map(|of| of.map_or_else(Formed::default, one))
        .collect();
    for ((formed, eye), of) in all.iter_mut().zip(eyes).zip(&letters) {
        let reads = formed.reads.is_some_and(|reads| reads.as_meant.0 > 0.5);
        let closed = of.is_some() && eyes_seen && reads;
        formed.add(
            FaultKind::EyeClosed,
            eye.filter(|white| closed && *white <= white::NO_EYE),
        );
    }
    all
}

fn one(of: Of<'_>) -> Formed {
    let shape = shape::look(of);
    let Some(form) = of.form else {
        return Formed {
            reads: shape.map(|shape| shape.reads),
            ..Formed::default()
        };
    };
    let apart = apart::look(of);
    let high = white::high_bowl(of, form);
    // A round part that stands apart from its stem, or closes higher than is looked at, is not open.
    let bowl =
        bowl::look(of.evidence, of.glyph, form).filter(|_| apart.is_none() && high.is_none());
    let mut formed = Formed {
        judged: true,
        reads: shape.map(|shape| shape.reads),
        bowl: bowl.map(|(open, ring)| Bowl {
            open,
            ring: Ratio(round(ring, 2)),
        }),
        ..Formed::default()
    };
    let open = bowl.filter(|bowl| bowl.0);
    let reversed = shape.and_then(|shape| shape.reversed());
    formed.add(FaultKind::Open, open.map(|bowl| bowl.1));
    formed.add(FaultKind::Reversed, reversed);
    formed.add(FaultKind::Apart, apart);
    // Ink that surely reads as another letter than one stroke down lacks no dot and no bar: it is not
    // the letter.
    let stroke = shape.is_none_or(|shape| shape.may_be_a_stroke());
    formed.add(FaultKind::NoDot, marks::no_dot(of).filter(|_| stroke));
    formed.add(FaultKind::NoBar, marks::no_bar(of).filter(|_| stroke));
    formed.add(FaultKind::NotTall, reach::not_tall(of, form));
    formed.add(FaultKind::NotBelow, reach::not_below(of, form));
    formed.add(FaultKind::HighBowl, high);
    // What a fault already tells is not told twice.
    if formed.faults.is_empty() {
        let other = shape.and_then(|shape| shape.reads_as_other());
        formed.add(FaultKind::ReadsAsOther, other);
    }
    formed
}
