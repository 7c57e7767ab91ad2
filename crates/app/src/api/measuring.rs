//! Measuring a photograph without keeping it.

use units::{Fitness, Reading};

use super::{FitAdvice, transfer};

transfer! {
    /// A photograph measured.
    pub struct Measured {
        /// What was found.
        pub reading: Reading,
        /// Fitness with advice.
        pub checks: Vec<FitAdvice>,
    }
}

/// Sentences for the checks of a photograph.
pub(crate) fn advise(fitness: &Fitness) -> Vec<FitAdvice> {
    fitness
        .checks
        .iter()
        .map(|check| FitAdvice {
            check: check.clone(),
            advice: if check.passed {
                String::new()
            } else {
                sentence(check.fault).to_owned()
            },
        })
        .collect()
}

fn sentence(fault: units::FitFault) -> &'static str {
    use units::FitFault;
    match fault {
        FitFault::Blur => {
            "The letters are not sharp: go nearer, hold still, tap the page on the screen to focus, \
             and take it again."
        }
        FitFault::Shadow => {
            "A dark shadow crosses the page: let the light come from the side where your hand is \
             not, and take it again."
        }
        FitFault::Glare => {
            "A bright patch hides some of the writing: turn the page or move it away from the lamp \
             until the patch is gone, and take it again."
        }
        FitFault::TooSmall => {
            "The letters are small in the picture: go nearer until the page fills it, and take it \
             again."
        }
        FitFault::CutOff => {
            "Part of the page is outside the picture: go back a little until all four corners show, \
             and take it again."
        }
        FitFault::TooDark => {
            "The picture is too dark: go to a window or switch on a lamp, leave the flash off, and \
             take it again."
        }
        FitFault::Blank => {
            "No writing was found on the page: see whether the written side is up, and take it \
             again."
        }
    }
}
