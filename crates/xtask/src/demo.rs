//! `cargo xtask demo`: from nothing to both devices open on an invented practice.

mod devices;
mod pictures;
mod practice;

use crate::failure::Failure;
use crate::{place, product, setup};

/// Sets up, builds, makes the practice, prints what one pupil's pages show, and opens the tutor's
/// and the parent's device: as windows where there is a display, otherwise in the browser, with
/// pictures of the screens. `once` takes the pictures and ends.
pub fn run(once: bool) -> Result<(), Failure> {
    let windows = !once && place::has_display();
    if windows {
        setup::ready(&[setup::BUILD, setup::WINDOW])?;
    } else {
        setup::ready(&[setup::BUILD, setup::BROWSER])?;
    }
    product::screens()?;
    product::programs(if windows {
        &["demo", "pothook", "pothook-desktop"]
    } else {
        &["demo", "pothook"]
    })?;
    practice::ready()?;
    practice::show()?;
    if windows {
        return devices::windows();
    }
    let [tutor, parent] = devices::served()?;
    println!(
        "\nBoth devices are open:\n  tutor   {}\n  parent  {}",
        tutor.address, parent.address
    );
    pictures::take(&tutor, &parent)?;
    if once {
        return Ok(());
    }
    println!("\nOpen these addresses in a browser on this machine. Ctrl-C ends both.");
    tutor.wait_with(parent)
}
