//! All of a pupil in open formats: pictures as JPEG, figures as CSV (RFC 4180), everything as JSON, in
//! one zip file.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::io::{Seek, Write};

use casefile::PupilView as Books;
use serde::Serialize;
use units::{
    AmendmentRecord, Ask, Day, DeviceId, Focus, Mark, Outcome, PageId, PageRecord, Practised,
    Problem, Profile, PupilId, Reply, SetUpCheck, Target, Task,
};
use zip::ZipWriter;
use zip::result::ZipError;
use zip::write::SimpleFileOptions;

use crate::App;
use crate::api::CopyLacks;
use crate::problem;
use crate::verbs::off_thread;

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Everything<'a> {
    profile: &'a Option<Profile>,
    delete_by: Option<Day>,
    tasks: &'a [Task],
    pages: &'a [PageRecord],
    marks: &'a [Mark],
    amendments: &'a [AmendmentRecord],
    focuses: &'a [Focus],
    targets: &'a [Target],
    practised: &'a [Practised],
    setups: &'a [SetUpCheck],
    replies: &'a [Reply],
    asks: &'a [Ask],
    devices: &'a BTreeMap<DeviceId, String>,
}

impl App {
    /// Writes all of a pupil that is here into a zip file, unencrypted; what it lacks, which the file says too.
    ///
    /// # Errors
    /// There is no such pupil, or the file cannot be written.
    pub fn export_pupil(
        &self,
        pupil: PupilId,
        out: impl Write + Seek,
    ) -> Result<CopyLacks, Problem> {
        let books = self.books(pupil)?;
        let mut file = Zip(ZipWriter::new(out));
        file.add(
            "pupil.json",
            &json(&Everything {
                profile: &books.profile,
                delete_by: books.delete_by,
                tasks: &books.tasks,
                pages: &books.pages,
                marks: &books.marks,
                amendments: &books.amendments,
                focuses: &books.focuses,
                targets: &books.targets,
                practised: &books.practised,
                setups: &books.setups,
                replies: &books.replies,
                asks: &books.asks,
                devices: &books.devices,
            }),
        )?;
        file.add("figures.csv", figures(&books).as_bytes())?;
        file.add("practice.csv", practice(&books).as_bytes())?;
        for page in &books.pages {
            let name = format!("pages/{} {}", page.written_on, page.id);
            if let Some(picture) = self.blob_of(pupil, page.picture)? {
                file.add(&format!("{name}.jpg"), &picture)?;
            }
            if let Some(reading) = self.newest_reading(pupil, page)? {
                file.add(&format!("{name}.json"), &json(&reading))?;
            }
        }
        let missing = self.missing(pupil, &books)?;
        let lacks = lacks(&missing, books.newer);
        if lacks != CopyLacks::default() {
            file.add("lacking.csv", lacking(&missing, lacks.newer).as_bytes())?;
        }
        file.0.finish().map_err(unwritten)?;
        Ok(lacks)
    }

    /// What a copy of all of a pupil would lack if it were made now and here.
    pub(crate) fn copy_lacks(&self, pupil: PupilId, books: &Books) -> Result<CopyLacks, Problem> {
        Ok(lacks(&self.missing(pupil, books)?, books.newer))
    }

    /// The pictures and whole readings that the books name and that are not here.
    fn missing<'a>(
        &self,
        pupil: PupilId,
        books: &'a Books,
    ) -> Result<Vec<(&'a PageRecord, &'static str)>, Problem> {
        let here = self.blobs_of(pupil)?;
        let of_page = |page: &'a PageRecord| {
            let letters = page
                .readings
                .last()
                .map(|newest| (newest.detail, "letters"));
            let named = [Some((page.picture, "picture")), letters]
                .into_iter()
                .flatten();
            named
                .filter(|(id, _)| !here.contains(id))
                .map(move |(_, what)| (page, what))
        };
        Ok(books.pages.iter().flat_map(of_page).collect())
    }
}

impl App {
    /// The same in memory, off the threads that answer.
    ///
    /// # Errors
    /// As [`App::export_pupil`].
    pub async fn export_off_thread(&self, pupil: PupilId) -> Result<Vec<u8>, Problem> {
        let app = self.clone();
        off_thread(move || {
            let mut file = std::io::Cursor::new(Vec::new());
            app.export_pupil(pupil, &mut file)?;
            Ok(file.into_inner())
        })
        .await
    }
}

fn lacks(missing: &[(&PageRecord, &str)], newer: bool) -> CopyLacks {
    let pages: BTreeSet<PageId> = missing.iter().map(|(page, _)| page.id).collect();
    CopyLacks {
        pages: u32::try_from(pages.len()).unwrap_or(u32::MAX),
        newer,
    }
}

/// One line for everything that is not in the copy.
fn lacking(missing: &[(&PageRecord, &str)], newer: bool) -> String {
    let mut csv = "page,written on,lacks\r\n".to_owned();
    for (page, what) in missing {
        let _ = write!(csv, "{},{},{what}\r\n", page.id, page.written_on);
    }
    if newer {
        csv += ",,what a newer version of the program has written\r\n";
    }
    csv
}

struct Zip<W: Write + Seek>(ZipWriter<W>);

impl<W: Write + Seek> Zip<W> {
    fn add(&mut self, name: &str, bytes: &[u8]) -> Result<(), Problem> {
        // Stored as it is: the pictures, which are nearly all of it, do not shrink.
        let options =
            SimpleFileOptions::default().compression_method(zip::CompressionMethod::Stored);
        self.0.start_file(name, options).map_err(unwritten)?;
        self.0
            .write_all(bytes)
            .map_err(|error| unwritten(ZipError::Io(error)))
    }
}

fn unwritten(error: ZipError) -> Problem {
    let full =
        matches!(&error, ZipError::Io(error) if error.kind() == std::io::ErrorKind::StorageFull);
    match full {
        true => problem::disk_full(),
        false => Problem::new(
            "not-written",
            format!("The file could not be written ({error})."),
            "Choose another folder, or change its permissions.",
        ),
    }
}

fn json(value: &impl Serialize) -> Vec<u8> {
    serde_json::to_vec_pretty(value).expect("records are plain data")
}

/// One line a measure of each page's newest reading.
fn figures(books: &Books) -> String {
    let mut csv =
        "page,written on,kind,measure,value,standard error,spread,n,not measured because\r\n"
            .to_owned();
    for page in &books.pages {
        let Some(reading) = page.readings.last() else {
            continue;
        };
        for measure in &reading.measures {
            let (id, day, kind) = (page.id, page.written_on, code(&page.kind));
            let _ = write!(csv, "{id},{day},{kind},{},", measure.name.text());
            let _ = match &measure.outcome {
                Outcome::Measured {
                    value,
                    se,
                    spread,
                    n,
                    ..
                } => {
                    let spread = spread.map(|spread| spread.to_string()).unwrap_or_default();
                    write!(csv, "{value},{se},{spread},{n},\r\n")
                }
                Outcome::NotMeasured { because } => write!(csv, ",,,,{}\r\n", code(because)),
            };
        }
    }
    csv
}

fn practice(books: &Books) -> String {
    let mut csv = "day,minutes,task\r\n".to_owned();
    for practised in &books.practised {
        let task = practised
            .task
            .map(|task| task.to_string())
            .unwrap_or_default();
        let _ = write!(csv, "{},{},{task}\r\n", practised.day, practised.minutes);
    }
    csv
}

/// A choice by the name that it has in JSON; none of them needs quoting.
fn code(choice: &impl Serialize) -> String {
    match serde_json::to_value(choice) {
        Ok(serde_json::Value::String(name)) => name,
        _ => String::new(),
    }
}
