//! What mirrored light has taken: writing that should go on where the paper is burnt out, and
//! does not. White paper as such costs nothing, nor does burnt paper on which the ink is seen.

use image::GrayImage;

use super::cells::{self, Tally};
use crate::glance::{Light, Strokes};

/// Grey level of paper at the top of the scale.
const BURNT: u8 = 251;
/// Ink that light lies over is seen while it is darker than this share of the paper.
const FAINT: f64 = 0.9;
/// The writing is compared with what stands this far above and below, mm.
const REACH: f64 = 16.0;
/// Share of the written area that must not be burnt, or there is nothing to compare with.
const LEAST_SOUND: f64 = 0.05;

/// Share of the page's writing that is lost to burnt paper.
#[tracing::instrument(level = "trace", name = "fit: glare", skip_all)]
pub(super) fn lost(grey: &GrayImage, light: &Light, px_per_mm: f64) -> f64 {
    if light.levels().iter().all(|level| *level < BURNT) {
        return 0.0;
    }
    let strokes = Strokes::darker_than(FAINT, grey, light, px_per_mm);
    let ink = cells::ink(light, &strokes, px_per_mm);
    let Some((columns, rows)) = written(&ink, light.columns()) else {
        return 0.0;
    };
    let (mut sound, mut burnt) = (Vec::new(), Vec::new());
    for row in rows {
        let mut both = [Tally::default(); 2];
        for k in columns.clone().map(|column| row * light.columns() + column) {
            let cell = Tally {
                cells: 1.0,
                ink: ink[k],
            };
            both[usize::from(light.levels()[k] >= BURNT)].add(cell);
        }
        sound.push(both[0]);
        burnt.push(both[1]);
    }
    let (all_sound, all_burnt) = (Tally::of(&sound), Tally::of(&burnt));
    if all_burnt.cells == 0.0 || all_sound.cells < LEAST_SOUND * (all_sound.cells + all_burnt.cells)
    {
        return 0.0;
    }
    let reach = (REACH / light.side_mm(px_per_mm)).round() as usize;
    let expected: f64 = burnt
        .iter()
        .enumerate()
        .map(|(k, tally)| {
            let near = Tally::of(&sound[k.saturating_sub(reach)..(k + reach + 1).min(sound.len())]);
            let like = if near.cells > 0.0 { near } else { all_sound };
            tally.cells * like.ink / like.cells
        })
        .sum();
    let lost = (expected - all_burnt.ink).max(0.0);
    lost / (all_sound.ink + all_burnt.ink + lost).max(f64::MIN_POSITIVE)
}

/// Columns and rows of cells that hold all but the outermost hundredth of the ink on each side.
fn written(
    ink: &[f64],
    columns: usize,
) -> Option<(std::ops::Range<usize>, std::ops::Range<usize>)> {
    let rows = ink.len() / columns;
    let across = (0..columns).map(|c| (0..rows).map(|r| ink[r * columns + c]).sum());
    let down = (0..rows).map(|r| ink[r * columns..(r + 1) * columns].iter().sum());
    Some((middle(across.collect())?, middle(down.collect())?))
}

fn middle(amounts: Vec<f64>) -> Option<std::ops::Range<usize>> {
    let all: f64 = amounts.iter().sum();
    if all <= 0.0 {
        return None;
    }
    let mut below = 0.0;
    let (mut start, mut end) = (None, amounts.len());
    for (k, amount) in amounts.iter().enumerate() {
        below += amount;
        if start.is_none() && below > 0.01 * all {
            start = Some(k);
        }
        if below >= 0.99 * all {
            end = k + 1;
            break;
        }
    }
    Some(start?..end)
}

#[cfg(test)]
mod tests {
    use image::Luma;

    use super::*;

    /// Lines of strokes, with a spot of mirrored light of 20 × 20 mm in a written area of about
    /// 85 × 80 mm that leaves what `seen` says of a pixel.
    fn lost_under(seen: impl Fn(u8) -> u8) -> f64 {
        let picture = GrayImage::from_fn(1000, 1000, |x, y| {
            let written = (160..840).contains(&x) && (160..800).contains(&y);
            let ink = written && x % 14 < 4 && y % 80 < 24;
            let level = if ink { 70 } else { 220 };
            let spot = (400..560).contains(&x) && (400..560).contains(&y);
            Luma([if spot { seen(level) } else { level }])
        });
        let light = Light::of(&picture, 8.0);
        lost(&picture, &light, 8.0)
    }

    #[test]
    fn ink_under_burnt_paper_is_missed() {
        let share = (160.0 * 160.0) / (680.0 * 640.0);
        let found = lost_under(|_| 255);
        assert!((found / share - 1.0).abs() < 0.3, "{found} of {share}");
    }

    #[test]
    fn white_paper_with_its_ink_costs_nothing() {
        assert!(lost_under(|level| level.saturating_add(60)) < 0.005);
    }

    #[test]
    fn light_that_burns_nothing_costs_nothing() {
        assert_eq!(lost_under(|level| level), 0.0);
    }
}
