//! `pothook measure --manifest`: every page of a manifest, a result file each. The schemas are
//! written down in `tests/pages/README.md`.

use std::fs;
use std::path::Path;

use app::measuring::measure_photo;
use app::units::{Expectation, Problem};
use serde::Deserialize;

use crate::failure::{Failure, unreadable, unwritable};
use crate::measure::read_photo;
use crate::{names, paper, result};

#[derive(Debug, Deserialize)]
struct Manifest {
    pages: Vec<Entry>,
}

/// What a user knows of a page.
#[derive(Debug, Deserialize)]
struct Entry {
    image: String,
    page_format: String,
    ruling: String,
    pitch_mm: Option<f64>,
    model: String,
    #[serde(default)]
    text: Option<Vec<String>>,
    /// Whole minutes that the writing took, where it was timed.
    #[serde(default)]
    minutes: Option<u16>,
}

impl Entry {
    fn expectation(&self) -> Result<Expectation, Problem> {
        let wrong = |what: &str| {
            Problem::new(
                "bad-manifest",
                format!("The manifest names {what} that is not known."),
                "Correct the manifest.",
            )
        };
        Ok(Expectation {
            paper: paper::format(&self.page_format).ok_or_else(|| wrong("a page format"))?,
            ruling: paper::ruling(&self.ruling, self.pitch_mm),
            model: names::model(&self.model).map_err(|_| wrong("a letter model"))?,
            text: self.text.clone(),
            minutes: match self.minutes {
                Some(0) => return Err(wrong("a number of minutes")),
                minutes => minutes,
            },
            amendments: Vec::new(),
        })
    }
}

pub(crate) fn run(file: &Path, out: &Path) -> Result<(), Failure> {
    let text = fs::read_to_string(file).map_err(|error| unreadable(file, &error))?;
    let manifest: Manifest = serde_json::from_str(&text).map_err(|error| {
        Problem::new(
            "bad-manifest",
            format!("{} is not a manifest ({error}).", file.display()),
            "Correct the file; its schema is in tests/pages/README.md.",
        )
    })?;
    fs::create_dir_all(out).map_err(|error| unwritable(out, &error))?;
    let folder = file.parent().unwrap_or(Path::new("."));
    let mut failed = 0;
    for entry in &manifest.pages {
        match one(folder, entry, out) {
            Ok(()) => println!("{}", entry.image),
            Err(problem) => {
                eprintln!("{}: {problem} [{}]", entry.image, problem.code);
                failed += 1;
            }
        }
    }
    match failed {
        0 => Ok(()),
        failed => Err(Failure::Some {
            failed,
            of: manifest.pages.len(),
        }),
    }
}

fn one(folder: &Path, entry: &Entry, out: &Path) -> Result<(), Problem> {
    let photo = folder.join(&entry.image);
    let measured = measure_photo(&read_photo(&photo)?, &entry.expectation()?)?;
    let name = photo.file_name().unwrap_or_default().to_string_lossy();
    let path = out.join(Path::new(&*name).with_extension("json"));
    fs::write(&path, result::of(&name, &measured)).map_err(|error| unwritable(&path, &error))
}
