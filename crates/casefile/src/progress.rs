//! Whether a pupil's measures change by more than noise.
//!
//! Pure functions over (day, value, standard error). A pupil is compared with the same pupil's own
//! past and with nothing else. Task kinds are never mixed in one series (Rosenblum, Parush &
//! Weiss 2004, Reading and Writing 17:433-458).
//!
//! [`judge`] answers for the pages there are at one moment. Its error rate holds for one look; who
//! looks anew every week and stops at the first good news will be misled more often.
//!
//! | file | statistic | source |
//! |---|---|---|
//! | `theil_sen` | slope and its interval | Sen 1968, J. Am. Stat. Assoc. 63:1379-1389 |
//! | `mann_kendall` | test of trend, with ties | Mann 1945, Econometrica 13:245-259; Kendall 1970, Rank Correlation Methods |
//! | `noise` | spread about the trend | repeatability as in NIST/SEMATECH e-Handbook 2.4.4.4 |
//! | `holm` | correction for many measures | Holm 1979, Scand. J. Stat. 6:65-70 |
//! | `nap` | pages after a focus against pages before | Parker & Vannest 2009, Behav. Ther. 40:357-367 |
//! | `icc` | agreement | Shrout & Fleiss 1979, Psychol. Bull. 86:420-428 |
//! | `sem` | error of one page, least change between two | Weir 2005, J. Strength Cond. Res. 19:231-240 |

mod better;
mod holm;
mod icc;
mod mann_kendall;
mod nap;
mod noise;
mod normal;
mod sem;
mod theil_sen;
mod verdict;

pub use better::{Better, better};
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
