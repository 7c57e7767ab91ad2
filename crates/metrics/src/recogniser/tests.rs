//! The recogniser on photographed pages whose text is known, drawn in faces that it was not trained
//! on, asked about each letter that the alignment is sure of.

use std::fs;
use std::path::PathBuf;

use serde::Deserialize;
use units::{Expectation, LetterModel, Mm, Paper, Ruling};

use crate::reading;
use crate::recogniser::{Place, recognise};
use crate::words::Along;

#[derive(Deserialize)]
struct Manifest {
    pages: Vec<Wanted>,
}

#[derive(Deserialize)]
struct Wanted {
    id: String,
    image: String,
    page_format: String,
    pitch_mm: Option<f64>,
    model: String,
    text: Vec<String>,
}

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../tests/pages")
}

fn wanted() -> Vec<Wanted> {
    let text = fs::read_to_string(folder().join("manifest.json")).expect("the manifest is there");
    let manifest: Manifest = serde_json::from_str(&text).expect("the manifest fits its schema");
    manifest.pages
}

impl Wanted {
    fn joined(&self) -> bool {
        self.model == "joined"
    }

    fn expectation(&self) -> Expectation {
        Expectation {
            paper: match self.page_format.as_str() {
                "A5" => Paper::A5,
                _ => Paper::A4,
            },
            ruling: self
                .pitch_mm
                .map_or(Ruling::Plain, |pitch| Ruling::Lines { pitch: Mm(pitch) }),
            model: match self.joined() {
                true => LetterModel::part_joined(),
                false => LetterModel::unjoined(),
            },
            text: Some(self.text.clone()),
            minutes: None,
            amendments: Vec::new(),
        }
    }
}

/// How many small letters were asked about, how many read as meant among a to z, and of how many the
/// letter meant, or one of its shape, is more probable than all else together.
#[derive(Default)]
struct Read {
    asked: usize,
    right: usize,
    as_meant: usize,
}

fn read(page: &Wanted) -> Read {
    let expect = page.expectation();
    let bytes = fs::read(folder().join(&page.image)).expect("the picture is there");
    let photo = crate::decode(&bytes).expect("a picture");
    let sheet = crate::find_page(&photo, &expect).expect("a sheet");
    let found = reading::find(&sheet, &expect);
    let mut out = Read::default();
    for glyph in found.glyphs.iter().filter(|g| g.confidence >= 0.4) {
        let along = Along {
            line: &found.lines[glyph.line],
            level: &found.level,
            lean: found.lean,
        };
        let small = glyph.ch.filter(char::is_ascii_lowercase);
        let reads = recognise(&found.ink, &glyph.piece, Place::of(&glyph.piece, along));
        let (Some(meant), Some(reads)) = (small, reads) else {
            continue;
        };
        let of_small = reads.all().filter_map(|(c, p)| Some((c?, p)));
        let of_small = of_small.filter(|(c, _)| c.is_ascii_lowercase());
        let best = of_small.max_by(|a, b| a.1.total_cmp(&b.1));
        out.asked += 1;
        out.right += usize::from(best.is_some_and(|(c, _)| c == meant));
        out.as_meant += usize::from(reads.as_meant(meant).is_some_and(|p| p > 0.5));
    }
    out
}

#[test]
fn letters_of_photographed_pages_read_as_meant() {
    let some = ["a4-lines8-even", "a5-lines8-uneven", "a5-lines8-turned"];
    for page in wanted().iter().filter(|p| some.contains(&p.id.as_str())) {
        let read = read(page);
        println!("{}: {} of {} right", page.id, read.right, read.asked);
        assert!(read.asked >= 80, "{}", page.id);
        assert!(20 * read.right >= 19 * read.asked, "{}", page.id);
    }
}

/// `cargo test -p metrics recogniser::tests -- --ignored --nocapture`
#[test]
#[ignore = "prints the figures of the model card"]
fn what_is_right_on_all_pages() {
    for joined in [false, true] {
        let mut sum = Read::default();
        let lined = |p: &&Wanted| p.joined() == joined && !p.id.contains("squares");
        for page in wanted()
            .iter()
            .filter(lined)
            .filter(|p| !p.id.contains("four"))
        {
            let read = read(page);
            println!("{}: {} of {} right", page.id, read.right, read.asked);
            sum.asked += read.asked;
            sum.right += read.right;
            sum.as_meant += read.as_meant;
        }
        let share = |n: usize| n as f64 / sum.asked as f64;
        println!(
            "joined {joined}: {} letters, right {:.3}, as meant {:.3}",
            sum.asked,
            share(sum.right),
            share(sum.as_meant)
        );
    }
}
