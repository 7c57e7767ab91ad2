//! `pothook measure`: photographs in, figures out; nothing is kept.

use std::fs;
use std::path::Path;

use app::api::{FitAdvice, Measured};
use app::measuring::{draw_stages, measure_photo};
use app::units::{Expectation, Problem, Reading};

use crate::args::Measure;
use crate::failure::{Failure, unreadable, unwritable};
use crate::{letters, manifest, result, table};

pub(crate) fn run(wanted: &Measure) -> Result<(), Failure> {
    if let (Some(file), Some(out)) = (&wanted.manifest, &wanted.out) {
        return manifest::run(file, out);
    }
    let expect = Expectation {
        paper: wanted.paper,
        ruling: wanted.ruling,
        model: letters::model(&wanted.letters)?,
        text: wanted.text.as_deref().map(read_text).transpose()?,
        minutes: wanted.minutes,
        amendments: Vec::new(),
    };
    let mut failed = 0;
    for photo in &wanted.photos {
        if let Err(problem) = one(photo, &expect, wanted) {
            eprintln!("{}: {problem} [{}]", photo.display(), problem.code);
            failed += 1;
        }
    }
    match failed {
        0 => Ok(()),
        failed => Err(Failure::Some {
            failed,
            of: wanted.photos.len(),
        }),
    }
}

fn one(photo: &Path, expect: &Expectation, wanted: &Measure) -> Result<(), Problem> {
    let bytes = read_photo(photo)?;
    let measured = measure_photo(&bytes, expect)?;
    if wanted.json {
        let name = photo.file_name().unwrap_or_default().to_string_lossy();
        println!("{}", result::of(&name, &measured));
    } else {
        show(photo, &measured);
    }
    if let Some(folder) = &wanted.stages {
        save_stages(folder, photo, &bytes, expect)?;
    }
    // Figures of a page that cannot be read are shown, yet never pass as a success.
    match unfit(&measured.checks) {
        Some(problem) => Err(problem),
        None => Ok(()),
    }
}

fn unfit(checks: &[FitAdvice]) -> Option<Problem> {
    let advice: Vec<&str> = checks
        .iter()
        .filter(|check| !check.check.passed)
        .map(|check| &*check.advice)
        .collect();
    (!advice.is_empty()).then(|| {
        Problem::new(
            "page-unfit",
            "This page cannot be read well enough.",
            advice.join(" "),
        )
    })
}

fn show(photo: &Path, measured: &Measured) {
    let frame = &measured.reading.frame;
    println!(
        "{}  {:.1} × {:.1} mm, scale from {:?} (± {:.2} %), {} lines, {} words, {} letters",
        photo.display(),
        frame.width.0,
        frame.height.0,
        frame.scale_source,
        frame.scale_se.0 * 100.0,
        measured.reading.lines.len(),
        measured.reading.words.len(),
        measured.reading.letters.len(),
    );
    table::print(&table::measures(&measured.reading.measures));
    print_findings(&measured.reading);
    println!();
}

/// What is amiss with letters, and how the text goes with the ink.
pub(crate) fn print_findings(reading: &Reading) {
    if let Some(fit) = &reading.text {
        println!("{}", table::text_fit(fit));
    }
    let faults = table::faults(reading);
    if faults.len() > 1 {
        table::print(&faults);
    }
}

fn save_stages(
    folder: &Path,
    photo: &Path,
    bytes: &[u8],
    expect: &Expectation,
) -> Result<(), Problem> {
    fs::create_dir_all(folder).map_err(|error| unwritable(folder, &error))?;
    let stem = photo
        .file_stem()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned();
    for (at, (stage, picture)) in draw_stages(bytes, expect)?.into_iter().enumerate() {
        let path = folder.join(format!("{stem}-{at}-{stage}.png"));
        let bytes = app::measuring::png(&picture);
        fs::write(&path, bytes).map_err(|error| unwritable(&path, &error))?;
    }
    Ok(())
}

/// Reads a photograph, but never more than any camera makes.
pub(crate) fn read_photo(path: &Path) -> Result<Vec<u8>, Problem> {
    const LARGEST: u64 = 64 << 20;
    let size = fs::metadata(path)
        .map_err(|error| unreadable(path, &error))?
        .len();
    if size > LARGEST {
        return Err(Problem::new(
            "file-too-large",
            format!(
                "{} is larger than any photograph of a page.",
                path.display()
            ),
            "Choose the photograph itself (JPEG, PNG or WebP).",
        ));
    }
    fs::read(path).map_err(|error| unreadable(path, &error))
}

fn read_text(path: &Path) -> Result<Vec<String>, Problem> {
    let text = fs::read_to_string(path).map_err(|error| unreadable(path, &error))?;
    Ok(text
        .lines()
        .map(|line| line.trim().to_owned())
        .filter(|line| !line.is_empty())
        .collect())
}
