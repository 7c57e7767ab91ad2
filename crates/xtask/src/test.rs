//! `cargo xtask test`: every test there is, stopping at the first that fails.

mod private;

use std::path::PathBuf;

use crate::failure::Failure;
use crate::step::Step;
use crate::tally::Tally;
use crate::{place, product, setup};
use private::PrivateHome;

/// Screens, Rust tests, then the product driven from outside: in a browser and in its own window.
pub fn run() -> Result<(), Failure> {
    setup::ready(&[
        setup::BUILD,
        setup::WINDOW,
        setup::BROWSER,
        setup::DRIVEN_WINDOW,
    ])?;
    product::screens()?;
    Step::npm("ui", &["run", "check"]).run()?;
    Step::npm("ui", &["test"]).run()?;
    product::everything()?;
    let (mut rust, mut outside) = (Tally::default(), Tally::default());
    let tested = product::whole(&["test"], &[])
        .count(&mut rust)
        .and_then(|()| browser(&mut outside))
        .and_then(|()| phone(&mut outside))
        .and_then(|()| way_back(&mut outside))
        .and_then(|()| window(&mut outside));
    println!(
        "\nRust: {rust}\nEnd to end: {outside}\n{}",
        rust.and(outside)
    );
    tested
}

fn browser(tally: &mut Tally) -> Result<(), Failure> {
    driven(
        Step::new("the screens in a browser", "node"),
        "browser.mjs",
        tally,
    )
}

fn phone(tally: &mut Tally) -> Result<(), Failure> {
    driven(Step::new("the page on a phone", "node"), "phone.mjs", tally)
}

fn way_back(tally: &mut Tally) -> Result<(), Failure> {
    driven(
        Step::new("the way back by the key on paper", "node"),
        "return.mjs",
        tally,
    )
}

fn window(tally: &mut Tally) -> Result<(), Failure> {
    if !cfg!(target_os = "linux") {
        println!("\nNot run here: the real window can be driven on Linux only.");
        return Ok(());
    }
    let driver = setup::driver::ready()?;
    let step = Step::new("the real window", "xvfb-run")
        .args(["-a", "dbus-run-session", "--", "node"])
        .env("POTHOOK_TAURI_DRIVER", driver)
        .without_env("WAYLAND_DISPLAY");
    driven(step, "window.mjs", tally)
}

/// Runs one script of `ui/e2e` with the programs named to it, in a home of its own.
fn driven(step: Step, script: &str, tally: &mut Tally) -> Result<(), Failure> {
    let home = PrivateHome::new()?;
    let browser: PathBuf = place::browser().unwrap_or_default();
    let before = *tally;
    let ended = step
        .args([place::root().join("ui/e2e").join(script)])
        .env("HOME", home.path())
        .env("XDG_RUNTIME_DIR", home.path().join("runtime"))
        .without_env("XDG_DATA_HOME")
        .without_env("XDG_CONFIG_HOME")
        .without_env("XDG_CACHE_HOME")
        .env("POTHOOK_KEY_FILE", home.path().join("key"))
        .env("POTHOOK_BIN", place::built("pothook"))
        .env("POTHOOK_DESKTOP_BIN", place::built("pothook-desktop"))
        .env("POTHOOK_CHROMIUM", browser)
        .env("POTHOOK_PAGES", place::root().join("tests/pages"))
        .count(tally);
    if ended.is_ok() && *tally == before {
        return Err(Failure::new(
            format!("{script} ended well but did not say how many of its checks passed."),
            "Let it end with a line such as `5 passed, 0 failed`.",
        ));
    }
    ended
}
