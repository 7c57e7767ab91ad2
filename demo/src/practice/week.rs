//! A week in the practice: a task, a page, a look, and now and then a mark.

use std::sync::mpsc;

use app::api::{AddMark, KeepPage, OfPage, SetTask, SetText, StagePhoto, StartFocus};
use units::{
    Aspect, BoxMm, Day, MarkShape, Mm, Moment, PageId, PointMm, Reading, TaskId, TaskKind,
};

use super::calendar::{Week, at};
use super::pupils::{WEEKS, kind};
use super::{Enrolled, Practice, PracticeError, While, scene};
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
    for mark in marks(child, index, &reading) {
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

type Sketch = (MarkShape, &'static str, bool);

/// A box round a word, a stroke under a line, and a sentence, as the focus has it.
fn marks(child: &Enrolled, index: usize, reading: &Reading) -> Vec<Sketch> {
    let words: Vec<BoxMm> = reading.words.iter().map(|word| word.bounds).collect();
    let (Some(first), Some(last)) = (words.get(words.len() / 3), reading.lines.last()) else {
        return Vec::new();
    };
    let grown = BoxMm {
        x0: Mm(first.x0.0 - 0.8),
        y0: Mm(first.y0.0 - 0.8),
        x1: Mm(first.x1.0 + 0.8),
        y1: Mm(first.y1.0 + 0.8),
    };
    let (praise, advice) = sentences(focus_now(child, index), index);
    let under = last.bounds;
    let stroke = (0..=12)
        .map(|step| {
            let t = f64::from(step) / 12.0;
            PointMm {
                x: Mm(under.x0.0 + (under.x1.0 - under.x0.0) * t),
                y: Mm(under.y1.0 + 1.2 + 0.35 * libm::sin(f64::from(step) * 1.1)),
            }
        })
        .collect();
    vec![
        (MarkShape::Box { bounds: grown }, praise, true),
        (MarkShape::Pen { points: stroke }, advice, false),
    ]
}

/// What the tutor says: what went well, then what to look at.
fn sentences(focus: Option<Aspect>, index: usize) -> (&'static str, &'static str) {
    let pairs: [(&str, &str); 2] = match focus {
        Some(Aspect::Baseline) => [
            (
                "Every letter of this word stands on the line.",
                "Here the line begins to climb. Turn the paper a little more and try one line again.",
            ),
            (
                "This word sits down as firmly as the printed line itself.",
                "Look at the feet of the letters on this line: which ones float?",
            ),
        ],
        Some(Aspect::Gaps) => [
            (
                "I can see at once where this word begins and where it ends.",
                "Two words nearly touch on this line. Leave room for one o between them.",
            ),
            (
                "A good, even gap on both sides.",
                "The gaps shrink towards the end of the line. Start the next line a word earlier.",
            ),
        ],
        Some(Aspect::XHeight) => [
            (
                "All the small letters of this word have one height.",
                "Some small letters have grown here. Compare each with the one before.",
            ),
            (
                "Even from the first letter to the last.",
                "Begin this line with a letter of the size that you want, and keep looking back at it.",
            ),
        ],
        Some(Aspect::Slant) => [
            (
                "The downstrokes of this word are parallel.",
                "Lay a ruler along the tall letters of this line: they lean different ways.",
            ),
            (
                "A steady lean all through this word.",
                "Here the lean changes in the middle of the line, where the arm had to move.",
            ),
        ],
        Some(Aspect::Reach) => [
            (
                "The tall letters of this word really are tall.",
                "Stretch h, l and d a little higher on this line, so that they cannot be mistaken.",
            ),
            (
                "Tall and small are easy to tell apart here.",
                "Try this line once more and let only the tall letters touch the upper line.",
            ),
        ],
        _ => [
            (
                "A word that reads at first glance.",
                "Read this line aloud from the paper: which word makes you stop?",
            ),
            (
                "Calm, clear writing here.",
                "Take a short rest before the last line; it was written in a hurry.",
            ),
        ],
    };
    pairs[index / 4 % 2]
}
