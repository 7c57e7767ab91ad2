//! What people put right as data to train an engine with: no names, ids, days or texts, and only of
//! pupils whose families agreed.

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use casefile::PupilView as Books;
use image::{DynamicImage, ImageFormat};
use serde::Serialize;
use units::{Amendment, BoxMm, FaultKind, JoinVerdict, Letter, PageRecord, Problem, Reading, Role};

use crate::App;
use crate::api::{Crop, ExportAmendments, TextFile};
use crate::crops::around;
use crate::instances::{XHeights, union, with_dot};
use crate::pages::amendments_of;

const FORMAT: &str = "pothook corrections";
const VERSION: u32 = 1;
/// Most corrections in one file.
const MOST_ITEMS: usize = 5_000;

#[derive(Serialize)]
struct Corrections {
    format: &'static str,
    version: u32,
    items: Vec<Item>,
}

/// One correction of a letter. Places are in pixels of the crop, so that none on the page is told.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Item {
    #[serde(flatten)]
    what: What,
    letter: char,
    /// The letter as the engine placed it: left, top, right, bottom.
    place_px: [f64; 4],
    /// Grey PNG, base64 (RFC 4648).
    crop: String,
    px_per_mm: f64,
    x_height_mm: f64,
    /// Whether the letters that are taught are joined.
    joined: bool,
    engine: String,
}

#[derive(Serialize)]
#[serde(
    tag = "about",
    rename_all = "camelCase",
    rename_all_fields = "camelCase"
)]
enum What {
    /// Where the letter's ink really is; `None` where no ink is this letter.
    Letter {
        ink_px: Option<[f64; 4]>,
    },
    Fault {
        fault: FaultKind,
        there: bool,
    },
    Reads {
        as_meant: bool,
    },
    Join {
        verdict: JoinVerdict,
    },
}

impl App {
    /// What was put right about letters on the pages of these pupils, as one file for training.
    ///
    /// # Errors
    /// This is not the tutor's device, nobody is named, a pupil is not on this device, there are too
    /// many corrections for one file, or the disk cannot be read.
    pub fn export_amendments(&self, input: ExportAmendments) -> Result<TextFile, Problem> {
        self.only(Role::Tutor)?;
        let mut pupils = input.pupils;
        pupils.sort_unstable();
        pupils.dedup();
        if pupils.is_empty() {
            return Err(Problem::new(
                "nobody-chosen",
                "No pupil is chosen.",
                "Choose the pupils whose families agreed that corrections are handed on.",
            ));
        }
        let mut items = Vec::new();
        for pupil in pupils {
            let books = self.books(pupil)?;
            for page in &books.pages {
                self.of_page(&books, page, &mut items)?;
            }
        }
        // In the order of the crops, which tells neither whose a correction is nor of when.
        items.sort_by(|a, b| a.crop.cmp(&b.crop));
        let file = Corrections {
            format: FORMAT,
            version: VERSION,
            items,
        };
        Ok(TextFile {
            name: "pothook-corrections.json".to_owned(),
            text: serde_json::to_string_pretty(&file).expect("corrections are plain data") + "\n",
        })
    }

    fn of_page(
        &self,
        books: &Books,
        page: &PageRecord,
        items: &mut Vec<Item>,
    ) -> Result<(), Problem> {
        let amendments = amendments_of(books, page.id);
        if amendments.is_empty() {
            return Ok(());
        }
        let Some(reading) = self.newest_reading(page)? else {
            return Ok(());
        };
        for amendment in amendments {
            if items.len() == MOST_ITEMS {
                return Err(Problem::new(
                    "too-many-corrections",
                    format!("There are more than {MOST_ITEMS} corrections: too many for one file."),
                    "Choose fewer pupils, and save a file for each part of them.",
                ));
            }
            items.extend(self.item(page, &reading, &amendment.what)?);
        }
        Ok(())
    }

    /// `None` for what is not about a letter, and where the picture is not here.
    fn item(
        &self,
        page: &PageRecord,
        reading: &Reading,
        amendment: &Amendment,
    ) -> Result<Option<Item>, Problem> {
        let Some((at, letter)) = about(amendment) else {
            return Ok(None);
        };
        let found = letter_at(reading, at, letter);
        let line = found.map_or(usize::MAX, |(_, letter)| letter.line);
        let x_height = XHeights::of(reading).of_line(line);
        let shown = shown(reading, amendment, at, found.map(|(index, _)| index));
        let Some(crop) = around(page.picture, &reading.frame, &shown, x_height) else {
            return Ok(None);
        };
        let Some(part) = self.part(crop)? else {
            return Ok(None);
        };
        let grey = DynamicImage::ImageRgb8(part).into_luma8();
        let mut png = std::io::Cursor::new(Vec::new());
        grey.write_to(&mut png, ImageFormat::Png)
            .expect("memory takes every byte, and PNG every size that a crop has");
        let px = |place: &BoxMm| in_crop(place, crop, reading.frame.px_per_mm);
        Ok(Some(Item {
            what: match *amendment {
                Amendment::Letter { bounds, .. } => What::Letter {
                    ink_px: bounds.as_ref().map(px),
                },
                Amendment::Fault { fault, there, .. } => What::Fault { fault, there },
                Amendment::Reads { as_meant, .. } => What::Reads { as_meant },
                Amendment::Join { verdict, .. } => What::Join { verdict },
                Amendment::Correction { .. } => return Ok(None),
            },
            letter,
            place_px: px(at),
            crop: BASE64_STANDARD.encode(png.into_inner()),
            px_per_mm: reading.frame.px_per_mm,
            x_height_mm: x_height.0,
            joined: page.model.is_joined(),
            engine: reading.engine.clone(),
        }))
    }
}

/// The letter that an amendment is about, and its place.
fn about(amendment: &Amendment) -> Option<(&BoxMm, char)> {
    match amendment {
        Amendment::Letter { at, letter, .. }
        | Amendment::Fault { at, letter, .. }
        | Amendment::Reads { at, letter, .. }
        | Amendment::Join { at, letter, .. } => Some((at, *letter)),
        Amendment::Correction { .. } => None,
    }
}

/// The letter of a reading that lies most in a place.
fn letter_at<'r>(reading: &'r Reading, at: &BoxMm, letter: char) -> Option<(usize, &'r Letter)> {
    let shared = |one: &BoxMm| {
        let across = one.x1.0.min(at.x1.0) - one.x0.0.max(at.x0.0);
        let down = one.y1.0.min(at.y1.0) - one.y0.0.max(at.y0.0);
        across.max(0.0) * down.max(0.0)
    };
    let same = reading.letters.iter().enumerate();
    same.filter(|(_, one)| one.char == Some(letter))
        .map(|(index, one)| (shared(&one.bounds), (index, one)))
        .filter(|(shared, _)| *shared > 0.0)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, found)| found)
}

/// What the crop shows: the letter with its dot, where its ink really is, and for a join also the
/// letter that it leads to.
fn shown(reading: &Reading, amendment: &Amendment, at: &BoxMm, index: Option<usize>) -> BoxMm {
    let mut shown = *at;
    let letter = index.and_then(|index| reading.letters.get(index));
    if let Some(letter) = letter {
        shown = union(shown, &with_dot(letter));
    }
    if let Amendment::Letter {
        bounds: Some(bounds),
        ..
    } = amendment
    {
        shown = union(shown, bounds);
    }
    if let (Amendment::Join { .. }, Some(letter)) = (amendment, letter) {
        let next = index.and_then(|index| reading.letters.get(index + 1));
        if let Some(next) = next.filter(|next| next.word == letter.word) {
            shown = union(shown, &with_dot(next));
        }
    }
    shown
}

fn in_crop(place: &BoxMm, crop: Crop, px_per_mm: f64) -> [f64; 4] {
    let px = |mm: f64, from: u32| ((mm * px_per_mm - f64::from(from)) * 10.0).round() / 10.0;
    [
        px(place.x0.0, crop.x),
        px(place.y0.0, crop.y),
        px(place.x1.0, crop.x),
        px(place.y1.0, crop.y),
    ]
}
