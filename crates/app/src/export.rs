//! What people put right as data to train an engine with: no names, ids, days or texts, and only of
//! pupils whose families agreed.

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use casefile::PupilView as Books;
use image::{DynamicImage, ImageFormat};
use serde::Serialize;
use units::{
    Amendment, AmendmentRecord, BoxMm, FaultKind, Frame, JoinVerdict, Mm, PageRecord, Problem,
    PupilId, Reading, Role,
};

use crate::App;
use crate::about::{letter_at, named};
use crate::api::{Crop, ExportAmendments, TextFile};
use crate::crops::around;
use crate::instances::{XHeights, is_ink, with_dot};
use crate::pages::amendments_of;

const FORMAT: &str = "pothook corrections";
const VERSION: u32 = 1;
/// Most corrections in one file.
const MOST_ITEMS: usize = 5_000;
/// Longest side of a crop, in x-heights: two letters with their margin are smaller, and what is larger
/// shows writing that nobody corrected.
const LARGEST: f64 = 6.0;

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
    /// The letter's place as it stood when the person put it right: where the engine, or a person
    /// before, had it, or where a missed letter was expected. Left, top, right, bottom.
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
                self.of_page(&books, page, pupil, &mut items)?;
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
        pupil: PupilId,
        items: &mut Vec<Item>,
    ) -> Result<(), Problem> {
        let amendments = amendments_of(books, page.id);
        if amendments.is_empty() || !self.has_blob(pupil, page.picture)? {
            return Ok(());
        }
        let Some(reading) = self.newest_reading(pupil, page)? else {
            return Ok(());
        };
        for amendment in last_said(&reading, &amendments) {
            if items.len() == MOST_ITEMS {
                return Err(Problem::new(
                    "too-many-corrections",
                    format!("There are more than {MOST_ITEMS} corrections: too many for one file."),
                    "Choose fewer pupils, and save a file for each part of them.",
                ));
            }
            items.extend(self.item(page, &reading, amendment)?);
        }
        Ok(())
    }

    /// `None` for what is not about a letter that the reading has, for what is too large, and where the
    /// picture is not here.
    fn item(
        &self,
        page: &PageRecord,
        reading: &Reading,
        amendment: &Amendment,
    ) -> Result<Option<Item>, Problem> {
        let Some((at, letter)) = named(amendment) else {
            return Ok(None);
        };
        let found = letter_at(reading, at, letter);
        let (there, drawn) = match amendment {
            Amendment::Letter { bounds, .. } => {
                (bounds.is_some() || found.is_some(), bounds.as_ref())
            }
            // What a person said is no letter has no form and no join.
            _ => (found.is_some_and(|(_, letter)| is_ink(letter)), None),
        };
        if !there {
            return Ok(None);
        }
        let put = found.or_else(|| letter_at(reading, drawn?, letter));
        let x_height = XHeights::of(reading).of_line(put.map_or(usize::MAX, |(_, one)| one.line));
        let shown = shown(reading, amendment, at, found.map(|(index, _)| index));
        let crop = around(page.picture, &reading.frame, &shown, x_height);
        let Some(crop) = crop.filter(|crop| is_small(crop, &reading.frame, x_height)) else {
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
                Amendment::Correction { .. }
                | Amendment::NotWriting { .. }
                | Amendment::Line { .. } => return Ok(None),
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

/// What is said of a letter; of two about the same the later holds.
#[derive(PartialEq)]
enum Subject {
    Place,
    Fault(FaultKind),
    Join,
}

impl Subject {
    fn of(amendment: &Amendment) -> Option<Self> {
        match amendment {
            Amendment::Letter { .. } => Some(Self::Place),
            Amendment::Fault { fault, .. } => Some(Self::Fault(*fault)),
            // One that does not read as meant reads as another.
            Amendment::Reads { .. } => Some(Self::Fault(FaultKind::ReadsAsOther)),
            Amendment::Join { .. } => Some(Self::Join),
            Amendment::Correction { .. }
            | Amendment::NotWriting { .. }
            | Amendment::Line { .. } => None,
        }
    }
}

/// The last that was said of each letter and subject, so that no two items contradict each other.
fn last_said<'a>(reading: &Reading, all: &'a [AmendmentRecord]) -> Vec<&'a Amendment> {
    /// Of one letter and subject, with every place that the letter had.
    struct Said {
        letter: char,
        subject: Subject,
        places: Vec<BoxMm>,
    }
    let mut said: Vec<Said> = Vec::new();
    let mut last = Vec::new();
    for amendment in all.iter().rev().map(|known| &known.what) {
        let (Some((at, letter)), Some(subject)) = (named(amendment), Subject::of(amendment)) else {
            continue;
        };
        let mut places = vec![*at];
        places.extend(letter_at(reading, at, letter).map(|(_, one)| one.bounds));
        if let Amendment::Letter { bounds, .. } = amendment {
            places.extend(bounds);
        }
        let meets = |known: &Said| {
            let mut known = known.places.iter();
            known.any(|known| places.iter().any(|place| known.is_same_place(place)))
        };
        let same =
            |known: &&mut Said| known.letter == letter && known.subject == subject && meets(known);
        match said.iter_mut().find(same) {
            Some(known) => known.places.append(&mut places),
            None => {
                last.push(amendment);
                said.push(Said {
                    letter,
                    subject,
                    places,
                });
            }
        }
    }
    last
}

fn is_small(crop: &Crop, frame: &Frame, x_height: Mm) -> bool {
    let most = LARGEST * x_height.0 * frame.px_per_mm;
    f64::from(crop.width.max(crop.height)) <= most
}

/// What the crop shows: the letter with its dot, where its ink really is, and for a join also the
/// letter that it leads to.
fn shown(reading: &Reading, amendment: &Amendment, at: &BoxMm, index: Option<usize>) -> BoxMm {
    let mut shown = *at;
    let letter = index.and_then(|index| reading.letters.get(index));
    if let Some(letter) = letter {
        shown = shown.union(&with_dot(letter));
    }
    if let Amendment::Letter {
        bounds: Some(bounds),
        ..
    } = amendment
    {
        shown = shown.union(bounds);
    }
    if let (Amendment::Join { .. }, Some(letter)) = (amendment, letter) {
        let next = index.and_then(|index| reading.letters.get(index + 1));
        if let Some(next) = next.filter(|next| next.word == letter.word) {
            shown = shown.union(&with_dot(next));
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
