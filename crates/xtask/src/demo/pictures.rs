//! Pictures of the screens, taken with a browser that needs no display.

use std::fs;

use super::devices::Served;
use crate::failure::Failure;
use crate::place;
use crate::step::Step;

const SCRIPT: &str = include_str!("picture.mjs");

/// Takes the tutor's screens at the size of a laptop and the parent's at the size of a phone.
pub fn take(tutor: &Served, parent: &Served) -> Result<(), Failure> {
    let folder = place::root().join("demo/out/screens");
    fs::create_dir_all(&folder).map_err(|error| {
        Failure::new(
            format!("{} could not be made: {error}.", folder.display()),
            "Make room on the disk, then run this again.",
        )
    })?;
    let Some(browser) = place::browser() else {
        println!("\nNo pictures: no Chromium or Chrome was found.");
        return Ok(());
    };
    for (name, served, width, height) in [
        ("tutor", tutor, "1366", "768"),
        ("parent", parent, "390", "844"),
    ] {
        // Read from the folder of the screens, where the browser's remote control is installed.
        Step::new(format!("pictures of the {name}'s screens"), "node")
            .args(["--input-type=module", "--eval", SCRIPT, "--"])
            .args([browser.as_os_str()])
            .args([&served.address, width, height])
            .args([folder.join(name)])
            .dir(&place::root().join("ui"))
            .run()?;
    }
    Ok(())
}
