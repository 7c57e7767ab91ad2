//! npm packages, exactly as their lock file has them.

use std::fs;
use std::path::Path;
use std::time::SystemTime;

use crate::failure::Failure;
use crate::place;
use crate::step::Step;

/// The oldest Node that the screens are built with.
const NODE: u32 = 20;

/// Installs the packages of a folder when they are missing or older than the lock file.
pub fn ready(folder: &str) -> Result<(), Failure> {
    let dir = place::root().join(folder);
    if is_current(&dir) {
        return Ok(());
    }
    node_is_new_enough()?;
    println!(
        "\nThe npm packages of {folder} are missing or older than its lock file. They will be \
         installed now, into {folder}/node_modules only."
    );
    Step::npm(folder, &["ci", "--include=dev", "--no-audit", "--no-fund"]).run()
}

/// npm leaves a copy of the lock beside what it installed; that is the younger of the two as long
/// as nothing has changed.
fn is_current(dir: &Path) -> bool {
    let changed =
        |path: &str| -> Option<SystemTime> { fs::metadata(dir.join(path)).ok()?.modified().ok() };
    match (
        changed("package-lock.json"),
        changed("node_modules/.package-lock.json"),
    ) {
        (Some(lock), Some(installed)) => lock <= installed,
        _ => false,
    }
}

fn node_is_new_enough() -> Result<(), Failure> {
    let what_to_do = format!("Install Node {NODE} or newer with npm, then run this again.");
    if place::program("node").is_none() {
        return Err(Failure::new("Node is not here.", what_to_do));
    }
    let version = Step::new("node --version", "node")
        .args(["--version"])
        .output()?;
    match major(&version) {
        Some(major) if major >= NODE => Ok(()),
        _ => Err(Failure::new(
            format!("Node {} is too old.", version.trim()),
            what_to_do,
        )),
    }
}

fn major(version: &str) -> Option<u32> {
    version
        .trim()
        .strip_prefix('v')?
        .split('.')
        .next()?
        .parse()
        .ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs::File;
    use std::time::Duration;

    #[test]
    fn the_major_version_is_read() {
        assert_eq!(major("v20.20.2\n"), Some(20));
        assert_eq!(major("nonsense"), None);
    }

    #[test]
    fn a_newer_lock_asks_for_an_install() {
        let dir = std::env::temp_dir().join(format!("pothook-npm-{}", std::process::id()));
        fs::create_dir_all(dir.join("node_modules")).unwrap();
        assert!(!is_current(&dir), "nothing is installed yet");
        let lock = File::create(dir.join("package-lock.json")).unwrap();
        let installed = File::create(dir.join("node_modules/.package-lock.json")).unwrap();
        let then = SystemTime::UNIX_EPOCH + Duration::from_secs(1_000_000);
        lock.set_modified(then).unwrap();
        installed
            .set_modified(then + Duration::from_secs(9))
            .unwrap();
        assert!(is_current(&dir));
        lock.set_modified(then + Duration::from_secs(99)).unwrap();
        assert!(!is_current(&dir));
        fs::remove_dir_all(&dir).unwrap();
    }
}
