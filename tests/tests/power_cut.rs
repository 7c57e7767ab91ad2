//! Both devices are killed (SIGKILL) at random moments of the story, again and again: whatever a
//! device had acknowledged is there afterwards, nothing is half there, and the two come level.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

use app::App;
use app::api::{Exchange, Nothing, OfPage, OfPupil};
use app::units::PupilId;
use pothook_tests::{parent, tutor};

/// Kills in one run; each is followed by a full look at both stores.
const KILLS: u32 = 9;

#[tokio::test(flavor = "multi_thread")]
async fn what_was_acknowledged_survives_a_kill_at_any_moment() {
    let folder = tempfile::tempdir().unwrap();
    let mut acknowledged: Vec<String> = Vec::new();
    // Moments spread from the very start to well into several weeks of the story.
    for kill in 0..KILLS {
        let patience = Duration::from_millis(150 + u64::from(kill * kill) * 160);
        acknowledged.extend(run_and_kill(folder.path(), patience));
        check(folder.path(), &acknowledged).await;
    }
    let pages = acknowledged
        .iter()
        .filter(|line| line.starts_with("page"))
        .count();
    let marks = acknowledged
        .iter()
        .filter(|line| line.starts_with("mark"))
        .count();
    println!("{KILLS} kills, {pages} pages and {marks} marks acknowledged, none lost");
    assert!(
        pages > 0,
        "the story got as far as a page between two kills"
    );
}

/// Lets the story go on for a while, kills it, and gives the lines that it had said.
fn run_and_kill(folder: &Path, patience: Duration) -> Vec<String> {
    let mut story = Command::new(env!("CARGO_BIN_EXE_story"))
        .arg(folder)
        .stdout(Stdio::piped())
        .spawn()
        .expect("the story starts");
    let lines = lines_of(&mut story);
    std::thread::sleep(patience);
    let ended_itself = story.try_wait().unwrap();
    assert!(
        ended_itself.is_none(),
        "the story must not end by itself: {ended_itself:?}"
    );
    story.kill().unwrap();
    story.wait().unwrap();
    lines.iter().collect()
}

fn lines_of(story: &mut Child) -> mpsc::Receiver<String> {
    let (send, receive) = mpsc::channel();
    let output = BufReader::new(story.stdout.take().unwrap());
    std::thread::spawn(move || {
        // A line cut off by the kill was not acknowledged.
        output
            .lines()
            .map_while(Result::ok)
            .try_for_each(|line| send.send(line))
    });
    receive
}

async fn check(folder: &Path, acknowledged: &[String]) {
    let (desk, home) = (tutor(&folder.join("t")), parent(&folder.join("p")));
    let listed = desk.pupils(Nothing {}).unwrap().pupils;
    let pupils: Vec<PupilId> = listed.iter().map(|row| row.pupil).collect();
    assert!(
        listed.iter().all(|row| row.profile.is_some()),
        "no pupil without a profile"
    );
    let shared = home.pupils(Nothing {}).unwrap().pupils;
    for row in &shared {
        whole_pages(&home, row.pupil);
    }
    for line in acknowledged {
        let (kind, id) = line.split_once(' ').unwrap_or((line, ""));
        match kind {
            "pupil" => assert!(pupils.iter().any(|pupil| pupil.to_string() == id), "{line}"),
            "paired" => assert!(!shared.is_empty(), "the pairing is kept"),
            "page" => assert!(has_page(&home, pupils[0], id), "{line} is lost"),
            "mark" => assert!(has_mark(&desk, pupils[0], id), "{line} is lost"),
            "met" => {}
            other => panic!("an unknown line {other}"),
        }
    }
    if let [pupil] = pupils[..]
        && !shared.is_empty()
        && !desk.devices(Nothing {}).unwrap().devices.is_empty()
    {
        come_level(&desk, &home, pupil).await;
    }
    desk.close().await;
    home.close().await;
}

async fn come_level(desk: &App, home: &App, pupil: PupilId) {
    desk.listen().await.unwrap();
    home.listen().await.unwrap();
    let meetings = desk
        .exchange(Exchange { device: None })
        .await
        .unwrap()
        .meetings;
    assert!(
        meetings.iter().all(|meeting| meeting.problem.is_none()),
        "{meetings:?}"
    );
    let of = OfPupil { pupil };
    assert_eq!(desk.pupil(of).unwrap(), home.pupil(of).unwrap());
    assert_eq!(desk.progress(of).unwrap(), home.progress(of).unwrap());
    whole_pages(desk, pupil);
}

/// No page is half there: where the record is, the picture and the reading are.
fn whole_pages(app: &App, pupil: PupilId) {
    for row in app.pupil(OfPupil { pupil }).unwrap().pages {
        let page = app
            .page(OfPage {
                pupil,
                page: row.page,
            })
            .unwrap();
        assert!(
            page.picture_here && page.reading.is_some(),
            "half a page: {}",
            row.page
        );
        assert!(app.picture(page.record.picture).unwrap().is_some());
    }
}

fn has_page(app: &App, pupil: PupilId, id: &str) -> bool {
    let pages = app.pupil(OfPupil { pupil }).unwrap().pages;
    pages.iter().any(|row| row.page.to_string() == id)
}

fn has_mark(app: &App, pupil: PupilId, id: &str) -> bool {
    let pages = app.pupil(OfPupil { pupil }).unwrap().pages;
    pages.iter().any(|row| {
        let page = app
            .page(OfPage {
                pupil,
                page: row.page,
            })
            .unwrap();
        page.marks.iter().any(|mark| mark.id.to_string() == id)
    })
}
