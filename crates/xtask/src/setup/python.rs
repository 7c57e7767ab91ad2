//! Python packages of other libraries that this project is compared with, in a folder of their own.

use std::fs;
use std::path::PathBuf;

use super::system::{self, Need};
use crate::failure::Failure;
use crate::place;
use crate::step::Step;

const NEEDS: &[Need] = &[
    Need::program("python3", "python3"),
    Need::PythonModule {
        name: "ensurepip",
        package: "python3-venv",
    },
];

/// Installs what a list of packages names into `target/tools`, unless the same list has been
/// installed already, and says where that Python is.
pub fn ready(name: &str, list: &str) -> Result<PathBuf, Failure> {
    let wanted = fs::read_to_string(place::root().join(list))
        .map_err(|error| Failure::new(format!("{list}: {error}."), "Put that file back."))?;
    let home = place::target().join("tools").join(name);
    let python = home.join(if cfg!(windows) {
        "Scripts/python.exe"
    } else {
        "bin/python"
    });
    let installed = home.join("installed.txt");
    if fs::read_to_string(&installed).is_ok_and(|had| had == wanted) {
        return Ok(python);
    }
    system::ready(NEEDS)?;
    println!(
        "\nThe Python packages of {list} will be installed from PyPI now, into {} only.",
        home.display()
    );
    Step::new("python3 -m venv", "python3")
        .args(["-m", "venv", "--clear"])
        .args([&home])
        .run()?;
    Step::new(format!("pip install -r {list}"), &python)
        .args([
            "-m",
            "pip",
            "install",
            "--quiet",
            "--disable-pip-version-check",
        ])
        .args(["--only-binary=:all:", "-r", list])
        .run()?;
    fs::write(&installed, wanted).map_err(|error| {
        Failure::new(
            format!("{} could not be written: {error}.", installed.display()),
            "Make room on the disk or set CARGO_TARGET_DIR to another one, then run this again.",
        )
    })?;
    Ok(python)
}
