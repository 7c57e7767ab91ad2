//! Commands about pupils, tasks, pages and marks.

use app::App;
use app::api::{
    AddMark, AddPractised, AddPupil, KeepPage, Nothing, OfPage, OfPupil, OfStaged, SetMinutes,
    SetTask, SetText, Settle, StagePhoto, StartFocus,
};
use app::units::{MarkShape, PageId, Problem, Profile, PupilId, SchoolYear, TaskId};

use crate::failure::Failure;
use crate::measure::{print_findings, read_photo};
use crate::names::{amendment_words, aspect_name, hand_name, kind_name};
use crate::{args, letters, table};

pub(crate) fn settle(app: &App, wanted: args::Settle) -> Result<(), Failure> {
    app.settle(Settle {
        role: wanted.role,
        name: wanted.name,
    })?;
    println!("This data folder is set up.");
    Ok(())
}

pub(crate) fn pupils(app: &App) -> Result<(), Failure> {
    let mut rows = vec![table::row(&[
        "pupil",
        "year",
        "hand",
        "pages",
        "not seen",
        "last page",
        "focus",
        "id",
    ])];
    for row in app.pupils(Nothing {})?.pupils {
        let profile = row.profile.as_ref();
        rows.push(table::row(&[
            profile.map_or("(not here yet)", |profile| &profile.name),
            &profile
                .map(|profile| profile.year.0.to_string())
                .unwrap_or_default(),
            profile.map_or("", |profile| hand_name(profile.hand)),
            &row.pages.to_string(),
            &row.unseen.to_string(),
            &row.last_page.map(|day| day.to_string()).unwrap_or_default(),
            row.focus.map_or("", aspect_name),
            &row.pupil.to_string(),
        ]));
    }
    table::print(&rows);
    Ok(())
}

pub(crate) fn add_pupil(app: &App, wanted: args::AddPupil) -> Result<(), Failure> {
    let profile = Profile {
        name: wanted.name,
        year: SchoolYear(wanted.year),
        hand: wanted.hand,
        model: letters::model(&wanted.letters)?,
        paper: wanted.paper,
        ruling: wanted.ruling,
    };
    println!("{}", app.add_pupil(AddPupil { profile })?.pupil);
    Ok(())
}

pub(crate) fn practised(app: &App, wanted: &args::Practised) -> Result<(), Failure> {
    app.add_practised(AddPractised {
        pupil: find_pupil(app, &wanted.pupil)?,
        day: wanted.on,
        minutes: wanted.minutes,
        task: None,
    })?;
    Ok(())
}

pub(crate) fn task(app: &App, wanted: args::Task) -> Result<(), Failure> {
    let task = SetTask {
        pupil: find_pupil(app, &wanted.pupil)?,
        kind: wanted.kind,
        text: (!wanted.line.is_empty()).then_some(wanted.line),
        paper: wanted.paper,
        ruling: wanted.ruling,
        minutes: wanted.minutes,
        focus: wanted.focus,
        set_on: None,
    };
    println!("{}", app.set_task(task)?.task);
    Ok(())
}

pub(crate) fn add_page(app: &App, wanted: args::AddPage) -> Result<(), Failure> {
    let pupil = find_pupil(app, &wanted.pupil)?;
    let task = wanted
        .task
        .map(|task| find_task(app, pupil, &task))
        .transpose()?;
    let about = StagePhoto {
        pupil,
        task,
        kind: wanted.kind,
        written_on: wanted.on,
    };
    let staged = app.stage_photo(&read_photo(&wanted.photo)?, about)?;
    for check in staged.checks.iter().filter(|check| !check.check.passed) {
        eprintln!("{}", check.advice);
    }
    let handle = staged.handle.clone();
    let kept = app.keep_page(KeepPage {
        handle: staged.handle,
        despite: wanted.despite,
    });
    if kept.is_err() {
        // The file is still where it was; nobody is there for whom the photograph could wait. Why it was not
        // kept is what matters, whatever becomes of this.
        let _ = app.drop_photo(OfStaged { handle });
    }
    println!("{}", kept?.page);
    Ok(())
}

pub(crate) fn pages(app: &App, wanted: &args::Pupil) -> Result<(), Failure> {
    let pupil = find_pupil(app, &wanted.pupil)?;
    let mut rows = vec![table::row(&[
        "written", "kind", "seen", "marks", "measured", "picture", "id",
    ])];
    for page in app.pupil(OfPupil { pupil })?.pages {
        let measured = page
            .figures
            .iter()
            .filter(|figure| figure.value.is_some())
            .count();
        rows.push(table::row(&[
            &page.written_on.to_string(),
            kind_name(page.kind),
            if page.looked_at { "yes" } else { "no" },
            &page.marks.to_string(),
            &format!("{measured}/{}", page.figures.len()),
            if page.picture.is_some() {
                "here"
            } else {
                "to come"
            },
            &page.page.to_string(),
        ]));
    }
    table::print(&rows);
    Ok(())
}

pub(crate) fn page(app: &App, wanted: &args::Page) -> Result<(), Failure> {
    let view = app.page(find_page(app, wanted)?)?;
    let record = &view.record;
    println!(
        "{} · {} · {}",
        record.written_on,
        kind_name(record.kind),
        record.id
    );
    table::print(&table::figures(&view.figures));
    if let Some(reading) = &view.reading {
        print_findings(reading);
    }
    for amendment in &view.amendments {
        println!("put right · {}", amendment_words(&amendment.what));
    }
    for mark in &view.marks {
        let kind = match &mark.shape {
            MarkShape::Box { .. } => "box",
            MarkShape::Pen { .. } => "pen",
            MarkShape::Note { .. } => "note",
        };
        println!(
            "{kind} · {} · {}",
            mark.aspect.map_or("", aspect_name),
            mark.words
        );
    }
    Ok(())
}

pub(crate) fn text(app: &App, wanted: args::Text) -> Result<(), Failure> {
    let OfPage { pupil, page } = find_page(app, &wanted.of)?;
    app.set_text(SetText {
        pupil,
        page,
        text: wanted.line,
    })?;
    println!("Measured again.");
    Ok(())
}

pub(crate) fn minutes(app: &App, wanted: &args::Minutes) -> Result<(), Failure> {
    let OfPage { pupil, page } = find_page(app, &wanted.of)?;
    let minutes = wanted.minutes;
    app.set_minutes(SetMinutes {
        pupil,
        page,
        minutes,
    })?;
    println!("Measured again.");
    Ok(())
}

pub(crate) fn mark(app: &App, wanted: args::Mark) -> Result<(), Failure> {
    let shape = match (wanted.at, wanted.around, wanted.stroke) {
        (_, Some(bounds), _) => MarkShape::Box { bounds },
        (Some(at), _, _) => MarkShape::Note { at },
        (None, None, points) if !points.is_empty() => MarkShape::Pen { points },
        _ => {
            return Err(Problem::new(
                "no-place",
                "The mark has no place on the page.",
                "Say --at x,y, --around x0,y0,x1,y1 or --stroke x,y x,y …",
            )
            .into());
        }
    };
    let OfPage { pupil, page } = find_page(app, &wanted.of)?;
    let mark = AddMark {
        pupil,
        page,
        shape,
        words: wanted.words,
        aspect: wanted.aspect,
        praise: wanted.praise,
    };
    println!("{}", app.add_mark(mark)?.mark);
    Ok(())
}

pub(crate) fn look(app: &App, wanted: &args::Page) -> Result<(), Failure> {
    app.look(find_page(app, wanted)?)?;
    Ok(())
}

pub(crate) fn focus(app: &App, wanted: args::Focus) -> Result<(), Failure> {
    let focus = StartFocus {
        pupil: find_pupil(app, &wanted.pupil)?,
        aspect: wanted.aspect,
        from: wanted.from,
        try_this: wanted.try_this,
    };
    println!("{}", app.start_focus(focus)?.focus);
    Ok(())
}

pub(crate) fn progress(app: &App, wanted: &args::Pupil) -> Result<(), Failure> {
    let pupil = find_pupil(app, &wanted.pupil)?;
    let view = app.progress(OfPupil { pupil })?;
    table::print(&table::charts(&view.charts));
    for focus in &view.focuses {
        let to = focus.to.map_or("now".to_owned(), |day| day.to_string());
        println!(
            "focus {} · {} – {to} · {}",
            aspect_name(focus.aspect),
            focus.from,
            focus.try_this
        );
    }
    Ok(())
}

/// The one thing that a word typed by a person names: by id, by name, or by a beginning of either.
fn find<T: Copy>(what: &str, asked: &str, known: &[(T, String, String)]) -> Result<T, Problem> {
    let asked = asked.to_lowercase();
    let exact = known
        .iter()
        .filter(|(_, id, name)| *id == asked || name.to_lowercase() == asked);
    let begins = known
        .iter()
        .filter(|(_, id, name)| id.starts_with(&asked) || name.to_lowercase().starts_with(&asked));
    let found: Vec<T> = exact.map(|(value, ..)| *value).collect();
    let found = if found.is_empty() {
        begins.map(|(value, ..)| *value).collect()
    } else {
        found
    };
    match found[..] {
        [one] => Ok(one),
        [] => Err(Problem::new(
            format!("no-such-{what}"),
            format!("There is no {what} called {asked} on this device."),
            "List them, and use a name or an id from the list.",
        )),
        _ => Err(Problem::new(
            format!("many-such-{what}s"),
            format!("More than one {what} is called {asked}."),
            "Use the id, or more of it.",
        )),
    }
}

pub(crate) fn find_pupil(app: &App, asked: &str) -> Result<PupilId, Problem> {
    let known: Vec<_> = app
        .pupils(Nothing {})?
        .pupils
        .into_iter()
        .map(|row| {
            (
                row.pupil,
                row.pupil.to_string(),
                row.profile.map_or(String::new(), |p| p.name),
            )
        })
        .collect();
    find("pupil", asked, &known)
}

fn find_task(app: &App, pupil: PupilId, asked: &str) -> Result<TaskId, Problem> {
    let tasks = app.pupil(OfPupil { pupil })?.tasks;
    if let (true, Some(newest)) = (asked == "newest", tasks.first()) {
        return Ok(newest.id);
    }
    let known: Vec<_> = tasks
        .into_iter()
        .map(|task| (task.id, task.id.to_string(), String::new()))
        .collect();
    find("task", asked, &known)
}

pub(crate) fn find_page(app: &App, wanted: &args::Page) -> Result<OfPage, Problem> {
    let pupil = find_pupil(app, &wanted.pupil)?;
    let pages = app.pupil(OfPupil { pupil })?.pages;
    if let (true, Some(newest)) = (wanted.page == "newest", pages.first()) {
        return Ok(OfPage {
            pupil,
            page: newest.page,
        });
    }
    let known: Vec<(PageId, String, String)> = pages
        .into_iter()
        .map(|page| (page.page, page.page.to_string(), String::new()))
        .collect();
    Ok(OfPage {
        pupil,
        page: find("page", &wanted.page, &known)?,
    })
}
