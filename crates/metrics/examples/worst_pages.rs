//! How much the worst pictures cost beside a usual page: processor time and the most memory held,
//! each picture in a process of its own.
//!
//! ```text
//! cargo run --release -p metrics --example worst_pages
//! ```

#[path = "../tests/bad_pictures/pages.rs"]
mod pages;

use std::path::Path;
use std::process::Command;
use std::{env, fs};

use image::imageops::FilterType;
use metrics::Photo;
use units::{Expectation, Fitness};

/// Processor time of this thread so far, ms (Linux only, and 0 elsewhere).
fn processor_ms() -> f64 {
    fs::read_to_string("/proc/thread-self/schedstat")
        .ok()
        .and_then(|text| text.split(' ').next()?.parse::<f64>().ok())
        .map_or(0.0, |ns| ns / 1e6)
}

/// Most memory that this process has held, MB (Linux only, and 0 elsewhere).
fn peak_mb() -> f64 {
    let text = fs::read_to_string("/proc/self/status").unwrap_or_default();
    text.lines()
        .find_map(|line| line.strip_prefix("VmHWM:")?.split_whitespace().next())
        .and_then(|kb| kb.parse::<f64>().ok())
        .map_or(0.0, |kb| kb / 1000.0)
}

const USUAL: &str = "usual";
const TYPED: &str = "usual, with a text of 200,000 characters";

/// A test page with as many pixels as the worst ones have.
fn usual_page() -> Photo {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/pages/a4-lines8-even.jpg");
    let photo = metrics::decode(&fs::read(path).expect("the page is there"));
    let rgb = photo.expect("a photograph").rgb;
    Photo {
        rgb: image::imageops::resize(&rgb, 2420, 3226, FilterType::CatmullRom),
    }
}

/// One picture as a photograph of a sheet: found, checked and read; then as a flat sheet, read; then
/// all over a photograph, looked for in vain.
fn measure(name: &str) {
    let text = || vec!["the quick brown fox jumps over the lazy dog".to_owned(); 25];
    let bad = pages::ALL.iter().find(|bad| bad.name == name);
    let mut expect: Expectation = pages::expectation(Some(text()));
    if name == TYPED {
        expect.text = Some(vec!["over the lazy dog".repeat(12); 1000]);
    }
    let photo = bad.map_or_else(usual_page, |bad| bad.photo(pages::FULL));
    let start = processor_ms();
    let found = metrics::find_page(&photo, &expect);
    let finding = processor_ms() - start;
    let start = processor_ms();
    let (mut fitting, mut reading) = (0.0, f64::NAN);
    if let Ok(page) = &found {
        let fitness = metrics::fitness(page);
        fitting = processor_ms() - start;
        let start = processor_ms();
        metrics::read_page(page, &expect, fitness);
        reading = processor_ms() - start;
    }
    let (mut alone, mut close) = (f64::NAN, f64::NAN);
    if let Some(bad) = bad {
        let (photo, page) = (bad.close(pages::FULL), bad.page(pages::FULL));
        let start = processor_ms();
        let _ = metrics::find_page(&photo, &expect);
        close = processor_ms() - start;
        let start = processor_ms();
        metrics::read_page(&page, &expect, Fitness { checks: Vec::new() });
        alone = processor_ms() - start;
    }
    println!(
        "{finding:7.0} {fitting:6.0} {reading:7.0} {alone:7.0} {close:7.0} {:6.0}  {name}{}",
        peak_mb(),
        if found.is_err() {
            " (no sheet found)"
        } else {
            ""
        }
    );
}

fn main() {
    if let Some(name) = env::args().nth(1) {
        return measure(&name);
    }
    println!("   find    fit    read    flat   close     MB");
    let me = env::current_exe().expect("this program has a path");
    let names = [USUAL, TYPED]
        .into_iter()
        .chain(pages::ALL.iter().map(|bad| bad.name));
    for name in names {
        let ended = Command::new(&me)
            .arg(name)
            .status()
            .expect("it starts again");
        if !ended.success() {
            println!("{name}: {ended}");
        }
    }
}
