//! What all books of a pupil say together.

pub(crate) mod home;
mod leaving;

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Display;

use units::{
    AmendmentId, AmendmentRecord, Ask, BlobId, Day, DeviceId, Focus, FocusId, LetterModel, Mark,
    MarkId, MeasureName, Moment, PageId, PageRecord, Practised, Profile, ReadingId, ReadingRecord,
    Reply, Ruling, SchoolYear, SetUpCheck, Target, Task, TaskId,
};

use crate::author_doc::Value;
use crate::bounds;
use crate::codes::{Code, Start};
use crate::letters::read_letters;
use crate::merged::Merged;
use crate::packed::{
    StoredReading, Unreadable, unpack_amendment, unpack_focus, unpack_mark, unpack_page,
    unpack_reading, unpack_ruling, unpack_target,
};

pub(crate) use leaving::{stale, taken_out};

/// All that is known of a pupil, merged from every device's documents.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PupilView {
    /// The profile; `None` until the tutor has set it.
    pub profile: Option<Profile>,
    /// Tasks, by the day they were set, then id.
    pub tasks: Vec<Task>,
    /// Pages, by the day they were written, then id.
    pub pages: Vec<PageRecord>,
    /// Whole readings of pages that have not come yet.
    pub early: BTreeSet<BlobId>,
    /// Marks that were not removed, by moment, then id; also those whose page has not come yet.
    pub marks: Vec<Mark>,
    /// What was put right and not taken back, by moment, then id; also on pages that have not come yet.
    pub amendments: Vec<AmendmentRecord>,
    /// Focus periods, by first day, then id.
    pub focuses: Vec<Focus>,
    /// Targets, by measure.
    pub targets: Vec<Target>,
    /// Practice that was done, by day, then id.
    pub practised: Vec<Practised>,
    /// Looks at how the child sat, by day, then id.
    pub setups: Vec<SetUpCheck>,
    /// Replies, by moment, then id; also to pages that have not come yet.
    pub replies: Vec<Reply>,
    /// Wishes that something be forgotten which stand open, by moment, then id.
    pub asks: Vec<Ask>,
    /// What devices are called.
    pub devices: BTreeMap<DeviceId, String>,
    /// The day by which all of this is to be erased, if one was set.
    pub delete_by: Option<Day>,
    /// Pages that stand as the starting point.
    pub starting: BTreeSet<PageId>,
    /// Whether the family sees letter findings before the tutor has looked.
    pub letters_allowed: bool,
    /// Something here was written by a newer version of the program and is not shown.
    pub newer: bool,
}

impl PupilView {
    /// The page of this id.
    pub fn page(&self, id: PageId) -> Option<&PageRecord> {
        self.pages.iter().find(|page| page.id == id)
    }

    pub(crate) fn of(merged: &Merged<'_>) -> Self {
        let mut newer = merged.newer;
        let view = Self {
            profile: profile(merged),
            tasks: sorted(tasks(merged), |task| (task.set_on, task.id)),
            pages: sorted(pages(merged, &mut newer), |page| (page.written_on, page.id)),
            early: early(merged, &mut newer),
            marks: sorted(marks(merged, &mut newer), |mark| (mark.made_at, mark.id)),
            amendments: sorted(amendments(merged, &mut newer), |amendment| {
                (amendment.made_at, amendment.id)
            }),
            focuses: sorted(focuses(merged, &mut newer), |focus| (focus.from, focus.id)),
            targets: targets(merged, &mut newer).collect(),
            practised: sorted(home::all_practised(merged, &mut newer), |it| {
                (it.day, it.id)
            }),
            setups: sorted(home::setups(merged, &mut newer), |it| (it.day, it.id)),
            replies: sorted(home::replies(merged, &mut newer), |it| (it.made_at, it.id)),
            asks: sorted(home::asks(merged, &mut newer), |it| (it.made_at, it.id)),
            devices: devices(merged),
            delete_by: delete_by(merged),
            starting: starting(merged),
            letters_allowed: merged.register("profile/letters_shown", flag) == Some(true),
            newer: false,
        };
        let mut view = Self { newer, ..view };
        // The documents hold what was on a page that is taken out until the books are founded anew; it is shown,
        // and handed over, no longer.
        let stays = |page: PageId| !is_out(merged, page);
        view.marks.retain(|it| stays(it.page));
        view.amendments.retain(|it| stays(it.page));
        view.replies.retain(|it| stays(it.page));
        view.starting.retain(|page| stays(*page));
        view
    }
}

/// Whether a page was taken out.
fn is_out(merged: &Merged<'_>, page: impl Display) -> bool {
    !merged.record(&format!("gone/{page}")).is_empty()
}

fn sorted<T, K: Ord>(records: impl Iterator<Item = T>, key: impl Fn(&T) -> K) -> Vec<T> {
    let mut records: Vec<T> = records.collect();
    records.sort_by_key(key);
    records
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

pub(crate) fn flag(value: &Value) -> Option<bool> {
    match value {
        Value::Flag(flag) => Some(*flag),
        _ => None,
    }
}

fn day(value: &Value) -> Option<Day> {
    int(value)?.try_into().ok().map(Day)
}

fn choice<T: Code>(value: &Value) -> Option<T> {
    T::from_code(uint(value)?.try_into().ok()?)
}

fn letters(value: &Value) -> Option<LetterModel> {
    match value {
        Value::Text(text) => read_letters(text).ok(),
        value => choice::<Start>(value).map(Start::model),
    }
}

fn ruling(value: &Value) -> Option<Ruling> {
    match value {
        Value::Bytes(bytes) => unpack_ruling(bytes).ok(),
        _ => None,
    }
}

/// `Some(None)` where it is said that there is none.
pub(crate) fn or_nothing<T>(
    read: impl Fn(&Value) -> Option<T>,
) -> impl Fn(&Value) -> Option<Option<T>> {
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

pub(crate) fn profile(merged: &Merged<'_>) -> Option<Profile> {
    let profile = Profile {
        name: merged.register("profile/name", string)?,
        year: SchoolYear(merged.register("profile/year", uint)?.try_into().ok()?),
        hand: merged.register("profile/hand", choice)?,
        model: merged.register("profile/model", letters)?,
        paper: merged.register("profile/paper", choice)?,
        ruling: merged.register("profile/ruling", ruling)?,
    };
    bounds::profile(&profile).is_ok().then_some(profile)
}

fn tasks(merged: &Merged<'_>) -> impl Iterator<Item = Task> {
    let ids = merged
        .registers_under("task/")
        .filter_map(|rest| rest.strip_suffix("/set_on"));
    ids.filter_map(|id| task(merged, id.parse().ok()?))
}

pub(crate) fn task(merged: &Merged<'_>, id: TaskId) -> Option<Task> {
    let key = |field: &str| format!("task/{id}/{field}");
    let task = Task {
        id,
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

pub(crate) fn delete_by(merged: &Merged<'_>) -> Option<Day> {
    let day = merged.register("profile/delete_by", or_nothing(day));
    day.flatten().filter(|day| bounds::day(*day).is_ok())
}

fn devices(merged: &Merged<'_>) -> BTreeMap<DeviceId, String> {
    let named = merged.registers_under("device/");
    let named = named.filter_map(|id| {
        let name = merged.register(&format!("device/{id}"), string)?;
        let sound = bounds::name("the device's name", &name).is_ok();
        Some((id.parse().ok()?, name)).filter(|_| sound)
    });
    named.collect()
}

fn targets(merged: &Merged<'_>, newer: &mut bool) -> impl Iterator<Item = Target> {
    let named = MeasureName::ALL.iter();
    named.filter_map(|name| {
        let key = format!("target/{}", name.text());
        let bytes = merged.register(&key, or_nothing(bytes)).flatten()?;
        match unpack_target(*name, &bytes) {
            Ok(target) => bounds::target(&target).is_ok().then_some(target),
            Err(unreadable) => {
                *newer |= unreadable == Unreadable::Newer;
                None
            }
        }
    })
}

fn starting(merged: &Merged<'_>) -> BTreeSet<PageId> {
    let said = merged.registers_under("start/");
    let said = said.filter(|id| merged.register(&format!("start/{id}"), flag) == Some(true));
    said.filter_map(|id| id.parse().ok()).collect()
}

/// The first of a record's values that can be read and is within its bounds.
fn readable<T>(
    values: &[(DeviceId, &Value)],
    newer: &mut bool,
    read: impl Fn(DeviceId, &[u8]) -> Result<T, Unreadable>,
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

fn bytes(value: &Value) -> Option<Vec<u8>> {
    match value {
        Value::Bytes(bytes) => Some(bytes.clone()),
        _ => None,
    }
}

fn pages(merged: &Merged<'_>, newer: &mut bool) -> impl Iterator<Item = PageRecord> {
    merged
        .records_under("page/")
        .filter(|id| !is_out(merged, id))
        .filter_map(|id| page(merged, id.parse().ok()?, newer))
}

pub(crate) fn page(merged: &Merged<'_>, id: PageId, newer: &mut bool) -> Option<PageRecord> {
    let mut page = bare_page(merged, id, newer)?;
    let text = merged.register(&format!("text/{id}"), or_nothing(lines));
    page.text = text
        .flatten()
        .filter(|text| bounds::text(Some(text)).is_ok());
    let minutes = merged.register(&format!("minutes/{id}"), or_nothing(uint));
    page.minutes = minutes
        .flatten()
        .and_then(|minutes| minutes.try_into().ok())
        .filter(|minutes| bounds::minutes(Some(*minutes)).is_ok());
    page.looked_at = merged.register(&format!("looked/{id}"), moment);
    let told = merged.register(&format!("ruling/{id}"), ruling);
    if let Some(told) = told.filter(|told| bounds::ruling(*told).is_ok()) {
        page.ruling = told;
    }
    if let Some(own) = own_letters(merged, &page) {
        page.model = own;
    }
    page.readings = readings(merged, id, newer);
    Some(page)
}

/// The tutor's own letter model, as the device that added the page wrote it beside the page.
fn own_letters(merged: &Merged<'_>, page: &PageRecord) -> Option<LetterModel> {
    let values = merged.record(&format!("model/{}", page.id)).iter();
    let mut own = values.filter(|(author, _)| *author == page.added_by);
    own.find_map(|(_, value)| read_letters(&string(value)?).ok())
}

/// The page without text, minutes, readings, moment of looking and own letters.
pub(crate) fn bare_page(merged: &Merged<'_>, id: PageId, newer: &mut bool) -> Option<PageRecord> {
    if is_out(merged, id) {
        return None;
    }
    readable(
        merged.record(&format!("page/{id}")),
        newer,
        |author, bytes| unpack_page(id, author, bytes),
        |page| bounds::page(page).is_ok(),
    )
}

fn moment(value: &Value) -> Option<Moment> {
    let moment = Moment(int(value)?);
    bounds::moment(moment).is_ok().then_some(moment)
}

fn readings(merged: &Merged<'_>, page: PageId, newer: &mut bool) -> Vec<ReadingRecord> {
    let prefix = format!("reading/{page}/");
    let ids = merged.records_under(&prefix);
    let stored = ids.filter_map(|id| {
        let id: ReadingId = id.parse().ok()?;
        let stored = readable(
            merged.record(&format!("{prefix}{id}")),
            newer,
            |_, bytes| unpack_reading(id, bytes),
            |stored| bounds::reading(&stored.reading).is_ok(),
        )?;
        *newer |= stored.newer;
        Some(stored)
    });
    let by = |stored: &StoredReading| {
        let time = merged.clock.believed(stored.time);
        (time, stored.reading.made_at, stored.reading.id)
    };
    let stored = sorted(stored, by).into_iter();
    stored.map(|stored| stored.reading).collect()
}

/// A reading can come before its page: it was made anew of a page that another device is yet to carry over.
fn early(merged: &Merged<'_>, newer: &mut bool) -> BTreeSet<BlobId> {
    let pages = merged.records_under("reading/");
    let pages: BTreeSet<&str> = pages.filter_map(|rest| rest.split('/').next()).collect();
    let missing = pages.into_iter().filter(|page| {
        let here = |key: &str| !merged.record(&format!("{key}/{page}")).is_empty();
        !here("page") && !here("gone")
    });
    missing
        .filter_map(|page| page.parse().ok())
        .flat_map(|page| readings(merged, page, newer))
        .map(|reading| reading.detail)
        .collect()
}

fn marks(merged: &Merged<'_>, newer: &mut bool) -> impl Iterator<Item = Mark> {
    merged
        .records_under("mark/")
        .filter_map(|id| mark(merged, id.parse().ok()?, newer))
}

pub(crate) fn mark(merged: &Merged<'_>, id: MarkId, newer: &mut bool) -> Option<Mark> {
    if !merged.record(&format!("unmark/{id}")).is_empty() {
        return None;
    }
    let made = readable(
        merged.record(&format!("mark/{id}")),
        newer,
        |author, bytes| unpack_mark(id, author, bytes),
        |mark| bounds::mark(mark).is_ok(),
    )?;
    let now = |value: &Value| match unpack_mark(id, made.by, &bytes(value)?) {
        Ok(now) => bounds::mark(&now).is_ok().then_some(now),
        Err(unreadable) => {
            *newer |= unreadable == Unreadable::Newer;
            None
        }
    };
    Some(match merged.register(&format!("remark/{id}"), now) {
        // Where it stands in the history is not altered.
        Some(now) => Mark {
            page: made.page,
            made_at: made.made_at,
            ..now
        },
        None => made,
    })
}

fn amendments(merged: &Merged<'_>, newer: &mut bool) -> impl Iterator<Item = AmendmentRecord> {
    merged
        .records_under("amend/")
        .filter_map(|id| amendment(merged, id.parse().ok()?, newer))
}

pub(crate) fn amendment(
    merged: &Merged<'_>,
    id: AmendmentId,
    newer: &mut bool,
) -> Option<AmendmentRecord> {
    if !merged.record(&format!("unamend/{id}")).is_empty() {
        return None;
    }
    readable(
        merged.record(&format!("amend/{id}")),
        newer,
        |author, bytes| unpack_amendment(id, author, bytes),
        |amendment| bounds::amendment(amendment).is_ok(),
    )
}

fn focuses(merged: &Merged<'_>, newer: &mut bool) -> impl Iterator<Item = Focus> {
    merged
        .records_under("focus/")
        .filter_map(|id| focus(merged, id.parse().ok()?, newer))
}

pub(crate) fn focus(merged: &Merged<'_>, id: FocusId, newer: &mut bool) -> Option<Focus> {
    let mut focus = readable(
        merged.record(&format!("focus/{id}")),
        newer,
        |_, bytes| unpack_focus(id, bytes),
        |focus| bounds::focus(focus).is_ok(),
    )?;
    focus.to = merged
        .register(&format!("focus_end/{id}"), day)
        .filter(|to| bounds::focus_end(&focus, *to).is_ok());
    Some(focus)
}
