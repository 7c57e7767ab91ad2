//! Programs and libraries of the system.

use std::env;
use std::fs;
use std::process::{Command, Stdio};

use crate::failure::Failure;
use crate::place;
use crate::step::Step;

/// Something that must be on the machine, and the Debian package that brings it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Need {
    /// A program on the search path.
    Program {
        /// Its name.
        name: &'static str,
        /// The package.
        package: &'static str,
    },
    /// A library with its headers, as pkg-config knows it.
    Library {
        /// Its pkg-config name.
        name: &'static str,
        /// The package.
        package: &'static str,
    },
    /// A file at a fixed place.
    File {
        /// Its path.
        path: &'static str,
        /// The package.
        package: &'static str,
    },
    /// A module that Debian leaves out of its Python.
    PythonModule {
        /// Its name.
        name: &'static str,
        /// The package.
        package: &'static str,
    },
    /// Chromium or Chrome.
    Browser,
}

impl Need {
    /// A program and its package.
    pub const fn program(name: &'static str, package: &'static str) -> Self {
        Self::Program { name, package }
    }

    /// A library and its package.
    pub const fn library(name: &'static str, package: &'static str) -> Self {
        Self::Library { name, package }
    }

    /// A file and its package.
    pub const fn file(path: &'static str, package: &'static str) -> Self {
        Self::File { path, package }
    }

    fn package(self) -> &'static str {
        match self {
            Self::Program { package, .. }
            | Self::Library { package, .. }
            | Self::File { package, .. }
            | Self::PythonModule { package, .. } => package,
            Self::Browser => "chromium",
        }
    }

    fn is_met(self) -> bool {
        match self {
            Self::Program { name, .. } => place::program(name).is_some(),
            Self::Library { name, .. } => succeeds("pkg-config", &["--exists", name]),
            Self::File { path, .. } => std::path::Path::new(path).is_file(),
            Self::PythonModule { name, .. } => {
                succeeds("python3", &["-c", &format!("import {name}")])
            }
            Self::Browser => place::browser().is_some(),
        }
    }
}

fn succeeds(program: &str, args: &[&str]) -> bool {
    Command::new(program)
        .args(args)
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}

/// How packages are installed here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Family {
    Debian,
    Ubuntu,
    OtherLinux,
    NotLinux,
}

/// Installs what of the needs is not met, after saying so.
pub fn ready(needs: &[Need]) -> Result<(), Failure> {
    let family = family(
        env::consts::OS,
        &fs::read_to_string("/etc/os-release").unwrap_or_default(),
    );
    let missing: Vec<Need> = needs
        .iter()
        .copied()
        .filter(|need| concerns(family, *need) && !need.is_met())
        .collect();
    if missing.is_empty() {
        return Ok(());
    }
    let packages = packages(&missing);
    can_install(family, &packages)?;
    install(&packages)?;
    match missing.iter().find(|need| !need.is_met()) {
        None => Ok(()),
        Some(need) => Err(Failure::new(
            format!(
                "The package {} was installed, but what it should bring is still not found ({need:?}).",
                need.package()
            ),
            "Open a new terminal so that the search path is read again, then run this again.",
        )),
    }
}

/// The packages of these needs, each once, in order.
fn packages(missing: &[Need]) -> Vec<&'static str> {
    let mut packages = Vec::new();
    for need in missing {
        if !packages.contains(&need.package()) {
            packages.push(need.package());
        }
    }
    packages
}

/// Outside Linux the web view is part of the system and the window is not driven, so only the
/// browser is looked for.
fn concerns(family: Family, need: Need) -> bool {
    family != Family::NotLinux || need == Need::Browser
}

fn family(os: &str, os_release: &str) -> Family {
    if os != "linux" {
        return Family::NotLinux;
    }
    let names: Vec<&str> = os_release
        .lines()
        .filter_map(|line| {
            line.strip_prefix("ID=")
                .or_else(|| line.strip_prefix("ID_LIKE="))
        })
        .flat_map(|value| value.trim_matches('"').split_whitespace())
        .collect();
    if names.contains(&"ubuntu") {
        Family::Ubuntu
    } else if names.contains(&"debian") {
        Family::Debian
    } else {
        Family::OtherLinux
    }
}

fn can_install(family: Family, packages: &[&str]) -> Result<(), Failure> {
    let list = packages.join(" ");
    match family {
        Family::Debian => Ok(()),
        Family::Ubuntu if packages.contains(&"chromium") => Err(Failure::new(
            "No Chromium or Chrome was found, and Ubuntu's own package only points to a snap.",
            "Install Chrome's .deb or run `sudo snap install chromium`, or set POTHOOK_CHROMIUM to \
             a browser of that family; then run this again.",
        )),
        Family::Ubuntu => Ok(()),
        Family::OtherLinux => Err(Failure::new(
            "Something is missing, and this is neither Debian nor Ubuntu.",
            format!(
                "Install what corresponds to these Debian packages, then run this again: {list}"
            ),
        )),
        Family::NotLinux => Err(Failure::new(
            "No Chromium or Chrome was found.",
            "Install Chrome or set POTHOOK_CHROMIUM to a browser of that family; then run this \
             again. README.md says what else this system needs.",
        )),
    }
}

fn install(packages: &[&str]) -> Result<(), Failure> {
    println!(
        "\nSome Debian packages are missing. These will be installed now with apt-get, together \
         with what they depend on:\n  {}",
        packages.join(" ")
    );
    let as_root = is_root();
    if !as_root && place::program("sudo").is_none() {
        return Err(Failure::new(
            "Installing packages needs root, and sudo is not here.",
            format!(
                "Run this as root, or have these installed: apt-get install \
                 --no-install-recommends {}",
                packages.join(" ")
            ),
        ));
    }
    let apt = |title: &str, args: &[&str]| {
        let step = if as_root {
            Step::new(title, "env")
        } else {
            Step::new(title, "sudo").args(["env"])
        };
        step.args(["DEBIAN_FRONTEND=noninteractive", "apt-get"])
            .args(args)
            .run()
    };
    apt("apt-get update", &["update", "-q"])?;
    let mut args = vec!["install", "-q", "-y", "--no-install-recommends"];
    args.extend(packages);
    apt("apt-get install", &args)
}

fn is_root() -> bool {
    Command::new("id")
        .arg("-u")
        .output()
        .is_ok_and(|output| output.stdout.trim_ascii() == b"0")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn systems_are_told_apart_by_os_release() {
        // Lines as `man 5 os-release` (freedesktop.org) describes them.
        let family_of = |text| family("linux", text);
        assert_eq!(family_of("ID=debian\nVERSION_ID=\"12\"\n"), Family::Debian);
        assert_eq!(family_of("ID=ubuntu\nID_LIKE=debian\n"), Family::Ubuntu);
        assert_eq!(
            family_of("ID=linuxmint\nID_LIKE=\"ubuntu debian\"\n"),
            Family::Ubuntu
        );
        assert_eq!(family_of("ID=fedora\n"), Family::OtherLinux);
        assert_eq!(family("macos", ""), Family::NotLinux);
    }

    #[test]
    fn a_missing_program_asks_for_its_package_once() {
        let absent = Need::program("no-such-program-anywhere", "some-package");
        assert!(!absent.is_met());
        assert_eq!(packages(&[absent, absent]), ["some-package"]);
    }

    #[test]
    fn other_systems_are_told_what_to_install() {
        let said = can_install(Family::OtherLinux, &["xvfb", "xauth"]).unwrap_err();
        assert!(said.what_to_do.ends_with("xvfb xauth"), "{said}");
        let said = can_install(Family::Ubuntu, &["chromium"]).unwrap_err();
        assert!(said.what_to_do.contains("POTHOOK_CHROMIUM"), "{said}");
        assert_eq!(can_install(Family::Ubuntu, &["xvfb"]), Ok(()));
        assert_eq!(can_install(Family::Debian, &["chromium"]), Ok(()));
    }

    #[test]
    fn only_the_browser_is_looked_for_outside_linux() {
        assert!(!concerns(Family::NotLinux, Need::program("cc", "x")));
        assert!(concerns(Family::NotLinux, Need::Browser));
    }
}
