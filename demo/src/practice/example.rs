//! The example that the program carries with it: some of one pupil's pages, small, with what a tutor
//! would have written about them.

use std::fs;
use std::path::Path;

use app::api::{AddMark, AddPupil, KeepPage, OfPage, SetTask, Settle, StagePhoto};
use app::example::{Example, ExampleFocus, ExampleMark, ExamplePage};
use app::{App, Key, Opener};
use units::{Moment, PageId, Role, TaskKind};

use super::pupils::{self, Course};
use super::{PracticeError, While, calendar, marks, scene};
use crate::font::Fonts;

/// Weeks of the course that are shown: a page to copy every third week.
const EVERY: usize = 3;
/// Pixels of a photograph, width and height: enough for a small sheet.
const PHOTO: (u32, u32) = (960, 1280);
/// JPEG quality.
const QUALITY: u8 = 76;

/// Draws the example into a folder: photographs, and `example.json`.
///
/// # Errors
/// There is no room, or a use case refuses.
pub fn draw(fonts: &Fonts, out: &Path, now: Moment) -> Result<(), PracticeError> {
    fs::create_dir_all(out)?;
    let course = pupils::courses().swap_remove(0);
    let weeks = calendar::school_weeks(now.day(), pupils::WEEKS);
    let shown: Vec<usize> = (0..pupils::WEEKS).step_by(EVERY).collect();
    let folder = std::env::temp_dir().join(format!("pothook-example-{}", std::process::id()));
    let desk = Desk::open(&folder, &course)?;
    let mut pages = Vec::new();
    for (at, &week) in shown.iter().enumerate() {
        let mut spec = scene::page(&course, week, &weeks[week]);
        (spec.camera.width, spec.camera.height) = PHOTO;
        spec.camera.quality = QUALITY;
        spec.camera.exif = None;
        let drawn = spec.draw(fonts);
        let file = format!("{:02}.jpg", at + 1);
        fs::write(out.join(&file), &drawn.jpeg)?;
        let text = scene::written_text(&course, week, &weeks[week]);
        let focus = course.focuses.iter().rev().find(|(from, ..)| *from <= week);
        let focus = focus.map(|(_, aspect, _)| *aspect);
        let marked = at % 4 == 3 || at + 2 == shown.len();
        let marks = match marked {
            true => desk.marks(&drawn.jpeg, &text, focus, week)?,
            false => Vec::new(),
        };
        pages.push(ExamplePage { file, text, marks });
    }
    let first_page_of = |week: usize| shown.iter().position(|shown| *shown >= week);
    let focuses = course
        .focuses
        .iter()
        .filter_map(|(week, aspect, try_this)| {
            Some(ExampleFocus {
                from_page: first_page_of(*week)?,
                aspect: *aspect,
                try_this: (*try_this).to_owned(),
            })
        });
    let example = Example {
        profile: course.profile.clone(),
        focuses: focuses.collect(),
        pages,
        starting: 3,
        note: "An invented pupil. Private notes such as this one stay on the tutor's own devices."
            .to_owned(),
    };
    let json = serde_json::to_string_pretty(&example).map_err(std::io::Error::other)?;
    fs::write(out.join("example.json"), json + "\n")?;
    drop(desk);
    fs::remove_dir_all(&folder)?;
    Ok(())
}

/// A tutor's device on which the pages are read once, to know where marks belong.
struct Desk<'c> {
    app: App,
    course: &'c Course,
}

impl<'c> Desk<'c> {
    fn open(folder: &Path, course: &'c Course) -> Result<Self, PracticeError> {
        fs::create_dir_all(folder)?;
        let doing = || format!("opening {}", folder.display());
        let app = App::open(folder, Opener::Key(Key::new([1; 32]))).while_doing(doing)?;
        let settle = Settle {
            role: Role::Tutor,
            name: "Desk".to_owned(),
        };
        app.settle(settle).while_doing(doing)?;
        Ok(Self { app, course })
    }

    fn marks(
        &self,
        photo: &[u8],
        text: &str,
        focus: Option<units::Aspect>,
        week: usize,
    ) -> Result<Vec<ExampleMark>, PracticeError> {
        let doing = || "reading a page of the example".to_owned();
        let app = &self.app;
        let profile = self.course.profile.clone();
        let pupil = app
            .add_pupil(AddPupil { profile })
            .while_doing(doing)?
            .pupil;
        let task = app
            .set_task(SetTask {
                pupil,
                kind: TaskKind::Copied,
                text: Some(vec![text.to_owned()]),
                paper: None,
                ruling: None,
                minutes: 10,
                focus,
                set_on: None,
            })
            .while_doing(doing)?
            .task;
        let about = StagePhoto {
            pupil,
            task: Some(task),
            kind: None,
            written_on: None,
        };
        let staged = app.stage_photo(photo, about).while_doing(doing)?;
        let keep = KeepPage {
            handle: staged.handle,
            despite: false,
        };
        let page: PageId = app.keep_page(keep).while_doing(doing)?.page;
        let view = app.page(OfPage { pupil, page }).while_doing(doing)?;
        let reading = view.reading.as_ref();
        let sketches = reading.map_or_else(Vec::new, |reading| marks::on(reading, focus, week));
        let told = sketches.into_iter().map(|(shape, words, praise)| {
            // What the use case refuses is no mark for an example either.
            let mark = AddMark {
                pupil,
                page,
                shape: shape.clone(),
                words: words.to_owned(),
                aspect: focus,
                praise,
            };
            app.add_mark(mark).while_doing(doing)?;
            Ok(ExampleMark {
                shape,
                words: words.to_owned(),
                aspect: focus,
                praise,
            })
        });
        told.collect()
    }
}
