//! The machine's own answers: reads every page of the folders named on the command line, and leaves
//! in the folder named first, for each, what is expected of it (`.expect.json`), the answer
//! (`.answer.json`), and a list of all with the processor time that each took.

use std::fs;
use std::path::{Path, PathBuf};

use cpu_time::ProcessTime;
use demo::manifest::{Entry, Manifest};
use serde::Serialize;

/// One page read.
#[derive(Serialize)]
struct Read {
    photo: PathBuf,
    expect: PathBuf,
    answer: PathBuf,
    milliseconds: f64,
}

type Failure = Box<dyn std::error::Error>;

fn main() -> Result<(), Failure> {
    let mut folders = std::env::args_os().skip(1).map(PathBuf::from);
    let out = folders.next().ok_or("which folder to write to?")?;
    fs::create_dir_all(&out)?;
    let mut all = Vec::new();
    for (number, folder) in folders.enumerate() {
        let manifest = fs::read(folder.join("manifest.json"))?;
        let manifest: Manifest = serde_json::from_slice(&manifest)?;
        for known in &manifest.pages {
            let name = format!("{number}-{}", known.id);
            all.push(read(&folder.join(&known.image), &name, known, &out)?);
        }
    }
    fs::write(out.join("all.json"), serde_json::to_vec_pretty(&all)?)?;
    Ok(())
}

fn read(photo: &Path, name: &str, known: &Entry, out: &Path) -> Result<Read, Failure> {
    let bytes = fs::read(photo)?;
    let expect = known.expectation().ok_or("a ruling without a name")?;
    let expect = serde_json::to_vec(&expect)?;
    let started = ProcessTime::now();
    let answer = same_bytes::answer_to(&bytes, &expect);
    let milliseconds = 1e3 * started.elapsed().as_secs_f64();
    let read = Read {
        photo: photo.canonicalize()?,
        expect: out.join(format!("{name}.expect.json")),
        answer: out.join(format!("{name}.answer.json")),
        milliseconds,
    };
    fs::write(&read.expect, expect)?;
    fs::write(&read.answer, answer)?;
    Ok(read)
}
