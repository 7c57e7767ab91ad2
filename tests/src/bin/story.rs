//! Goes on with the story of two devices in one folder until it is killed, and says on standard
//! output what each device has acknowledged: `pupil ID`, `paired`, `page ID`, `mark ID`, `met`; and
//! before that what it is about to do: `keeping`, `marking`, `meeting`.
//!
//! With `desk` or `home` behind the folder, one device goes on by itself, while the other one, in a program of
//! its own, may be gone at any moment; where they did not meet it says `apart`.

use std::io::Write;
use std::path::PathBuf;

use app::App;
use app::api::{AddMark, Exchange, KeepPage, Nothing, OfPage, OfPupil, PageView};
use app::units::{BlobId, BoxMm, MarkShape, Mm, PageId, PageRecord, Problem, PupilId, TaskId};
use flate2::Compression;
use flate2::write::ZlibEncoder;
use pothook_tests::{KnownPage, answers, pair, parent, pupil_with_task, tutor};

fn main() {
    let folder = PathBuf::from(std::env::args_os().nth(1).expect("a folder"));
    let alone = std::env::args().nth(2);
    let desk = || tutor(&folder.join("t"));
    let home = || parent(&folder.join("p"));
    let runtime = tokio::runtime::Runtime::new().expect("threads");
    let told = runtime.block_on(async {
        match alone.as_deref() {
            Some("desk") => desk_alone(&desk()).await,
            Some("home") => home_alone(&home()).await,
            _ => go_on(&desk(), &home()).await,
        }
    });
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
    meet(home).await?;
    let first = first_page(home, pupil, task, &photo)?;
    loop {
        println!("keeping");
        let page = like(home, pupil, &first)?;
        println!("page {page}");
        meet(home).await?;
        for at in 0..4 {
            println!("marking");
            println!("mark {}", mark(desk, pupil, page, f64::from(at))?);
        }
        meet(desk).await?;
    }
}

async fn desk_alone(desk: &App) -> Result<(), Problem> {
    desk.listen().await?;
    let pupil = desk.pupils(Nothing {})?.pupils[0].pupil;
    for at in 0.. {
        if let Some(row) = desk.pupil(OfPupil { pupil })?.pages.last() {
            println!("marking");
            let at = f64::from(at % 40);
            println!("mark {}", mark(desk, pupil, row.page, at)?);
        }
        try_to_meet(desk).await?;
    }
    Ok(())
}

async fn home_alone(home: &App) -> Result<(), Problem> {
    home.listen().await?;
    let pupil = home.pupils(Nothing {})?.pupils[0].pupil;
    let page = home.pupil(OfPupil { pupil })?.pages[0].page;
    let first = with_picture(home, pupil, page)?;
    loop {
        println!("keeping");
        println!("page {}", like(home, pupil, &first)?);
        try_to_meet(home).await?;
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

/// The first page is a photograph that is measured; those after it are made from it, which is quick.
fn first_page(
    home: &App,
    pupil: PupilId,
    task: TaskId,
    photo: &[u8],
) -> Result<(PageView, Vec<u8>), Problem> {
    let pages = home.pupil(OfPupil { pupil })?.pages;
    let page = match pages.last() {
        Some(row) => row.page,
        None => {
            let handle = home.stage_photo(photo, answers(pupil, task))?.handle;
            let despite = false;
            let page = home.keep_page(KeepPage { handle, despite })?.page;
            println!("page {page}");
            page
        }
    };
    with_picture(home, pupil, page)
}

fn with_picture(home: &App, pupil: PupilId, page: PageId) -> Result<(PageView, Vec<u8>), Problem> {
    let view = home.page(OfPage { pupil, page })?;
    let picture = home.picture(view.record.picture)?;
    Ok((view, picture.expect("the picture of a page that was kept")))
}

/// Keeps another page like the first, with a picture and a reading that no other has.
fn like(
    home: &App,
    pupil: PupilId,
    (first, picture): &(PageView, Vec<u8>),
) -> Result<PageId, Problem> {
    let mut reading = first.reading.clone().expect("a reading of a kept page");
    let other = app::random::<16>()?;
    // In a comment right behind the beginning (ITU-T T.81, B.2.4.5), where nobody looks.
    let mut unlike = picture[..2].to_vec();
    unlike.extend([0xFF, 0xFE, 0, 18]);
    unlike.extend(other);
    unlike.extend(&picture[2..]);
    reading.engine = format!(
        "like the first {}",
        u128::from_le_bytes(other) % 1_000_000_007
    );
    let json = serde_json::to_vec(&reading).expect("a reading is plain data");
    let mut packed = ZlibEncoder::new(Vec::new(), Compression::fast());
    let packed = packed.write_all(&json).and_then(|()| packed.finish());
    let packed = packed.expect("memory takes every byte");
    let name = |bytes: &[u8]| BlobId(*blake3::hash(bytes).as_bytes());
    let mut page = PageRecord {
        picture: name(&unlike),
        ..first.record.clone()
    };
    for reading in &mut page.readings {
        reading.detail = name(&packed);
    }
    page.readings.truncate(1);
    Ok(home
        .keep_measured_page(pupil, page, vec![unlike, packed])?
        .page)
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

/// Meets the other device, if it is there.
async fn try_to_meet(app: &App) -> Result<(), Problem> {
    let problem = meeting(app).await?;
    println!("{}", problem.map_or("met", |_| "apart"));
    Ok(())
}

async fn meet(app: &App) -> Result<(), Problem> {
    meeting(app).await?.map_or(Ok(()), Err)?;
    println!("met");
    Ok(())
}

/// What stood in the way of a meeting, if anything did.
async fn meeting(app: &App) -> Result<Option<Problem>, Problem> {
    println!("meeting");
    let meetings = app.exchange(Exchange { device: None }).await?.meetings;
    Ok(meetings.into_iter().find_map(|meeting| meeting.problem))
}
