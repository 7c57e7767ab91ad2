//! Mathematical functions beyond the four operations and the square root. A platform's own library
//! may round their last bit differently; these come from the `libm` crate and are the same
//! everywhere. `clippy.toml` of this crate refuses the others, except in tests.

pub(crate) use libm::{atan, exp, hypot, log as ln, log1p as ln_1p};

/// x².
pub(crate) fn square(x: f64) -> f64 {
    x * x
}
