//! What a device shows of a pupil to a person.

use std::collections::{BTreeMap, BTreeSet};

use app::App;
use app::api::{OfPage, OfPupil};
use app::units::{
    AmendmentId, AskId, BlobId, MarkId, MeasureName, PageId, Problem, PupilId, ReadingRecord,
};

/// Facts, which are there or not, and values, which are written over.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Seen {
    pub facts: BTreeSet<String>,
    pub values: BTreeMap<String, String>,
    pub pages: BTreeMap<PageId, Blobs>,
}

/// The blobs of a page, and which of them are here.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Blobs {
    pub picture: BlobId,
    pub readings: Vec<BlobId>,
    pub picture_here: bool,
    pub newest_here: bool,
}

impl Seen {
    pub fn of(app: &App, pupil: PupilId) -> Result<Self, Problem> {
        let mut seen = Self::default();
        let of = OfPupil { pupil };
        let view = app.pupil(of)?;
        if let Some(profile) = view.profile {
            seen.value("name", profile.name);
        }
        for task in view.tasks {
            seen.fact(format!("task {}", task.id));
        }
        for focus in view.focuses {
            seen.fact(format!("focus {}", focus.id));
            if let Some(to) = focus.to {
                seen.value(format!("end {}", focus.id), to);
            }
        }
        for row in view.pages {
            seen.page(app, pupil, row.page)?;
        }
        let home = app.home(of)?;
        for reply in home.replies {
            seen.fact(format!("reply {}", reply.words));
        }
        for practised in home.practised {
            seen.fact(format!("practised {}", practised.day));
        }
        for target in home.targets {
            seen.value(format!("target {}", target.measure.text()), target.value);
        }
        if let Some(note) = home.note {
            seen.value("note", note);
        }
        let keeping = app.keeping(of)?;
        for ask in keeping.asks {
            seen.fact(format!("ask {}", ask.id));
        }
        if let Some(day) = keeping.delete_by {
            seen.value("delete by", day);
        }
        Ok(seen)
    }

    fn page(&mut self, app: &App, pupil: PupilId, page: PageId) -> Result<(), Problem> {
        let view = app.page(OfPage { pupil, page })?;
        self.fact(format!("page {page}"));
        for mark in &view.marks {
            self.fact(format!("mark {}", mark.id));
            self.value(format!("words of mark {}", mark.id), &mark.words);
        }
        for amendment in &view.amendments {
            self.fact(format!("amendment {}", amendment.id));
        }
        if view.record.looked_at.is_some() {
            self.fact(format!("looked {page}"));
        }
        if let Some(text) = &view.record.text {
            self.value(format!("text {page}"), text.join("\n"));
        }
        if let Some(minutes) = view.record.minutes {
            self.value(format!("minutes {page}"), minutes);
        }
        let detail = |reading: &ReadingRecord| reading.detail;
        let blobs = Blobs {
            picture: view.record.picture,
            readings: view.record.readings.iter().map(detail).collect(),
            picture_here: view.picture_here,
            newest_here: view.reading.is_some(),
        };
        self.pages.insert(page, blobs);
        Ok(())
    }

    fn fact(&mut self, fact: String) {
        self.facts.insert(fact);
    }

    fn value(&mut self, key: impl Into<String>, value: impl ToString) {
        self.values.insert(key.into(), value.to_string());
    }
}

pub fn text(app: &App, pupil: PupilId, page: PageId) -> Option<Option<String>> {
    let record = app.page(OfPage { pupil, page }).ok()?.record;
    Some(record.text.map(|lines| lines.join("\n")))
}

pub fn minutes(app: &App, pupil: PupilId, page: PageId) -> Option<Option<String>> {
    let record = app.page(OfPage { pupil, page }).ok()?.record;
    Some(record.minutes.map(|minutes| minutes.to_string()))
}

pub fn marks(app: &App, pupil: PupilId, page: PageId) -> Option<Vec<MarkId>> {
    let marks = app.page(OfPage { pupil, page }).ok()?.marks;
    Some(marks.iter().map(|mark| mark.id).collect())
}

pub fn words_of(app: &App, pupil: PupilId, page: PageId, mark: MarkId) -> Option<String> {
    let marks = app.page(OfPage { pupil, page }).ok()?.marks;
    let mark = marks.into_iter().find(|known| known.id == mark);
    mark.map(|mark| mark.words)
}

pub fn amendments(app: &App, pupil: PupilId, page: PageId) -> Option<Vec<AmendmentId>> {
    let amendments = app.page(OfPage { pupil, page }).ok()?.amendments;
    Some(amendments.iter().map(|amendment| amendment.id).collect())
}

pub fn asks(app: &App, pupil: PupilId) -> Option<Vec<AskId>> {
    let asks = app.keeping(OfPupil { pupil }).ok()?.asks;
    Some(asks.iter().map(|ask| ask.id).collect())
}

pub fn target(app: &App, pupil: PupilId, measure: MeasureName) -> Option<Option<String>> {
    let targets = app.home(OfPupil { pupil }).ok()?.targets;
    let target = targets.iter().find(|target| target.measure == measure);
    Some(target.map(|target| target.value.to_string()))
}

/// The picture and the whole readings of a page.
pub fn blobs(app: &App, pupil: PupilId, page: PageId) -> Vec<BlobId> {
    let Ok(view) = app.page(OfPage { pupil, page }) else {
        return Vec::new();
    };
    let readings = view.record.readings.iter().map(|reading| reading.detail);
    readings.chain([view.record.picture]).collect()
}
