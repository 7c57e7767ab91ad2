//! Whether a page can be read, quickly enough that the photograph is taken again at once.
//!
//! Every limit here was set by trial on drawn pages that were blurred, darkened, shaded and made
//! smaller step by step; each check says what it was set at. They are limits of this engine, not
//! norms.

mod edges;

use image::GrayImage;
use units::{FitCheck, FitFault, Fitness};

use crate::Page;
use crate::glance::{Light, Strokes};

/// Checks a page for each thing that can make it unreadable, in the order of [`FitFault`].
///
/// A check that cannot be made (the kept picture no longer knows the photograph's edge) is left
/// out.
#[tracing::instrument(level = "trace", name = "fit", skip_all)]
pub fn fitness(page: &Page) -> Fitness {
    let px_per_mm = page.frame.px_per_mm;
    let light = Light::of(&page.grey, px_per_mm);
    let written = Strokes::of(&page.grey, &light, px_per_mm).area();
    let mut checks = Vec::new();
    if let Some(width) = edges::width(&page.grey, &light, px_per_mm) {
        checks.push(at_most(FitFault::Blur, width, MOST_EDGE));
    }
    checks.push(at_most(FitFault::Shadow, light.deepest_step(), MOST_STEP));
    checks.push(at_most(
        FitFault::Glare,
        glare(&page.grey, &light),
        MOST_GLARE,
    ));
    checks.push(at_least(FitFault::TooSmall, least_scale(page), LEAST_SCALE));
    if let Some(clearance) = page.edge_clearance {
        checks.push(at_least(FitFault::CutOff, clearance.0, 0.0));
    }
    checks.push(at_least(FitFault::TooDark, light.median(), LEAST_LIGHT));
    checks.push(at_least(FitFault::Blank, written, LEAST_WRITING));
    Fitness { checks }
}

/// Width of an ink edge, mm: contrast by steepest slope.
const MOST_EDGE: f64 = 0.62;
/// Share of the light lost across a few millimetres.
const MOST_STEP: f64 = 0.62;
/// Share of the page that is burnt out.
const MOST_GLARE: f64 = 0.02;
/// Photograph pixels for each millimetre: an x-height of 2 mm has nine rows.
const LEAST_SCALE: f64 = 4.5;
/// Grey level of the paper, 0 to 255.
const LEAST_LIGHT: f64 = 60.0;
/// Area of strokes that are neither rulings nor holes, mm².
const LEAST_WRITING: f64 = 12.0;

fn at_most(fault: FitFault, figure: f64, limit: f64) -> FitCheck {
    let figure = rounded(figure);
    FitCheck {
        fault,
        figure,
        limit,
        passed: figure <= limit,
    }
}

fn at_least(fault: FitFault, figure: f64, limit: f64) -> FitCheck {
    let figure = rounded(figure);
    FitCheck {
        fault,
        figure,
        limit,
        passed: figure >= limit,
    }
}

fn rounded(figure: f64) -> f64 {
    (figure * 1000.0).round() / 1000.0
}

/// Smallest number of photograph pixels for a millimetre, over the corners and the middle.
fn least_scale(page: &Page) -> f64 {
    let Some(mesh) = &page.frame.to_photo else {
        return page.frame.px_per_mm;
    };
    let size = (page.frame.width.0, page.frame.height.0);
    [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0), (0.5, 0.5)]
        .into_iter()
        .map(|at| crate::page::scale_at(mesh, size, at))
        .fold(f64::INFINITY, f64::min)
}

/// Share of the page whose pixels are all at the top of the scale, beside paper that is not.
fn glare(grey: &GrayImage, light: &Light) -> f64 {
    const BURNT: u8 = 251;
    if light.median() >= f64::from(BURNT) {
        return 0.0;
    }
    let burnt = light.cells(grey).filter(|cell| {
        let all: usize = cell.iter().map(|row| row.len()).sum();
        let white: usize = cell
            .iter()
            .map(|row| row.iter().filter(|&&v| v >= BURNT).count())
            .sum();
        white * 100 >= all * 98
    });
    burnt.count() as f64 / light.count() as f64
}
