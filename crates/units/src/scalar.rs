//! Lengths, angles and ratios as newtypes, so that millimetres never meet pixels by accident.

use serde::{Deserialize, Serialize};

macro_rules! scalar {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[cfg_attr(feature = "ts", derive(ts_rs::TS))]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl core::ops::Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl core::ops::Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl core::ops::Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }

        impl core::ops::Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }
    };
}

scalar! {
    /// Millimetres on the flat sheet; x along the ruling to the right, y down.
    Mm
}
scalar! {
    /// Degrees. Slant: from upright, positive leans forward. Drift: positive climbs.
    Degrees
}
scalar! {
    /// A pure number: a share (0 to 1), a coefficient of variation, a proportion.
    Ratio
}
