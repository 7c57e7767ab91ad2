//! What all books of a pupil say together.

use units::{
    Day, Focus, FocusId, Mark, MarkId, Moment, PageId, PageRecord, Profile, ReadingId,
    ReadingRecord, Ruling, SchoolYear, Task, TaskId,
};

use crate::author_doc::Value;
use crate::bounds;
use crate::codes::Code;
use crate::merged::Merged;
use crate::packed::{
    StoredReading, Unreadable, unpack_focus, unpack_mark, unpack_page, unpack_reading,
    unpack_ruling,
};

/// All that is known of a pupil, merged from every device's documents.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PupilView {
    /// The profile; `None` until the tutor has set it.
    pub profile: Option<Profile>,
    /// Tasks, by the day they were set, then id.
    pub tasks: Vec<Task>,
    /// Pages, by the day they were written, then id.
    pub pages: Vec<PageRecord>,
    /// Marks that were not removed, by moment, then id; also those whose page has not come yet.
    pub marks: Vec<Mark>,
    /// Focus periods, by first day, then id.
    pub focuses: Vec<Focus>,
    /// Something here was written by a newer version of the program and is not shown.
    pub newer: bool,
}

impl PupilView {
    /// The page of this id.
    pub fn page(&self, id: PageId) -> Option<&PageRecord> {
        self.pages.iter().find(|page| page.id == id)
    }

    pub(crate) fn of(merged: &Merged) -> Self {
        let mut newer = merged.newer;
        Self {
            profile: profile(merged),
            tasks: tasks(merged),
            pages: pages(merged, &mut newer),
            marks: marks(merged, &mut newer),
            focuses: focuses(merged, &mut newer),
            newer,
        }
    }
}

fn uint(value: &Value) -> Option<u64> {
    match value {
        Value::Uint(number) => Some(*number),
        _ => None,
    }
}

fn int(value: &Value) -> Option<i64> {
    match value {
        Value::Int(number) => Some(*number),
        _ => None,
    }
}

fn day(value: &Value) -> Option<Day> {
    int(value)?.try_into().ok().map(Day)
}

fn choice<T: Code>(value: &Value) -> Option<T> {
    T::from_code(uint(value)?.try_into().ok()?)
}

fn ruling(value: &Value) -> Option<Ruling> {
    match value {
        Value::Bytes(bytes) => unpack_ruling(bytes).ok(),
        _ => None,
    }
}

/// `Some(None)` where it is said that there is none.
fn or_nothing<T>(read: impl Fn(&Value) -> Option<T>) -> impl Fn(&Value) -> Option<Option<T>> {
    move |value| match value {
        Value::Nothing => Some(None),
        value => read(value).map(Some),
    }
}

pub(crate) fn string(value: &Value) -> Option<String> {
    match value {
        Value::Text(text) => Some(text.clone()),
        _ => None,
    }
}

/// Each line of a stored text is closed by a line feed.
fn lines(value: &Value) -> Option<Vec<String>> {
    match value {
        Value::Text(text) => Some(text.lines().map(str::to_owned).collect()),
        _ => None,
    }
}

fn profile(merged: &Merged) -> Option<Profile> {
    let profile = Profile {
        name: merged.register("profile/name", string)?,
        year: SchoolYear(merged.register("profile/year", uint)?.try_into().ok()?),
        hand: merged.register("profile/hand", choice)?,
        model: merged.register("profile/model", choice)?,
        paper: merged.register("profile/paper", choice)?,
        ruling: merged.register("profile/ruling", ruling)?,
    };
    bounds::profile(&profile).is_ok().then_some(profile)
}

fn tasks(merged: &Merged) -> Vec<Task> {
    let ids = merged
        .registers_under("task/")
        .filter_map(|rest| rest.strip_suffix("/set_on"));
    let mut tasks: Vec<Task> = ids.filter_map(|id| task(merged, id)).collect();
    tasks.sort_by_key(|task| (task.set_on, task.id));
    tasks
}

fn task(merged: &Merged, id: &str) -> Option<Task> {
    let key = |field: &str| format!("task/{id}/{field}");
    let task = Task {
        id: id.parse().ok()?,
        set_on: merged.register(&key("set_on"), day)?,
        kind: merged.register(&key("kind"), choice)?,
        text: merged.register(&key("text"), or_nothing(lines))?,
        paper: merged.register(&key("paper"), choice)?,
        ruling: merged.register(&key("ruling"), ruling)?,
        minutes: merged.register(&key("minutes"), uint)?.try_into().ok()?,
        focus: merged.register(&key("focus"), or_nothing(choice))?,
    };
    bounds::task(&task).is_ok().then_some(task)
}

/// The first of a record's values that can be read and is within its bounds.
fn readable<T>(
    values: &[(units::DeviceId, Value)],
    newer: &mut bool,
    read: impl Fn(units::DeviceId, &[u8]) -> Result<T, Unreadable>,
    check: impl Fn(&T) -> bool,
) -> Option<T> {
    values.iter().find_map(|(author, value)| {
        let Value::Bytes(bytes) = value else {
            return None;
        };
        match read(*author, bytes) {
            Ok(record) => check(&record).then_some(record),
            Err(unreadable) => {
                *newer |= unreadable == Unreadable::Newer;
                None
            }
        }
    })
}

fn pages(merged: &Merged, newer: &mut bool) -> Vec<PageRecord> {
    let mut pages = Vec::new();
    for (id, values) in merged.records_under("page/") {
        let Ok(page_id) = id.parse::<PageId>() else {
            continue;
        };
        let read = |author, bytes: &[u8]| unpack_page(page_id, author, bytes);
        let Some(mut page) = readable(values, newer, read, |page| bounds::page(page).is_ok())
        else {
            continue;
        };
        let text = merged.register(&format!("text/{id}"), or_nothing(lines));
        page.text = text
            .flatten()
            .filter(|text| bounds::text(Some(text)).is_ok());
        page.looked_at = merged.register(&format!("looked/{id}"), moment);
        page.readings = readings(merged, id, newer);
        pages.push(page);
    }
    pages.sort_by_key(|page| (page.written_on, page.id));
    pages
}

fn moment(value: &Value) -> Option<Moment> {
    let moment = Moment(int(value)?);
    bounds::moment(moment).is_ok().then_some(moment)
}

fn readings(merged: &Merged, page: &str, newer: &mut bool) -> Vec<ReadingRecord> {
    let mut readings = Vec::new();
    for (id, values) in merged.records_under(&format!("reading/{page}/")) {
        let Ok(id) = id.parse::<ReadingId>() else {
            continue;
        };
        let read = |_, bytes: &[u8]| unpack_reading(id, bytes);
        let check = |stored: &StoredReading| bounds::reading(&stored.reading).is_ok();
        if let Some(stored) = readable(values, newer, read, check) {
            *newer |= stored.newer;
            readings.push(stored);
        }
    }
    readings.sort_by_key(|stored| (stored.time, stored.reading.made_at, stored.reading.id));
    readings.into_iter().map(|stored| stored.reading).collect()
}

fn marks(merged: &Merged, newer: &mut bool) -> Vec<Mark> {
    let mut marks = Vec::new();
    for (id, values) in merged.records_under("mark/") {
        let Ok(mark_id) = id.parse::<MarkId>() else {
            continue;
        };
        if merged.has_record(&format!("unmark/{id}")) {
            continue;
        }
        let read = |author, bytes: &[u8]| unpack_mark(mark_id, author, bytes);
        marks.extend(readable(values, newer, read, |mark| {
            bounds::mark(mark).is_ok()
        }));
    }
    marks.sort_by_key(|mark| (mark.made_at, mark.id));
    marks
}

fn focuses(merged: &Merged, newer: &mut bool) -> Vec<Focus> {
    let mut focuses: Vec<Focus> = Vec::new();
    for (id, values) in merged.records_under("focus/") {
        let Ok(focus_id) = id.parse::<FocusId>() else {
            continue;
        };
        let read = |_, bytes: &[u8]| unpack_focus(focus_id, bytes);
        let Some(mut focus) = readable(values, newer, read, |focus| bounds::focus(focus).is_ok())
        else {
            continue;
        };
        focus.to = merged
            .register(&format!("focus_end/{id}"), day)
            .filter(|to| bounds::focus_end(&focus, *to).is_ok());
        focuses.push(focus);
    }
    focuses.sort_by_key(|focus| (focus.from, focus.id));
    focuses
}

/// The task of this id.
pub(crate) fn find_task(view: &PupilView, id: TaskId) -> Option<&Task> {
    view.tasks.iter().find(|task| task.id == id)
}
