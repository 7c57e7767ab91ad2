//! Whether a pupil's measures change by more than noise.
//!
//! Pure functions over (day, value, standard error). A pupil is compared with the same pupil's own
//! past and with nothing else. Task kinds are never mixed in one series (Rosenblum, Parush &
//! Weiss 2004, Reading and Writing 17:433-458).
//!
//! [`judge`] is to be trusted over a year: where nothing changes, *more than noise* is shown in some
//! week of at most one year in twenty, although eighteen measures in up to three task kinds are
//! looked at again with every page; in at most one year in ten where pages carry over from one to
//! the next (0.3). Simulated years hold it to that (`tests/casefile/noise_years.rs`). The price is
//! power: a change has to be large, or to last, before it is called one.
//!
//! | file | statistic | source |
//! |---|---|---|
//! | `theil_sen` | slope and its interval | Sen 1968, J. Am. Stat. Assoc. 63:1379-1389 |
//! | `mann_kendall` | test of trend, with ties | Mann 1945, Econometrica 13:245-259; Kendall 1970, Rank Correlation Methods |
//! | `noise` | spread about the trend | repeatability as in NIST/SEMATECH e-Handbook 2.4.4.4 |
//! | `autocorrelation` | what pages carry over | Hamed & Rao 1998, J. Hydrol. 204:182-196 |
//! | `holm` | correction for many measures | Holm 1979, Scand. J. Stat. 6:65-70 |
//! | `looks` | correction for looking every week | after Lan & DeMets 1983, Biometrika 70:659-663 |
//! | `nap`, `focus` | pages after a focus against pages before | Parker & Vannest 2009, Behav. Ther. 40:357-367 |
//! | `icc` | agreement | Shrout & Fleiss 1979, Psychol. Bull. 86:420-428 |
//! | `sem` | error of one page, least change between two | Weir 2005, J. Strength Cond. Res. 19:231-240 |

mod autocorrelation;
mod better;
mod focus;
mod holm;
mod icc;
mod looks;
mod mann_kendall;
mod nap;
mod noise;
mod normal;
mod sem;
mod theil_sen;
mod verdict;

pub use better::{Better, better};
pub use focus::{AroundFocus, around_focus};
pub use holm::holm;
pub use icc::{Icc, icc};
pub use mann_kendall::{MannKendall, mann_kendall};
pub use nap::nap;
pub use noise::{camera_noise, pooled_sd, spread_about};
pub use sem::{mdc95, sem};
pub use theil_sen::{TheilSen, theil_sen};
pub use verdict::{Direction, Judged, MIN_PAGES, Point, Series, Verdict, judge};

/// The middle value, or the mean of the two middle ones. `sorted` is not empty.
fn median(sorted: &[f64]) -> f64 {
    let middle = sorted.len() / 2;
    if sorted.len() % 2 == 1 {
        sorted[middle]
    } else {
        (sorted[middle - 1] + sorted[middle]) / 2.0
    }
}

/// Exact on every platform, which `powi` does not promise.
fn square(number: f64) -> f64 {
    number * number
}
