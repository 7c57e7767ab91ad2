//! What edits do to the view, said once more and without the program.

use std::collections::BTreeMap;

use casefile::{Edit, PupilView};
use units::{Mark, PageId, PageRecord, ReadingId};

/// A view on which edits are put one after the other, each by somebody who saw only what there was before all of
/// them.
pub struct Outcome {
    saw: PupilView,
    view: PupilView,
    read_at: BTreeMap<(PageId, ReadingId), u64>,
}

impl Outcome {
    pub fn of(saw: PupilView) -> Self {
        Self {
            view: saw.clone(),
            saw,
            read_at: BTreeMap::new(),
        }
    }

    /// What was put comes to this, in the order in which it is shown.
    pub fn view(mut self) -> PupilView {
        let view = &mut self.view;
        view.tasks.sort_by_key(|it| (it.set_on, it.id));
        view.pages.sort_by_key(|it| (it.written_on, it.id));
        for page in &mut view.pages {
            let time = |reading| self.read_at.get(&(page.id, reading)).copied().unwrap_or(0);
            let readings = &mut page.readings;
            readings.sort_by_key(|it| (time(it.id), it.made_at, it.id));
        }
        view.marks.sort_by_key(|it| (it.made_at, it.id));
        view.amendments.sort_by_key(|it| (it.made_at, it.id));
        view.focuses.sort_by_key(|it| (it.from, it.id));
        view.targets.sort_by_key(|it| it.measure);
        view.practised.sort_by_key(|it| (it.day, it.id));
        view.setups.sort_by_key(|it| (it.day, it.id));
        view.replies.sort_by_key(|it| (it.made_at, it.id));
        view.asks.sort_by_key(|it| (it.made_at, it.id));
        self.view
    }

    /// Puts an edit that was made at a logical time over what is there. What has the id of something that is
    /// there adds nothing.
    pub fn put(&mut self, edit: &Edit, time: u64) {
        let view = &mut self.view;
        match edit.clone() {
            Edit::SetProfile(wanted) => {
                let now = view.profile.as_mut().expect("it was set before");
                let saw = self.saw.profile.as_ref().expect("it was set before");
                alter(&mut now.name, &saw.name, wanted.name);
                alter(&mut now.year, &saw.year, wanted.year);
                alter(&mut now.hand, &saw.hand, wanted.hand);
                alter(&mut now.model, &saw.model, wanted.model);
                alter(&mut now.paper, &saw.paper, wanted.paper);
                alter(&mut now.ruling, &saw.ruling, wanted.ruling);
            }
            Edit::SetTask(wanted) => {
                let now = view.tasks.iter_mut().find(|it| it.id == wanted.id);
                let saw = self.saw.tasks.iter().find(|it| it.id == wanted.id);
                match (now, saw) {
                    (Some(now), Some(saw)) => {
                        alter(&mut now.set_on, &saw.set_on, wanted.set_on);
                        alter(&mut now.kind, &saw.kind, wanted.kind);
                        alter(&mut now.text, &saw.text, wanted.text);
                        alter(&mut now.paper, &saw.paper, wanted.paper);
                        alter(&mut now.ruling, &saw.ruling, wanted.ruling);
                        alter(&mut now.minutes, &saw.minutes, wanted.minutes);
                        alter(&mut now.focus, &saw.focus, wanted.focus);
                    }
                    (Some(now), None) => *now = wanted,
                    (None, _) => view.tasks.push(wanted),
                }
            }
            Edit::AddPage(page) => {
                for reading in &page.readings {
                    self.read_at.entry((page.id, reading.id)).or_insert(time);
                }
                add(&mut view.pages, page, |it| it.id);
            }
            Edit::AddReading { page, reading } => {
                self.read_at.entry((page, reading.id)).or_insert(time);
                add(&mut page_of(view, page).readings, reading, |it| it.id);
            }
            Edit::SetText { page, text } => page_of(view, page).text = text,
            Edit::SetMinutes { page, minutes } => page_of(view, page).minutes = minutes,
            Edit::SetRuling { page, ruling } => page_of(view, page).ruling = ruling,
            Edit::LookAt { page, at } => page_of(view, page).looked_at = Some(at),
            Edit::SetStarting { page, starting } => {
                view.starting.remove(&page);
                view.starting.extend(starting.then_some(page));
            }
            Edit::AllowLetters(allowed) => view.letters_allowed = allowed,
            Edit::AddMark(mark) => add(&mut view.marks, mark, |it| it.id),
            Edit::ChangeMark(wanted) => {
                let now = view.marks.iter_mut().find(|it| it.id == wanted.id);
                let now = now.expect("removals come last");
                *now = Mark {
                    page: now.page,
                    made_at: now.made_at,
                    by: now.by,
                    ..wanted
                };
            }
            Edit::RemoveMark(id) => view.marks.retain(|it| it.id != id),
            Edit::Amend(amendment) => add(&mut view.amendments, amendment, |it| it.id),
            Edit::TakeBack(id) => view.amendments.retain(|it| it.id != id),
            Edit::StartFocus(focus) => add(&mut view.focuses, focus, |it| it.id),
            Edit::EndFocus { focus, on } => {
                let ended = view.focuses.iter_mut().find(|it| it.id == focus);
                ended.expect("it was started before").to = Some(on);
            }
            Edit::SetTarget(target) => {
                view.targets.retain(|it| it.measure != target.measure);
                view.targets.push(target);
            }
            Edit::DropTarget(measure) => view.targets.retain(|it| it.measure != measure),
            Edit::SetDeleteBy(day) => view.delete_by = day,
            Edit::NameDevice { device, name } => {
                view.devices.insert(device, name);
            }
            Edit::AddPractised(practised) => add(&mut view.practised, practised, |it| it.id),
            Edit::DropPractised(id) => view.practised.retain(|it| it.id != id),
            Edit::AddSetUp(check) => add(&mut view.setups, check, |it| it.id),
            Edit::AddReply(reply) => add(&mut view.replies, reply, |it| it.id),
            Edit::TakePageOut(id) => {
                view.pages.retain(|it| it.id != id);
                view.marks.retain(|it| it.page != id);
                view.amendments.retain(|it| it.page != id);
                view.replies.retain(|it| it.page != id);
                view.starting.remove(&id);
            }
            Edit::AskToForget(ask) => add(&mut view.asks, ask, |it| it.id),
            Edit::PutAskAside(id) => view.asks.retain(|it| it.id != id),
        }
    }
}

/// Sets what the writer found different.
fn alter<T: PartialEq>(now: &mut T, saw: &T, wanted: T) {
    if wanted != *saw {
        *now = wanted;
    }
}

fn add<T, Id: PartialEq>(all: &mut Vec<T>, new: T, id: impl Fn(&T) -> Id) {
    if !all.iter().any(|it| id(it) == id(&new)) {
        all.push(new);
    }
}

fn page_of(view: &mut PupilView, id: PageId) -> &mut PageRecord {
    let page = view.pages.iter_mut().find(|it| it.id == id);
    page.expect("removals come last")
}
