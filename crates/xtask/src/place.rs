//! Where things lie: the folders of this repository and the programs on this machine.

use std::env;
use std::path::{Path, PathBuf};

/// The repository.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .ancestors()
        .nth(2)
        .expect("this crate lies two folders below the root")
        .to_path_buf()
}

/// The folder that cargo builds into.
pub fn target() -> PathBuf {
    env::var_os("CARGO_TARGET_DIR").map_or_else(|| root().join("target"), |dir| root().join(dir))
}

/// A program that cargo has built in the development profile.
pub fn built(name: &str) -> PathBuf {
    target()
        .join("debug")
        .join(format!("{name}{}", env::consts::EXE_SUFFIX))
}

/// The first program of this name on the search path.
pub fn program(name: &str) -> Option<PathBuf> {
    let file = format!("{name}{}", env::consts::EXE_SUFFIX);
    env::split_paths(&env::var_os("PATH")?)
        .map(|dir| dir.join(&file))
        .find(|path| path.is_file())
}

/// A browser that can be driven without a screen: Chromium or Chrome. `POTHOOK_CHROMIUM` names
/// another.
pub fn browser() -> Option<PathBuf> {
    const NAMES: [&str; 4] = [
        "chromium",
        "google-chrome",
        "google-chrome-stable",
        "chrome",
    ];
    const MAC: &str = "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome";
    env::var_os("POTHOOK_CHROMIUM")
        .map(PathBuf::from)
        .or_else(|| NAMES.iter().find_map(|name| program(name)))
        .or_else(|| Some(PathBuf::from(MAC)))
        .filter(|path| path.is_file())
}

/// Whether windows can be opened here.
pub fn has_display() -> bool {
    let set = |name| env::var_os(name).is_some_and(|value| !value.is_empty());
    !cfg!(target_os = "linux") || set("DISPLAY") || set("WAYLAND_DISPLAY")
}

/// npm under the name that this system starts it by.
pub const NPM: &str = if cfg!(windows) { "npm.cmd" } else { "npm" };
