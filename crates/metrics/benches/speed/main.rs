//! How long reading a page takes, as ratios: to decoding the same file, and to what widely used
//! libraries take for the same step on the same pixels. One thread; every figure is the median of
//! ten rounds of processor time, and everything compared takes turns within a round, so that other
//! work on the machine weighs on all of it alike.
//!
//! `cargo xtask bench` runs this, with the libraries to compare with beside it.

mod adversarial;
#[allow(dead_code)] // The tests of bad pictures want more of it.
#[path = "../../tests/bad_pictures/pages.rs"]
mod bad;
mod clock;
mod memory;
mod peers;
mod photos;
mod steps;
mod table;
mod whole;

use std::path::PathBuf;
use std::process::ExitCode;

use table::Table;

/// What the command line asks for.
#[derive(Default)]
struct Asked {
    /// The time of every stage, instead of the comparison.
    stages: bool,
    /// A Python that has the other libraries.
    peers: Option<PathBuf>,
    /// Read one photograph and tell how much memory that took.
    read_once: Option<PathBuf>,
    /// Only the pages that no pupil writes.
    worst: bool,
    /// Read one photograph and its kept page, whatever they show, and tell what that took.
    adversarial: Option<PathBuf>,
}

impl Asked {
    fn from(mut args: impl Iterator<Item = String>) -> Result<Self, String> {
        let mut asked = Self::default();
        while let Some(arg) = args.next() {
            let mut path = || args.next().map(PathBuf::from).ok_or("a path is missing");
            match arg.as_str() {
                "--stages" => asked.stages = true,
                "--worst" => asked.worst = true,
                "--peers" => asked.peers = Some(path()?),
                "--read-once" => asked.read_once = Some(path()?),
                "--adversarial" => asked.adversarial = Some(path()?),
                // cargo says this to every benchmark.
                "--bench" => {}
                other => return Err(format!("{other} is not understood")),
            }
        }
        Ok(asked)
    }
}

fn main() -> ExitCode {
    match Asked::from(std::env::args().skip(1)).and_then(run) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => {
            eprintln!("A limit is broken: see the rows marked “over”.");
            ExitCode::FAILURE
        }
        Err(why) => {
            eprintln!("{why}");
            ExitCode::FAILURE
        }
    }
}

/// Whether every limit holds.
fn run(asked: Asked) -> Result<bool, String> {
    if let Some(photo) = asked.read_once {
        return memory::read_once(&photo).map(|()| true);
    }
    if let Some(folder) = asked.adversarial {
        return adversarial::read_once(&folder).map(|()| true);
    }
    let photos = photos::draw()?;
    if asked.stages {
        print!("{}", clock::stages(&photos[photos::USUAL..=photos::USUAL]));
        return Ok(true);
    }
    let mut table = Table::default();
    if !asked.worst {
        whole::compare(&photos, &mut table);
        memory::compare(&photos, &mut table)?;
    }
    adversarial::compare(&photos[photos::USUAL], &mut table)?;
    if let Some(python) = asked.peers.filter(|_| !asked.worst) {
        steps::compare(&photos, &python, &mut table)?;
    }
    table.write()?;
    print!("{table}");
    Ok(table.holds())
}
