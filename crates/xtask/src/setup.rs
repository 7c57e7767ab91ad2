//! Set-up: what a chore needs from the machine is looked for, what is missing is named, and on
//! Debian and Ubuntu it is installed.

pub mod driver;
pub mod npm;
pub mod python;
pub mod system;
pub mod tool;

use crate::failure::Failure;
use system::Need;

/// To build the command line and the tests.
pub const BUILD: &[Need] = &[
    Need::program("cc", "build-essential"),
    Need::program("pkg-config", "pkg-config"),
    // The database's ciphers.
    Need::library("libcrypto", "libssl-dev"),
];
/// To build the window as well.
pub const WINDOW: &[Need] = &[Need::library("webkit2gtk-4.1", "libwebkit2gtk-4.1-dev")];
/// To look at the screens in a browser.
pub const BROWSER: &[Need] = &[Need::Browser];
/// To drive the real window where there is no display.
pub const DRIVEN_WINDOW: &[Need] = &[
    Need::program("xvfb-run", "xvfb"),
    Need::program("xauth", "xauth"),
    Need::program("dbus-run-session", "dbus"),
    Need::program("WebKitWebDriver", "webkit2gtk-driver"),
];

/// Makes the machine ready: system packages for the needs, then the npm packages of the screens
/// and of the demonstration's typefaces.
pub fn ready(needs: &[&[Need]]) -> Result<(), Failure> {
    system::ready(&needs.concat())?;
    npm::ready("ui")?;
    npm::ready("demo/fonts")
}

/// Everything that any chore needs.
pub fn run() -> Result<(), Failure> {
    ready(&[BUILD, WINDOW, BROWSER, DRIVEN_WINDOW])?;
    driver::ready()?;
    println!("Ready: nothing is missing for demo, test and lint.");
    Ok(())
}
