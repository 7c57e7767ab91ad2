//! Programs that crates.io has the source of, built once inside the target folder.

use std::path::PathBuf;

use crate::failure::Failure;
use crate::place;
use crate::step::Step;

/// Builds a tool unless it is there, and gives the folder that holds the program. `what` names it
/// to the reader.
pub fn ready(name: &str, version: &str, what: &str) -> Result<PathBuf, Failure> {
    let home = place::target()
        .join("tools")
        .join(format!("{name}-{version}"));
    let folder = home.join("bin");
    let program = folder.join(format!("{name}{}", std::env::consts::EXE_SUFFIX));
    if !program.is_file() {
        println!(
            "\n{what} is missing. {name} {version} will be built from crates.io now, into {} only.",
            home.display()
        );
        Step::new(format!("cargo install {name}@{version}"), "cargo")
            .args(["install", "--locked", "--root"])
            .args([home.as_os_str()])
            .args([format!("{name}@{version}")])
            .run()?;
    }
    Ok(folder)
}
