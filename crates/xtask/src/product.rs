//! Building the product.

use crate::failure::Failure;
use crate::step::Step;

/// What `cargo` is told so that building, testing and linting the whole workspace choose the same
/// features and none of them compiles a dependency anew.
pub const WHOLE: [&str; 3] = ["--workspace", "--features", "app/ts"];

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

/// Every program and every test.
pub fn everything() -> Result<(), Failure> {
    whole(&["build"], &["--all-targets"]).run()
}

/// cargo over the whole workspace.
pub fn whole(verb: &[&str], more: &[&str]) -> Step {
    Step::cargo(&[verb, &WHOLE, more].concat())
}
