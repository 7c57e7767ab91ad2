//! Even light → the ruling: every printed line followed across the sheet, and lifted out.

use image::GrayImage;

use crate::stats;
use crate::transpose::transpose;

mod comb;
mod complete;
mod follow;
mod level;
mod lift;

pub(crate) use level::Level;
pub(crate) use lift::{cover, erase_rests, lift};

/// A printed line followed across the sheet. For upright lines the words *row* and *column* change
/// places.
#[derive(Debug, Clone)]
pub(crate) struct Rule {
    /// Row, in pixels, for every column; a whole number is the upper edge of a pixel.
    pub rows: Vec<f32>,
}

impl Rule {
    /// Its row at a column.
    pub(crate) fn at(&self, x: f64) -> f64 {
        let last = self.rows.len().saturating_sub(1);
        f64::from(self.rows[(x.max(0.0) as usize).min(last)])
    }

    /// Its row at the sheet's middle column.
    pub(crate) fn middle(&self) -> f64 {
        f64::from(self.rows[self.rows.len() / 2])
    }
}

/// All that is printed on the sheet.
#[derive(Debug, Clone, Default)]
pub(crate) struct Rulings {
    /// Lines across, top to bottom.
    pub across: Vec<Rule>,
    /// Lines down (squares, margin), left to right.
    pub down: Vec<Rule>,
    /// Reach of a line to both sides of its middle, in pixels, blur included.
    pub half: f64,
}

/// The distances, in pixels, after which the printed lines are expected to repeat.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Print {
    pub across: Option<f64>,
    pub down: Option<f64>,
}

/// Half the thickness, in millimetres, within which a printed line and its blur lie.
const HALF_MM: f64 = 0.34;

/// Finds the lines printed across and down the sheet.
#[tracing::instrument(level = "trace", name = "ruling", skip_all)]
pub(crate) fn find(evened: &GrayImage, px_per_mm: f64, print: Print) -> Rulings {
    let turned = transposed(evened);
    Rulings {
        across: find_across(evened, px_per_mm, print.across),
        down: find_across(&turned, px_per_mm, print.down),
        half: HALF_MM * px_per_mm,
    }
}

fn find_across(evened: &GrayImage, px_per_mm: f64, expected: Option<f64>) -> Vec<Rule> {
    let rules = match follow::Strips::new(evened, px_per_mm, follow::Look::CLOSE) {
        Some(strips) => {
            let rules = follow::follow(&strips);
            let middles: Vec<f64> = rules.iter().map(Rule::middle).collect();
            let pitch = match expected {
                Some(about) if rules.len() >= 3 => fit_pitch(&middles, about),
                Some(_) => None,
                None => find_pitch(&middles, px_per_mm),
            };
            if let Some(pitch) = pitch {
                return complete::complete(rules, &strips, pitch.px);
            }
            rules
        }
        None => Vec::new(),
    };
    // Where the paper is known to be ruled the lines are there, but they are faint.
    let faint = expected.and_then(|about| {
        let strips = follow::Strips::new(evened, px_per_mm, follow::Look::FAINT)?;
        Some(comb::comb(&strips, about))
    });
    faint.filter(|lines| !lines.is_empty()).unwrap_or(rules)
}

/// The picture turned so that its rows become columns.
fn transposed(grey: &GrayImage) -> GrayImage {
    let turned = transpose(grey.as_raw(), grey.width() as usize);
    GrayImage::from_raw(grey.height(), grey.width(), turned).expect("as many pixels as before")
}

/// The distance after which a set of line positions repeats.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pitch {
    /// Pixels from one line to the next of its kind.
    pub px: f64,
    /// Standard error of that.
    pub se: f64,
}

/// Fits the repeat distance to positions, starting from a distance that is roughly right.
pub(crate) fn fit_pitch(positions: &[f64], about: f64) -> Option<Pitch> {
    let mut pitch = about;
    let mut spans = Vec::new();
    let longest = positions.last()? - positions.first()?;
    let mut most = 1.0;
    loop {
        spans.clear();
        for (i, a) in positions.iter().enumerate() {
            for b in &positions[i + 1..] {
                let times = ((b - a) / pitch).round();
                let off = ((b - a) - times * pitch).abs();
                let allowed = if most > 1.0 { 0.045 } else { 0.06 };
                if times >= 1.0 && times <= most && off < allowed * about {
                    spans.push((times, b - a));
                }
            }
        }
        if spans.is_empty() {
            return None;
        }
        let square: f64 = spans.iter().map(|s| s.0 * s.0).sum();
        pitch = spans.iter().map(|s| s.0 * s.1).sum::<f64>() / square;
        if most * pitch > longest {
            break;
        }
        most *= 2.0;
    }
    let rest: Vec<f64> = spans.iter().map(|s| s.1 - s.0 * pitch).collect();
    let spread = stats::mad(&rest).unwrap_or(0.0).max(0.05);
    // Pairs share their ends: only as many of them are independent as there are lines.
    let span = spans.iter().map(|s| s.0).fold(1.0, f64::max);
    let lines = positions.len() as f64;
    Some(Pitch {
        px: pitch,
        se: spread / (span * (lines / 6.0).max(1.0).sqrt()),
    })
}

/// Finds the repeat distance where none is known: the shortest distance, within what paper is
/// ruled with, that carries nearly every line onto another.
pub(crate) fn find_pitch(positions: &[f64], px_per_mm: f64) -> Option<Pitch> {
    if positions.len() < 4 {
        return None;
    }
    let mut tried: Vec<f64> = Vec::new();
    for (i, a) in positions.iter().enumerate() {
        for b in &positions[i + 1..] {
            let gap = b - a;
            let fits = (1.5 * px_per_mm..=24.0 * px_per_mm).contains(&gap);
            if fits && tried.iter().all(|t| (t - gap).abs() > 0.2 * px_per_mm) {
                tried.push(gap);
            }
        }
    }
    tried.sort_by(f64::total_cmp);
    let carried = |gap: f64| {
        let near = |y: f64| positions.iter().any(|p| (p - y).abs() < 0.25 * px_per_mm);
        let end = positions[positions.len() - 1];
        let able: Vec<&f64> = positions
            .iter()
            .filter(|p| **p + gap <= end + 1.0)
            .collect();
        let hits = able.iter().filter(|p| near(**p + gap)).count();
        (able.len() >= 2).then(|| hits as f64 / able.len() as f64)
    };
    let about = tried
        .into_iter()
        .find(|gap| carried(*gap).is_some_and(|s| s >= 0.85))?;
    fit_pitch(positions, about)
}

#[cfg(test)]
mod tests;
