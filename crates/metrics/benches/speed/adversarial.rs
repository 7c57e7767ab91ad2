//! Pages that no pupil writes, beside the usual one: none may take five times its time or memory.
//!
//! Every picture is read in a process of its own, twice: as a photograph of a sheet on a table, found
//! first, and as the kept picture of a flat sheet, which every picture gets through.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use image::codecs::jpeg::JpegEncoder;
use units::{Expectation, Frame};

use crate::clock::{median, seconds};
use crate::photos::{self, Photograph};
use crate::table::{Limit, Table};
use crate::{bad, memory};

/// How many times the usual a page may take.
const MOST: f64 = 5.0;
/// Readings that a figure is the median of.
const ROUNDS: usize = 3;

/// What one picture took: seconds for its photograph and for its kept page, and megabytes.
#[derive(Debug, Clone, Copy)]
struct Took([f64; 3]);

/// Adds a row for each picture, and one for the most memory that any took.
pub fn compare(usual: &Photograph, table: &mut Table) -> Result<(), String> {
    if !cfg!(target_os = "linux") {
        return Ok(());
    }
    let root = photos::folder()?.join("adversarial");
    let mut folders = vec![root.join("usual")];
    let photo = metrics::decode(&usual.jpeg).map_err(|e| e.to_string())?;
    let flat = metrics::find_page(&photo, &usual.expect).map_err(|e| e.to_string())?;
    write(&folders[0], &usual.jpeg, &flat, &usual.expect)?;
    for (number, bad) in bad::ALL.iter().enumerate() {
        let folder = root.join(number.to_string());
        write_bad(bad, &flat, &usual.expect, &folder)?;
        folders.push(folder);
    }
    let mut took = vec![Vec::new(); folders.len()];
    for round in 1..=ROUNDS {
        for (folder, took) in folders.iter().zip(&mut took) {
            eprint!("\r\x1b[Kadversarial pages, round {round} of {ROUNDS}");
            took.push(of_child(folder)?);
        }
    }
    eprint!("\r\x1b[K");
    let took: Vec<Took> = took.iter().map(|rounds| middle(rounds)).collect();
    rows(&took, table);
    Ok(())
}

fn rows(took: &[Took], table: &mut Table) {
    let Took([photo, kept, memory]) = took[0];
    let mut heaviest = (0.0, "");
    for (page, Took(bad)) in bad::ALL.iter().zip(&took[1..]) {
        // The dearer of its two ways.
        let (time, usual, way) = match bad[0] / photo >= bad[1] / kept {
            true => (bad[0], photo, "photograph"),
            false => (bad[1], kept, "kept page"),
        };
        let against = format!("the usual {way}: {:.0} ms", 1e3 * usual);
        table.ratio(page.name, time, &against, usual, Limit::goal(MOST));
        if bad[2] > heaviest.0 {
            heaviest = (bad[2], page.name);
        }
    }
    let what = format!("most memory: {}", heaviest.1);
    table.memory(&what, heaviest.0, MOST * memory, true);
}

fn middle(rounds: &[Took]) -> Took {
    Took(core::array::from_fn(|k| {
        median(rounds.iter().map(|took| took.0[k]).collect())
    }))
}

/// A picture as large as the usual one, of which the same paper, ruling and text are expected.
fn write_bad(
    bad: &bad::Bad,
    usual: &metrics::Page,
    expect: &Expectation,
    folder: &Path,
) -> Result<(), String> {
    let photo = bad.photo(bad::PHOTOGRAPHED).rgb;
    let mut jpeg = Vec::new();
    JpegEncoder::new_with_quality(&mut jpeg, 90)
        .encode_image(&photo)
        .map_err(|e| e.to_string())?;
    let mut flat = bad.page(usual.grey.dimensions());
    flat.frame = usual.frame.clone();
    write(folder, &jpeg, &flat, expect)
}

fn write(
    folder: &Path,
    photo: &[u8],
    page: &metrics::Page,
    expect: &Expectation,
) -> Result<(), String> {
    let text = |e: serde_json::Error| e.to_string();
    fs::create_dir_all(folder).map_err(|e| e.to_string())?;
    let files = [
        ("photo.jpg", photo.to_vec()),
        ("page.jpg", metrics::encode_page(page)),
        ("frame.json", serde_json::to_vec(&page.frame).map_err(text)?),
        ("expect.json", serde_json::to_vec(expect).map_err(text)?),
    ];
    for (name, bytes) in files {
        fs::write(folder.join(name), bytes).map_err(|e| e.to_string())?;
    }
    Ok(())
}

fn of_child(folder: &Path) -> Result<Took, String> {
    let this = std::env::current_exe().map_err(|e| e.to_string())?;
    let output = Command::new(this)
        .arg("--adversarial")
        .arg(folder)
        .output()
        .map_err(|e| e.to_string())?;
    let said = String::from_utf8_lossy(&output.stdout);
    let figures: Vec<f64> = said
        .split_whitespace()
        .filter_map(|figure| figure.parse().ok())
        .collect();
    let three = figures.try_into().map_err(|_| said.into_owned());
    three
        .map(Took)
        .map_err(|said| format!("the process that read {} said: {said}", folder.display()))
}

/// Reads the photograph and the kept page of a folder, and prints what that took.
pub fn read_once(folder: &Path) -> Result<(), String> {
    let bytes = |name: &str| {
        let file: PathBuf = folder.join(name);
        fs::read(&file).map_err(|e| format!("{}: {e}", file.display()))
    };
    let expect: Expectation =
        serde_json::from_slice(&bytes("expect.json")?).map_err(|e| e.to_string())?;
    let frame: Frame = serde_json::from_slice(&bytes("frame.json")?).map_err(|e| e.to_string())?;
    let (jpeg, kept) = (bytes("photo.jpg")?, bytes("page.jpg")?);
    let photo = seconds(|| {
        let picture = metrics::decode(&jpeg).expect("a photograph");
        // Where no sheet is found, the reading ends there.
        let page = metrics::find_page(&picture, &expect).ok();
        page.map(|page| metrics::read_page(&page, &expect, metrics::fitness(&page)))
    });
    let flat = seconds(|| {
        let page = metrics::page_from_picture(&kept, &frame).expect("a kept page");
        metrics::read_page(&page, &expect, metrics::fitness(&page))
    });
    println!("{photo} {flat} {}", memory::peak()?);
    Ok(())
}
