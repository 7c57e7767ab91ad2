//! Faint pencil: what a threshold for ink of any darkness leaves out.

use image::GrayImage;

use super::{PAPER, Sauvola, binarise};

/// Ink less dark than this below the paper, in grey levels, is faint: the local threshold asks for a
/// fifth of the paper's brightness, which is more than half of such a stroke.
const FAINT: f64 = 72.0;
/// Share of the usual stroke's darkness that is ink on its own …
const SEED: f64 = 0.38;
/// … and beside ink. What shows through from the back of the sheet is fainter than either.
const BESIDE: f64 = 0.27;
/// Weight of the deviation for a threshold that faint strokes pass and the slope of a shadow does not.
const GENTLE: f64 = 0.09;
/// Grain is taken for ink only beyond so many of its standard deviations.
const GRAIN: (f64, f64) = (5.0, 3.0);

/// Adds the faint strokes of a page whose writing is faint: what passes a threshold set by its own
/// strokes and its paper's grain, and what hangs on to that and is hardly lighter.
pub(super) fn add(mask: &mut GrayImage, grey: &GrayImage, level: f64, how: Sauvola) {
    let dark = f64::from(PAPER) - level;
    if dark >= FAINT {
        return;
    }
    let paper = Blocks::new(mask, grey, how.window as usize * 3 / 2);
    // A shadow is dark too, but not darker than what lies round it.
    let stands_out = binarise(grey, Sauvola { k: GENTLE, ..how });
    let w = mask.width() as usize;
    for (at, m) in mask.iter_mut().enumerate() {
        let seed = paper.at(at % w, at / w).below(SEED * dark, GRAIN.0);
        if stands_out.as_raw()[at] > 0 && grey.as_raw()[at] <= seed {
            *m = 255;
        }
    }
    grow(mask, grey, |x, y| {
        paper.at(x, y).below(BESIDE * dark, GRAIN.1)
    });
}

/// Paper as it is in one block: its middle grey, and the standard deviation of its grain.
#[derive(Debug, Clone, Copy)]
struct Paper {
    middle: f64,
    grain: f64,
}

impl Paper {
    /// The grey that lies below the paper by `off`, and by so many times its grain.
    fn below(self, off: f64, grains: f64) -> u8 {
        (self.middle - off.max(grains * self.grain)).max(0.0) as u8
    }
}

/// The sheet's paper, block by block: grain is coarser where a shadow was evened.
struct Blocks {
    side: usize,
    across: usize,
    papers: Vec<Paper>,
}

impl Blocks {
    fn new(mask: &GrayImage, grey: &GrayImage, side: usize) -> Self {
        let (w, h) = (mask.width() as usize, mask.height() as usize);
        let across = w.div_ceil(side);
        let mut counts = vec![[0u32; 256]; across * h.div_ceil(side)];
        for (at, (m, g)) in mask.as_raw().iter().zip(grey.as_raw()).enumerate() {
            if *m == 0 {
                counts[at / w / side * across + at % w / side][*g as usize] += 1;
            }
        }
        let papers = counts.iter().map(|counts| {
            let total: u32 = counts.iter().sum();
            let middle = super::count_quantile(counts, total / 2).min(f32::from(PAPER));
            // The brighter half: faint strokes lie in the darker one. A normal sample's third
            // quartile is 0.6745 standard deviations above its middle.
            let quartile = super::count_quantile(counts, total / 4 * 3);
            Paper {
                middle: f64::from(middle),
                grain: (f64::from(quartile - middle) / 0.6745).max(1.0),
            }
        });
        Self {
            side,
            across,
            papers: papers.collect(),
        }
    }

    fn at(&self, x: usize, y: usize) -> Paper {
        self.papers[y / self.side * self.across + x / self.side]
    }
}

/// Marks whatever is at or below `beside` and hangs together with marked ink.
fn grow(mask: &mut GrayImage, grey: &GrayImage, beside: impl Fn(usize, usize) -> u8) {
    let (w, h) = (mask.width() as usize, mask.height() as usize);
    let shade = grey.as_raw();
    let marked: &mut [u8] = mask;
    let mut edge: Vec<usize> = (0..marked.len()).filter(|&at| marked[at] > 0).collect();
    while let Some(at) = edge.pop() {
        let (x, y) = (at % w, at / w);
        for ny in y.saturating_sub(1)..=(y + 1).min(h - 1) {
            for nx in x.saturating_sub(1)..=(x + 1).min(w - 1) {
                let near = ny * w + nx;
                if marked[near] == 0 && shade[near] <= beside(nx, ny) {
                    marked[near] = 255;
                    edge.push(near);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use image::Luma;

    use super::*;

    /// Two strokes on grained paper, so many grey levels under it; the second fades out downwards.
    fn strokes(dark: u8, faded: u8) -> GrayImage {
        GrayImage::from_fn(120, 120, |x, y| {
            let grain = ((x * 7 + y * 13 + x * y) % 5) as u8;
            let under = match (x, y) {
                (30..36, 20..100) => dark,
                (80..86, 20..60) => dark,
                (80..86, 60..100) => faded,
                _ => 0,
            };
            Luma([PAPER - 2 + grain - under])
        })
    }

    fn found(dark: u8, faded: u8) -> usize {
        let grey = strokes(dark, faded);
        let how = Sauvola {
            window: 61,
            k: 0.2,
            range: 128.0,
        };
        let mut mask = binarise(&grey, how);
        add(&mut mask, &grey, f64::from(PAPER - dark), how);
        mask.pixels().filter(|p| p[0] > 0).count()
    }

    #[test]
    fn pencil_five_and_twenty_levels_under_the_paper_is_ink() {
        assert_eq!(found(25, 25), 2 * 6 * 80);
    }

    #[test]
    fn a_stroke_is_followed_where_it_fades() {
        assert_eq!(found(60, 21), 2 * 6 * 80);
    }

    #[test]
    fn what_is_far_fainter_than_the_writing_stays_out() {
        assert_eq!(found(60, 10), 6 * 80 + 6 * 40);
    }
}
