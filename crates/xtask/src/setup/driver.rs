//! The program that lets a test drive the real window.

use std::path::PathBuf;

use crate::failure::Failure;
use crate::place;
use crate::step::Step;

const VERSION: &str = "2.1.0";

/// Builds the driver once, inside the target folder, and says where it is.
pub fn ready() -> Result<PathBuf, Failure> {
    let home = place::target()
        .join("tools")
        .join(format!("tauri-driver-{VERSION}"));
    let driver = home
        .join("bin")
        .join(format!("tauri-driver{}", std::env::consts::EXE_SUFFIX));
    if !driver.is_file() {
        println!(
            "\nThe window's test driver is missing. tauri-driver {VERSION} will be built from \
             crates.io now, into {} only.",
            home.display()
        );
        Step::new(format!("cargo install tauri-driver@{VERSION}"), "cargo")
            .args(["install", "--locked", "--root"])
            .args([home.as_os_str()])
            .args([format!("tauri-driver@{VERSION}")])
            .run()?;
    }
    Ok(driver)
}
