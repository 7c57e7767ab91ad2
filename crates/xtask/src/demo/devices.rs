//! Opening the two devices.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread;

use super::practice;
use crate::failure::Failure;
use crate::place;

/// A device served as a local web page; ends when dropped.
pub struct Served {
    /// The address to open, with its secret.
    pub address: String,
    child: Child,
}

impl Served {
    /// Keeps both going until one ends.
    pub fn wait_with(mut self, other: Self) -> Result<(), Failure> {
        let ended = self.child.wait();
        drop(other);
        match ended {
            Ok(status) if status.success() => Ok(()),
            Ok(status) => Err(Failure::new(
                format!("The tutor's device ended with {status}."),
                "What it printed above says why.",
            )),
            Err(error) => Err(absent(&error)),
        }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        // It may have ended by itself, which is just as well.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Serves the tutor's and the parent's device.
pub fn served() -> Result<[Served; 2], Failure> {
    Ok([serve(&practice::tutor())?, serve(&practice::parent())?])
}

fn serve(data: &Path) -> Result<Served, Failure> {
    let mut child = Command::new(place::built("pothook"))
        .env("POTHOOK_KEY_FILE", practice::key_file())
        .arg("--data")
        .arg(data)
        .args(["serve", "--port", "0"])
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .spawn()
        .map_err(|error| absent(&error))?;
    let mut lines = child
        .stdout
        .take()
        .map(BufReader::new)
        .into_iter()
        .flat_map(BufRead::lines)
        .map_while(Result::ok);
    let found = lines.by_ref().find_map(|line| address_in(&line));
    // The pipe must be emptied, or the program would stop once it is full.
    thread::spawn(move || lines.for_each(drop));
    let served = Served {
        address: found.clone().unwrap_or_default(),
        child,
    };
    match found {
        Some(_) => Ok(served),
        None => Err(Failure::new(
            format!("The device in {} did not open.", data.display()),
            "What it printed above says why; another program may be using that folder.",
        )),
    }
}

/// The web address in a line such as `Open http://127.0.0.1:4000/#s=…`.
fn address_in(line: &str) -> Option<String> {
    let start = line.find("http://127.0.0.1:")?;
    line[start..].split_whitespace().next().map(str::to_owned)
}

/// Opens both devices as windows and waits until both are closed.
pub fn windows() -> Result<(), Failure> {
    println!("\nTwo windows open: the tutor's device and the parent's. Close both to end.");
    let mut open = Vec::new();
    for data in [practice::tutor(), practice::parent()] {
        let window = Command::new(place::built("pothook-desktop"))
            .env("POTHOOK_KEY_FILE", practice::key_file())
            .arg("--data")
            .arg(data)
            .spawn()
            .map_err(|error| absent(&error))?;
        open.push(window);
    }
    for mut window in open {
        let status = window.wait().map_err(|error| absent(&error))?;
        if !status.success() {
            return Err(Failure::new(
                format!("A window ended with {status}."),
                "What it printed above says why. `cargo xtask demo --once` does without windows.",
            ));
        }
    }
    Ok(())
}

fn absent(error: &std::io::Error) -> Failure {
    Failure::new(
        format!("A program that was just built could not be started: {error}."),
        "Run this again; if it stays so, delete the target folder first.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_address_is_found_in_what_the_program_prints() {
        assert_eq!(
            address_in("Open http://127.0.0.1:40123/#s=abc in a browser"),
            Some("http://127.0.0.1:40123/#s=abc".into())
        );
        assert_eq!(address_in("Waiting for the other device."), None);
    }
}
