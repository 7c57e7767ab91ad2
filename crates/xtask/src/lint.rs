//! `cargo xtask lint`: everything that can be said without running the product.

use crate::failure::Failure;
use crate::step::Step;
use crate::{bindings, product, setup, tidy};

/// Form, warnings, types of the screens, generated types, and the rules of the project.
pub fn run() -> Result<(), Failure> {
    setup::ready(&[setup::BUILD, setup::WINDOW])?;
    tidy::run()?;
    Step::cargo(&["fmt", "--all", "--check"]).run()?;
    // The window's crate takes the built screens in while it is compiled.
    product::screens()?;
    product::whole(&["clippy"], &["--all-targets", "--", "-D", "warnings"]).run()?;
    Step::npm("ui", &["run", "check"]).run()?;
    bindings::check()?;
    println!("\nLint: nothing to complain of.");
    Ok(())
}
