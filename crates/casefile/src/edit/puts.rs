//! What an edit writes, or why it is refused.

use units::{
    AmendmentRecord, Day, DeviceId, Focus, FocusId, LetterModel, Mark, PageId, PageRecord, Profile,
    ReadingRecord, Role, Task,
};

use super::Edit;
use crate::author_doc::{Put, Value};
use crate::codes::{Code, Start};
use crate::letters::letters_text;
use crate::merged::{Merged, SCHEMA, SCHEMA_KEY, TIME_KEY, time_key};
use crate::packed::{
    pack_amendment, pack_ask, pack_focus, pack_mark, pack_page, pack_practised, pack_reading,
    pack_reply, pack_ruling, pack_setup, pack_target,
};
use crate::view;
use crate::{WriteRefused, bounds};

/// Who writes, and when by the logical clock.
pub(crate) struct Writer {
    pub(crate) role: Role,
    pub(crate) device: DeviceId,
    pub(crate) time: u64,
}

/// The values that one change sets.
pub(crate) struct Puts {
    time: u64,
    puts: Vec<Put>,
}

impl Puts {
    pub(crate) fn at(time: u64) -> Self {
        let puts = vec![
            (SCHEMA_KEY.to_owned(), Value::Uint(SCHEMA)),
            (TIME_KEY.to_owned(), Value::Uint(time)),
        ];
        Self { time, puts }
    }

    pub(crate) fn record(&mut self, key: String, value: Value) {
        self.puts.push((key, value));
    }

    pub(crate) fn register(&mut self, key: &str, value: Value) {
        self.puts.push((time_key(key), Value::Uint(self.time)));
        self.puts.push((key.to_owned(), value));
    }

    pub(crate) fn into_vec(self) -> Vec<Put> {
        self.puts
    }
}

/// What an edit writes, or why it is refused.
pub(crate) fn puts(
    edit: &Edit,
    writer: &Writer,
    merged: &Merged<'_>,
) -> Result<Vec<Put>, WriteRefused> {
    if !edit.is_everybodys() && writer.role != Role::Tutor {
        return Err(WriteRefused::TutorOnly);
    }
    let mut puts = Puts::at(writer.time);
    match edit {
        Edit::SetProfile(profile) => set_profile(&mut puts, profile, merged)?,
        Edit::SetTask(task) => set_task(&mut puts, task, merged)?,
        Edit::AddPage(page) => add_page(&mut puts, page, writer, merged)?,
        Edit::AddReading { page, reading } => {
            known_page(merged, *page)?;
            add_reading(&mut puts, *page, reading, merged)?;
        }
        Edit::SetText { page, text } => {
            known_page(merged, *page)?;
            bounds::text(text.as_deref())?;
            puts.register(&format!("text/{page}"), lines(text.as_deref()));
        }
        Edit::SetMinutes { page, minutes } => {
            known_page(merged, *page)?;
            bounds::minutes(*minutes)?;
            puts.register(&format!("minutes/{page}"), whole(*minutes));
        }
        Edit::SetRuling { page, ruling } => {
            known_page(merged, *page)?;
            bounds::ruling(*ruling)?;
            puts.register(
                &format!("ruling/{page}"),
                Value::Bytes(pack_ruling(*ruling)),
            );
        }
        Edit::SetStarting { page, starting } => {
            known_page(merged, *page)?;
            puts.register(&format!("start/{page}"), Value::Flag(*starting));
        }
        Edit::AllowLetters(allowed) => {
            puts.register("profile/letters_shown", Value::Flag(*allowed));
        }
        Edit::LookAt { page, at } => {
            known_page(merged, *page)?;
            bounds::moment(*at)?;
            puts.register(&format!("looked/{page}"), Value::Int(at.0));
        }
        Edit::AddMark(mark) => add_mark(&mut puts, mark, writer, merged)?,
        Edit::ChangeMark(mark) => {
            let known = view::mark(merged, mark.id, &mut false);
            let known = known.ok_or(WriteRefused::Missing("mark"))?;
            let now = Mark {
                page: known.page,
                made_at: known.made_at,
                ..mark.clone()
            };
            bounds::mark(&now)?;
            let key = format!("remark/{}", mark.id);
            puts.register(&key, Value::Bytes(pack_mark(&now)));
        }
        Edit::RemoveMark(id) => {
            view::mark(merged, *id, &mut false).ok_or(WriteRefused::Missing("mark"))?;
            puts.record(format!("unmark/{id}"), Value::Flag(true));
        }
        Edit::Amend(amendment) => amend(&mut puts, amendment, writer, merged)?,
        Edit::TakeBack(id) => {
            view::amendment(merged, *id, &mut false).ok_or(WriteRefused::Missing("amendment"))?;
            puts.record(format!("unamend/{id}"), Value::Flag(true));
        }
        Edit::StartFocus(focus) => start_focus(&mut puts, focus, merged)?,
        Edit::EndFocus { focus, on } => end_focus(&mut puts, *focus, *on, merged)?,
        Edit::SetTarget(target) => {
            bounds::target(target)?;
            let key = format!("target/{}", target.measure.text());
            puts.register(&key, Value::Bytes(pack_target(target)));
        }
        Edit::DropTarget(measure) => {
            puts.register(&format!("target/{}", measure.text()), Value::Nothing);
        }
        Edit::SetDeleteBy(by) => {
            by.map_or(Ok(()), bounds::day)?;
            puts.register("profile/delete_by", by.map_or(Value::Nothing, day));
        }
        Edit::NameDevice { device, name } => {
            bounds::name("the device's name", name)?;
            puts.register(&format!("device/{device}"), Value::Text(name.clone()));
        }
        Edit::AddPractised(practised) => {
            bounds::practised(practised)?;
            let (key, bytes) = (
                format!("practised/{}", practised.id),
                pack_practised(practised),
            );
            new_record(&mut puts, key, bytes, "practice", merged)?;
        }
        Edit::DropPractised(id) => {
            view::home::practised(merged, *id, &mut false)
                .ok_or(WriteRefused::Missing("practice"))?;
            puts.record(format!("unpractised/{id}"), Value::Flag(true));
        }
        Edit::AddSetUp(check) => {
            bounds::setup(check)?;
            let (key, bytes) = (format!("setup/{}", check.id), pack_setup(check));
            new_record(&mut puts, key, bytes, "set-up check", merged)?;
        }
        Edit::AddReply(reply) => {
            bounds::reply(reply)?;
            known_page(merged, reply.page)?;
            own(reply.by, writer)?;
            let (key, bytes) = (format!("reply/{}", reply.id), pack_reply(reply));
            new_record(&mut puts, key, bytes, "reply", merged)?;
        }
        Edit::TakePageOut(page) => {
            known_page(merged, *page)?;
            puts.record(format!("gone/{page}"), Value::Flag(true));
        }
        Edit::AskToForget(ask) => {
            bounds::ask(ask)?;
            own(ask.by, writer)?;
            let (key, bytes) = (format!("ask/{}", ask.id), pack_ask(ask));
            new_record(&mut puts, key, bytes, "wish", merged)?;
        }
        Edit::PutAskAside(id) => {
            view::home::ask(merged, *id, &mut false).ok_or(WriteRefused::Missing("wish"))?;
            puts.record(format!("unask/{id}"), Value::Flag(true));
        }
    }
    Ok(puts.into_vec())
}

fn code(choice: impl Code) -> Value {
    Value::Uint(choice.code().into())
}

/// A number for those to start from, and the text of any other.
fn letters(model: &LetterModel) -> Value {
    match Start::of(model) {
        Some(start) => code(start),
        None => Value::Text(letters_text(model, false)),
    }
}

fn day(day: Day) -> Value {
    Value::Int(day.0.into())
}

fn lines(text: Option<&[String]>) -> Value {
    text.map_or(Value::Nothing, |lines| {
        Value::Text(lines.iter().flat_map(|line| [line, "\n"]).collect())
    })
}

fn whole(number: Option<u16>) -> Value {
    number.map_or(Value::Nothing, |number| Value::Uint(number.into()))
}

fn known_page(merged: &Merged<'_>, id: PageId) -> Result<(), WriteRefused> {
    match view::bare_page(merged, id, &mut false) {
        Some(_) => Ok(()),
        None => Err(WriteRefused::Missing("page")),
    }
}

/// A record names the device that writes it.
fn own(by: DeviceId, writer: &Writer) -> Result<(), WriteRefused> {
    match by == writer.device {
        true => Ok(()),
        false => Err(WriteRefused::WrongAuthor),
    }
}

fn new_record(
    puts: &mut Puts,
    key: String,
    bytes: Vec<u8>,
    what: &'static str,
    merged: &Merged<'_>,
) -> Result<(), WriteRefused> {
    if !merged.record(&key).is_empty() {
        return Err(WriteRefused::AlreadyThere(what));
    }
    puts.record(key, Value::Bytes(bytes));
    Ok(())
}

fn set_profile(
    puts: &mut Puts,
    profile: &Profile,
    merged: &Merged<'_>,
) -> Result<(), WriteRefused> {
    bounds::profile(profile)?;
    let fields = |profile: &Profile| {
        [
            ("name", Value::Text(profile.name.clone())),
            ("year", Value::Uint(profile.year.0.into())),
            ("hand", code(profile.hand)),
            ("model", letters(&profile.model)),
            ("paper", code(profile.paper)),
            ("ruling", Value::Bytes(pack_ruling(profile.ruling))),
        ]
    };
    let now = view::profile(merged).as_ref().map(fields);
    put_differing(puts, "profile", fields(profile), now);
    Ok(())
}

fn set_task(puts: &mut Puts, task: &Task, merged: &Merged<'_>) -> Result<(), WriteRefused> {
    bounds::task(task)?;
    let fields = |task: &Task| {
        [
            ("set_on", day(task.set_on)),
            ("kind", code(task.kind)),
            ("text", lines(task.text.as_deref())),
            ("paper", code(task.paper)),
            ("ruling", Value::Bytes(pack_ruling(task.ruling))),
            ("minutes", Value::Uint(task.minutes.into())),
            ("focus", task.focus.map_or(Value::Nothing, code)),
        ]
    };
    let now = view::task(merged, task.id).as_ref().map(fields);
    put_differing(puts, &format!("task/{}", task.id), fields(task), now);
    Ok(())
}

/// Writing only what differs lets two people alter different fields at once.
fn put_differing<const N: usize>(
    puts: &mut Puts,
    prefix: &str,
    wanted: [(&str, Value); N],
    now: Option<[(&str, Value); N]>,
) {
    for (index, (field, value)) in wanted.into_iter().enumerate() {
        if now.as_ref().is_none_or(|now| now[index].1 != value) {
            puts.register(&format!("{prefix}/{field}"), value);
        }
    }
}

fn add_page(
    puts: &mut Puts,
    page: &PageRecord,
    writer: &Writer,
    merged: &Merged<'_>,
) -> Result<(), WriteRefused> {
    bounds::page(page)?;
    let id = page.id;
    own(page.added_by, writer)?;
    if !merged.record(&format!("page/{id}")).is_empty() {
        return Err(WriteRefused::AlreadyThere("page"));
    }
    puts.record(format!("page/{id}"), Value::Bytes(pack_page(page)));
    if let own @ Value::Text(_) = letters(&page.model) {
        puts.record(format!("model/{id}"), own);
    }
    if page.text.is_some() {
        puts.register(&format!("text/{id}"), lines(page.text.as_deref()));
    }
    if page.minutes.is_some() {
        puts.register(&format!("minutes/{id}"), whole(page.minutes));
    }
    if let Some(at) = page.looked_at {
        if writer.role != Role::Tutor {
            return Err(WriteRefused::TutorOnly);
        }
        bounds::moment(at)?;
        puts.register(&format!("looked/{id}"), Value::Int(at.0));
    }
    for reading in &page.readings {
        add_reading(puts, id, reading, merged)?;
    }
    Ok(())
}

fn add_reading(
    puts: &mut Puts,
    page: PageId,
    reading: &ReadingRecord,
    merged: &Merged<'_>,
) -> Result<(), WriteRefused> {
    bounds::reading(reading)?;
    let key = format!("reading/{page}/{}", reading.id);
    let repeated = puts.puts.iter().any(|(put, _)| *put == key);
    if repeated || !merged.record(&key).is_empty() {
        return Err(WriteRefused::AlreadyThere("reading"));
    }
    let packed = pack_reading(reading, puts.time);
    puts.record(key, Value::Bytes(packed));
    Ok(())
}

fn add_mark(
    puts: &mut Puts,
    mark: &Mark,
    writer: &Writer,
    merged: &Merged<'_>,
) -> Result<(), WriteRefused> {
    bounds::mark(mark)?;
    known_page(merged, mark.page)?;
    own(mark.by, writer)?;
    new_record(
        puts,
        format!("mark/{}", mark.id),
        pack_mark(mark),
        "mark",
        merged,
    )
}

fn amend(
    puts: &mut Puts,
    amendment: &AmendmentRecord,
    writer: &Writer,
    merged: &Merged<'_>,
) -> Result<(), WriteRefused> {
    bounds::amendment(amendment)?;
    known_page(merged, amendment.page)?;
    own(amendment.by, writer)?;
    let (key, bytes) = (format!("amend/{}", amendment.id), pack_amendment(amendment));
    new_record(puts, key, bytes, "amendment", merged)
}

fn start_focus(puts: &mut Puts, focus: &Focus, merged: &Merged<'_>) -> Result<(), WriteRefused> {
    bounds::focus(focus)?;
    let (key, bytes) = (format!("focus/{}", focus.id), pack_focus(focus));
    new_record(puts, key, bytes, "focus", merged)?;
    if let Some(to) = focus.to {
        puts.register(&format!("focus_end/{}", focus.id), day(to));
    }
    Ok(())
}

fn end_focus(
    puts: &mut Puts,
    id: FocusId,
    on: Day,
    merged: &Merged<'_>,
) -> Result<(), WriteRefused> {
    let focus = view::focus(merged, id, &mut false).ok_or(WriteRefused::Missing("focus"))?;
    bounds::focus_end(&focus, on)?;
    puts.register(&format!("focus_end/{id}"), day(on));
    Ok(())
}
