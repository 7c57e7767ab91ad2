//! A week in the practice: a task, a page, a look, and now and then a mark.

use std::sync::mpsc;

use app::api::{AddMark, KeepPage, OfPage, SetTask, SetText, StagePhoto, StartFocus};
use units::{Aspect, Day, Moment, PageId, TaskId, TaskKind};

use super::calendar::{Week, at};
use super::pupils::{WEEKS, kind};
use super::{Enrolled, Practice, PracticeError, While, marks, scene};
use crate::font::Fonts;
use crate::page::Drawn;

/// The whole year. Pages are drawn beside the measuring, in the order in which they are needed.
pub(super) async fn all(
    practice: &Practice,
    fonts: &Fonts,
    enrolled: &[Enrolled],
    weeks: &[Week],
    now: Moment,
    say: &mut impl FnMut(&str),
) -> Result<(), PracticeError> {
    let specs: Vec<_> = weeks
        .iter()
        .enumerate()
        .flat_map(|(index, week)| {
            let there = enrolled
                .iter()
                .filter(move |child| index >= child.course.first_week);
            there.map(move |child| scene::page(&child.course, index, week))
        })
        .collect();
    let (sender, drawn) = mpsc::sync_channel::<Drawn>(2);
    let mut outcome = Ok(());
    let runtime = tokio::runtime::Handle::current();
    std::thread::scope(|scope| {
        scope.spawn(move || {
            for spec in specs {
                if sender.send(spec.draw(fonts)).is_err() {
                    return;
                }
            }
        });
        let mut year = || {
            for (index, week) in weeks.iter().enumerate() {
                let one = one(practice, enrolled, index, week, now, &drawn);
                runtime.block_on(one)?;
                say(&format!("week {} of {}", index + 1, weeks.len()));
            }
            Ok(())
        };
        outcome = tokio::task::block_in_place(&mut year);
        // Nobody waits for a page any more: lets the drawing end.
        drop(drawn);
    });
    outcome
}

async fn one(
    practice: &Practice,
    enrolled: &[Enrolled],
    index: usize,
    week: &Week,
    now: Moment,
    drawn: &mpsc::Receiver<Drawn>,
) -> Result<(), PracticeError> {
    let last = index + 1 == WEEKS;
    let until = |moment: Moment| {
        if last {
            Moment(moment.0.min(now.0))
        } else {
            moment
        }
    };
    let there: Vec<&Enrolled> = enrolled
        .iter()
        .filter(|child| index >= child.course.first_week)
        .collect();
    practice.hands.set(until(at(week.monday, 16, 10)));
    let mut tasks = Vec::new();
    for child in &there {
        start_focus(practice, child, index, week.monday)?;
        tasks.push(set_task(practice, child, index, week)?);
    }
    practice.meet().await?;
    let written = until(at(Day(week.monday.0 + 2), 17, 45));
    practice.hands.set(written);
    let mut pages = Vec::new();
    for (child, task) in there.iter().zip(tasks) {
        let page = drawn
            .recv()
            .map_err(|_| PracticeError::Folder(std::io::Error::other("the drawing ended early")))?;
        pages.push(add_page(practice, child, task, written.day(), &page)?);
    }
    practice.meet().await?;
    practice
        .hands
        .set(until(at(Day(week.monday.0 + 3), 20, 15)));
    for (child, (page, text)) in there.iter().zip(pages) {
        // The newest page of the family has just come in and waits for its look.
        if !(last && child.course.family) {
            look(practice, child, index, page, text)?;
        }
    }
    practice.meet().await
}

fn start_focus(
    practice: &Practice,
    child: &Enrolled,
    index: usize,
    monday: Day,
) -> Result<(), PracticeError> {
    let name = &child.course.profile.name;
    for (week, aspect, try_this) in child.course.focuses {
        if *week == index {
            let focus = StartFocus {
                pupil: child.pupil,
                aspect: *aspect,
                from: Some(monday),
                try_this: (*try_this).to_owned(),
            };
            let started = practice.tutor.start_focus(focus);
            started.while_doing(|| format!("beginning a focus for {name}"))?;
        }
    }
    Ok(())
}

fn focus_now(child: &Enrolled, index: usize) -> Option<Aspect> {
    let begun = child.course.focuses.iter().rev();
    begun
        .filter(|(week, ..)| *week <= index)
        .map(|(_, aspect, _)| *aspect)
        .next()
}

fn set_task(
    practice: &Practice,
    child: &Enrolled,
    index: usize,
    week: &Week,
) -> Result<TaskId, PracticeError> {
    let kind = kind(index);
    let text = scene::written_text(&child.course, index, week);
    let task = SetTask {
        pupil: child.pupil,
        kind,
        text: (kind != TaskKind::OwnWords).then(|| vec![text]),
        paper: None,
        ruling: None,
        minutes: if child.course.profile.year.0 < 3 {
            5
        } else {
            10
        },
        focus: focus_now(child, index),
        set_on: None,
    };
    let set = practice.tutor.set_task(task);
    let name = &child.course.profile.name;
    Ok(set.while_doing(|| format!("setting {name}'s task"))?.task)
}

/// The page goes in on the family's device, or on the tutor's for whoever has none. Gives the
/// page and what stands on it.
fn add_page(
    practice: &Practice,
    child: &Enrolled,
    task: TaskId,
    day: Day,
    drawn: &Drawn,
) -> Result<(PageId, Vec<String>), PracticeError> {
    let device = if child.course.family {
        &practice.parent
    } else {
        &practice.tutor
    };
    let about = StagePhoto {
        pupil: child.pupil,
        task: Some(task),
        kind: None,
        written_on: Some(day),
    };
    let doing = || format!("adding {}'s page of {day}", child.course.profile.name);
    let staged = device.stage_photo(&drawn.jpeg, about).while_doing(doing)?;
    let keep = KeepPage {
        handle: staged.handle,
        despite: !staged.fit,
    };
    let kept = device.keep_page(keep).while_doing(doing)?;
    Ok((kept.page, drawn.text.clone()))
}

/// The tutor looks at a page, types own words, and marks every fourth page.
fn look(
    practice: &Practice,
    child: &Enrolled,
    index: usize,
    page: PageId,
    text: Vec<String>,
) -> Result<(), PracticeError> {
    let pupil = child.pupil;
    let doing = || format!("looking at {}'s page", child.course.profile.name);
    if kind(index) == TaskKind::OwnWords {
        practice
            .tutor
            .set_text(SetText { pupil, page, text })
            .while_doing(doing)?;
    }
    practice
        .tutor
        .look(OfPage { pupil, page })
        .while_doing(doing)?;
    if index % 4 != 1 && index + 2 < WEEKS {
        return Ok(());
    }
    let view = practice
        .tutor
        .page(OfPage { pupil, page })
        .while_doing(doing)?;
    let Some(reading) = view.reading else {
        return Ok(());
    };
    for mark in marks::on(&reading, focus_now(child, index), index) {
        let (shape, words, praise) = mark;
        let mark = AddMark {
            pupil,
            page,
            shape,
            words: words.to_owned(),
            aspect: focus_now(child, index),
            praise,
        };
        practice.tutor.add_mark(mark).while_doing(doing)?;
    }
    Ok(())
}
