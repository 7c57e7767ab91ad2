//! A quick estimate of how high short letters are, joined or not: a strip of writing a few letters
//! wide has far more ink between a short letter's foot and its top than above or below.

use super::strokes::Strokes;

/// Width of a strip, mm: so narrow that a line's climb hardly matters.
const STRIP: f64 = 14.0;
/// Rows belong to short letters where they hold this share of a full row's ink.
const FULL: f64 = 0.4;
/// Heights that short letters may have, mm.
const HEIGHTS: std::ops::Range<f64> = 0.9..12.0;
/// Strips that the estimate rests on at least.
const LEAST: usize = 6;

/// Height of short letters, mm, to about a tenth; `None` where there is too little writing.
#[tracing::instrument(level = "trace", name = "size", skip_all)]
pub(crate) fn short_letters(strokes: &Strokes) -> Option<f64> {
    let strip = (STRIP / strokes.cell).round().max(1.0) as usize;
    let mut heights = Vec::new();
    for left in (0..strokes.width.saturating_sub(strip)).step_by(strip) {
        let ink: Vec<u32> = (0..strokes.height)
            .map(|y| {
                let row = &strokes.row(y)[left..left + strip];
                row.iter().filter(|written| **written).count() as u32
            })
            .collect();
        zones(&ink, |cells| {
            let height = cells as f64 * strokes.cell;
            if HEIGHTS.contains(&height) {
                heights.push(height);
            }
        });
    }
    if heights.len() < LEAST {
        return None;
    }
    heights.sort_by(f64::total_cmp);
    // The middle of all that is high enough: what is left of a broken letter counts by its height.
    let mut rest = 0.5 * heights.iter().sum::<f64>();
    heights.into_iter().find(|height| {
        rest -= height;
        rest <= 0.0
    })
}

/// Heights in cells of the stretches of full rows in a strip; one thin row does not end a stretch.
fn zones(ink: &[u32], mut each: impl FnMut(usize)) {
    let mut inked: Vec<u32> = ink.iter().copied().filter(|n| *n > 0).collect();
    if inked.is_empty() {
        return;
    }
    inked.sort_unstable();
    let full = FULL * f64::from(inked[inked.len() * 9 / 10]);
    let at = |y: usize| ink.get(y).is_some_and(|n| f64::from(*n) >= full);
    let mut start = None;
    for y in 0..=ink.len() {
        match start {
            None if at(y) => start = Some(y),
            Some(from) if !at(y) && !at(y + 1) => {
                each(y - from);
                start = None;
            }
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use image::{GrayImage, Luma};

    use super::*;
    use crate::glance::Light;

    /// Lines of upright strokes, every fifth of them twice as high, 8 pixels to the millimetre.
    fn lines(height_mm: f64) -> GrayImage {
        let height = (height_mm * 8.0) as i64;
        GrayImage::from_fn(1000, 1000, |x, y| {
            let (stroke, across) = (x / 14, x % 14);
            let above = 160 - i64::from(y % 160);
            let top = if stroke % 5 == 0 { 2 * height } else { height };
            let written = (160..840).contains(&x) && (160..800).contains(&y);
            let ink = written && across < 4 && above > 0 && above <= top;
            Luma([if ink { 70 } else { 220 }])
        })
    }

    fn size(picture: &GrayImage) -> Option<f64> {
        let light = Light::of(picture, 8.0);
        short_letters(&Strokes::of(picture, &light, 8.0))
    }

    #[test]
    fn short_letters_are_told_from_tall_ones() {
        for height in [2.0, 3.0, 4.5] {
            let found = size(&lines(height)).expect("enough writing");
            assert!((found / height - 1.0).abs() < 0.12, "{found} for {height}");
        }
    }

    #[test]
    fn a_blank_page_has_no_letters() {
        assert_eq!(size(&GrayImage::from_pixel(800, 800, Luma([220]))), None);
    }
}
