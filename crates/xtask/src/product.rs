//! Building the product.

use crate::failure::Failure;
use crate::step::Step;

/// The screens, into `ui/dist`.
pub fn screens() -> Result<(), Failure> {
    Step::npm("ui", &["run", "build"]).run()
}

/// The programs of these packages.
pub fn programs(packages: &[&str]) -> Result<(), Failure> {
    let mut args = vec!["build"];
    for package in packages {
        args.extend(["-p", package]);
    }
    Step::cargo(&args).run()
}
