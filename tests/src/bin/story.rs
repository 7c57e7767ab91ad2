//! Goes on with the story of two devices in one folder until it is killed, and says on standard
//! output what each device has acknowledged: `pupil ID`, `paired`, `page ID`, `mark ID`, `met`.

use std::path::PathBuf;

use app::App;
use app::api::{AddMark, Exchange, KeepPage, Nothing, OfPupil};
use app::units::{BoxMm, MarkShape, Mm, PageId, Problem, PupilId, TaskId};
use pothook_tests::{KnownPage, answers, pair, parent, pupil_with_task, tutor};

fn main() {
    let folder = PathBuf::from(std::env::args_os().nth(1).expect("a folder"));
    let runtime = tokio::runtime::Runtime::new().expect("threads");
    let told = runtime.block_on(go_on(&tutor(&folder.join("t")), &parent(&folder.join("p"))));
    eprintln!("the story ended: {told:?}");
    std::process::exit(1);
}

async fn go_on(desk: &App, home: &App) -> Result<(), Problem> {
    let (known, photo) = KnownPage::ordinary();
    desk.listen().await?;
    home.listen().await?;
    let (pupil, task) = begin(desk, &known)?;
    if home.pupils(Nothing {})?.pupils.is_empty() {
        pair(desk, home, pupil).await;
        println!("paired");
    }
    loop {
        meet(home).await?;
        let staged = home.stage_photo(&photo, answers(pupil, task))?;
        let page = home
            .keep_page(KeepPage {
                handle: staged.handle,
                despite: false,
            })?
            .page;
        println!("page {page}");
        meet(home).await?;
        println!("met");
        for at in 0..4 {
            println!("mark {}", mark(desk, pupil, page, f64::from(at))?);
        }
        meet(desk).await?;
        println!("met");
    }
}

fn begin(desk: &App, known: &KnownPage) -> Result<(PupilId, TaskId), Problem> {
    let listed = desk.pupils(Nothing {})?.pupils;
    let of = listed.first().map(|row| row.pupil);
    let tasks = match of {
        Some(pupil) => desk.pupil(OfPupil { pupil })?.tasks,
        None => Vec::new(),
    };
    if let (Some(pupil), Some(task)) = (of, tasks.first()) {
        return Ok((pupil, task.id));
    }
    let (pupil, task) = pupil_with_task(desk, known)?;
    println!("pupil {pupil}");
    Ok((pupil, task))
}

fn mark(desk: &App, pupil: PupilId, page: PageId, at: f64) -> Result<String, Problem> {
    let bounds = BoxMm {
        x0: Mm(20.0),
        y0: Mm(30.0 + at),
        x1: Mm(60.0),
        y1: Mm(42.0 + at),
    };
    let mark = AddMark {
        pupil,
        page,
        shape: MarkShape::Box { bounds },
        words: String::new(),
        aspect: None,
        praise: true,
    };
    Ok(desk.add_mark(mark)?.mark.to_string())
}

async fn meet(app: &App) -> Result<(), Problem> {
    let meetings = app.exchange(Exchange { device: None }).await?.meetings;
    meetings
        .into_iter()
        .find_map(|meeting| meeting.problem)
        .map_or(Ok(()), Err)
}
