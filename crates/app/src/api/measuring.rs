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
            "The letters are not sharp: hold still, tap the page on the screen to focus, and take \
             it again."
        }
        FitFault::Shadow => {
            "A shadow lies over the page: turn so that the light comes from the side, and take it \
             again."
        }
        FitFault::Glare => {
            "Light is mirrored on the page: tilt the paper away from the lamp, and take it again."
        }
        FitFault::TooSmall => {
            "The page is too small in the picture: go nearer so that it fills the frame, and take \
             it again."
        }
        FitFault::CutOff => {
            "Part of the page is outside the picture: go back a little so that all four corners \
             show, and take it again."
        }
        FitFault::TooDark => {
            "The picture is too dark: take it by a window or a lamp, without flash."
        }
        FitFault::Blank => {
            "No writing was found on the page: is it the right page, and the right way up?"
        }
    }
}
