//! Both devices are killed (SIGKILL) at random moments of the story, again and again: while pages are
//! added, while marks are put on them, while the two meet. Whatever a device had acknowledged is there
//! afterwards, nothing is half there, and the two come level. Once both are one program, and once two, of which
//! one outlives the other.
//!
//! `POTHOOK_KILLS` says how often, `POTHOOK_SEED` from which seed the moments are drawn.

// Of the dice only some throws are needed here.
#[allow(dead_code)]
#[path = "simulation/dice.rs"]
mod dice;

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{self, Receiver};
use std::time::{Duration, Instant};

use app::App;
use app::api::{AllowLetters, Exchange, Nothing, OfPage, OfPupil};
use app::units::{PageId, PupilId};
use dice::Dice;
use pothook_tests::{opener, parent, seen_by_both, tutor};
use store::Store;

/// Kills in one run of all tests; each is followed by a full look at both stores.
const KILLS: u64 = 20;
/// The same, where the other device goes on.
const KILLS_APART: u64 = 8;
/// Kills of one story; then another begins, so that none grows long.
const OF_ONE_STORY: u64 = 10;
/// What the story is about to do, and how long after having said so it may be killed, in milliseconds.
const MOMENTS: [(&str, u64); 3] = [("keeping", 60), ("marking", 40), ("meeting", 250)];
/// How long a story may take to come to such a moment.
const PATIENCE: Duration = Duration::from_secs(120);

fn told(name: &str) -> Option<u64> {
    std::env::var(name).ok()?.parse().ok()
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_acknowledged_survives_a_kill_at_any_moment() {
    let kills = told("POTHOOK_KILLS").unwrap_or(KILLS);
    let seed = told("POTHOOK_SEED").unwrap_or(1);
    let mut dice = Dice::new(seed);
    let (mut pages, mut marks) = (0, 0);
    let mut at = [0; MOMENTS.len()];
    let mut left = kills;
    while left > 0 {
        let folder = tempfile::tempdir().unwrap();
        let mut acknowledged: Vec<String> = Vec::new();
        for _ in 0..left.min(OF_ONE_STORY) {
            let which = dice.below(MOMENTS.len() as u64) as usize;
            at[which] += 1;
            acknowledged.extend(run_and_kill(folder.path(), which, &mut dice));
            check(folder.path(), &acknowledged).await;
        }
        left = left.saturating_sub(OF_ONE_STORY);
        let said = |what: &str| {
            acknowledged
                .iter()
                .filter(|line| line.starts_with(what))
                .count()
        };
        pages += said("page");
        marks += said("mark ");
    }
    println!(
        "{kills} kills from seed {seed} (keeping {}, marking {}, meeting {}), {pages} pages and {marks} marks \
         acknowledged, none lost",
        at[0], at[1], at[2]
    );
    assert!(
        pages as u64 >= kills / 2,
        "the stories got as far as a page"
    );
}

/// The devices by themselves, each with what it does.
const ALONE: [(&str, [(&str, u64); 2]); 2] = [
    ("desk", [MOMENTS[1], MOMENTS[2]]),
    ("home", [MOMENTS[0], MOMENTS[2]]),
];

/// One device is killed and begins again, while the other one, in a program of its own, goes on.
#[tokio::test(flavor = "multi_thread")]
async fn what_was_acknowledged_survives_though_one_device_outlives_the_other() {
    let kills = told("POTHOOK_KILLS").unwrap_or(KILLS_APART);
    let seed = told("POTHOOK_SEED").unwrap_or(1);
    let mut dice = Dice::new(seed);
    let mut all = Vec::new();
    let mut left = kills;
    while left > 0 {
        let folder = tempfile::tempdir().unwrap();
        // Until there is a page, they are together.
        let mut acknowledged = run_and_kill(folder.path(), 0, &mut dice);
        let mut both = ALONE.map(|(name, _)| Story::begin(folder.path(), Some(name)));
        for _ in 0..left.min(OF_ONE_STORY) {
            let which = dice.below(2) as usize;
            let (name, moments) = ALONE[which];
            let moment = moments[dice.below(2) as usize];
            acknowledged.extend(both[which].killed_at(moment, &mut dice));
            let at = folder.path().join(["t", "p"][which]);
            let store = Store::open(&at, &opener()).expect("the folder opens after a kill");
            store.check().expect("nothing is damaged");
            drop(store);
            both[which] = Story::begin(folder.path(), Some(name));
        }
        for mut story in both {
            acknowledged.extend(story.killed());
        }
        check(folder.path(), &acknowledged).await;
        left = left.saturating_sub(OF_ONE_STORY);
        all.extend(acknowledged);
    }
    let said = |what: &str| all.iter().filter(|line| line.starts_with(what)).count();
    println!(
        "{kills} kills of one device from seed {seed}: {} pages and {} marks acknowledged, none lost; they met {} \
         times, and {} times not",
        said("page"),
        said("mark "),
        said("met"),
        said("apart")
    );
    assert!(said("met") as u64 >= kills / 2, "they met in between");
}

/// Lets the story go on, kills it soon after it has said so often what it is about to do, and gives the
/// lines that it had said.
fn run_and_kill(folder: &Path, which: usize, dice: &mut Dice) -> Vec<String> {
    Story::begin(folder, None).killed_at(MOMENTS[which], dice)
}

/// A story that goes on in a program of its own.
struct Story {
    program: Child,
    lines: Receiver<String>,
}

impl Story {
    /// Of both devices, or of one by itself.
    fn begin(folder: &Path, alone: Option<&str>) -> Self {
        let mut program = Command::new(env!("CARGO_BIN_EXE_story"))
            .arg(folder)
            .args(alone)
            .stdout(Stdio::piped())
            .spawn()
            .expect("the story starts");
        let lines = lines_of(&mut program);
        Self { program, lines }
    }

    fn killed_at(&mut self, (moment, within): (&str, u64), dice: &mut Dice) -> Vec<String> {
        // What it said while nobody looked tells nothing of where it is now.
        let mut said: Vec<String> = self.lines.try_iter().collect();
        let mut times = 1 + dice.below(5);
        let begun = Instant::now();
        while times > 0 {
            let left = PATIENCE.saturating_sub(begun.elapsed());
            let line = self.lines.recv_timeout(left);
            let line = line.expect("the story goes on by itself");
            times -= u64::from(line == moment);
            said.push(line);
        }
        std::thread::sleep(Duration::from_micros(dice.below(within * 1_000)));
        said.extend(self.killed());
        said
    }

    /// Kills it, and gives the lines that it had said and nobody had read.
    fn killed(&mut self) -> Vec<String> {
        let ended_itself = self.program.try_wait().unwrap();
        assert!(
            ended_itself.is_none(),
            "the story must not end by itself: {ended_itself:?}"
        );
        self.program.kill().unwrap();
        self.program.wait().unwrap();
        self.lines.iter().collect()
    }
}

impl Drop for Story {
    fn drop(&mut self) {
        // For a test that fails before; a second time it does nothing.
        let _ = self.program.kill();
        let _ = self.program.wait();
    }
}

fn lines_of(story: &mut Child) -> Receiver<String> {
    let (send, receive) = mpsc::channel();
    let output = BufReader::new(story.stdout.take().unwrap());
    std::thread::spawn(move || {
        // A line cut off by the kill was not acknowledged.
        let whole = |line: &Vec<u8>| line.ends_with(b"\n");
        let mut output = output;
        loop {
            let mut line = Vec::new();
            let read = output.read_until(b'\n', &mut line);
            if read.is_err() || !whole(&line) {
                return;
            }
            let line = String::from_utf8_lossy(&line).trim_end().to_owned();
            if send.send(line).is_err() {
                return;
            }
        }
    });
    receive
}

async fn check(folder: &Path, acknowledged: &[String]) {
    for device in ["t", "p"] {
        let at = folder.join(device);
        if at.exists() {
            let store = Store::open(&at, &opener()).expect("the folder opens after a kill");
            store.check().expect("nothing is damaged");
        }
    }
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
            "met" | "apart" | "keeping" | "marking" | "meeting" => {}
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
    // So that both see the same.
    let allowed = true;
    desk.allow_letters(AllowLetters { pupil, allowed }).unwrap();
    let exchanged = desk.exchange(Exchange { device: None }).await;
    let meetings = exchanged.unwrap().meetings;
    assert!(
        meetings.iter().all(|meeting| meeting.problem.is_none()),
        "{meetings:?}"
    );
    let of = OfPupil { pupil };
    let both = [desk, home].map(|app| seen_by_both(app.pupil(of).unwrap()));
    assert_eq!(both[0], both[1]);
    assert_eq!(desk.progress(of).unwrap(), home.progress(of).unwrap());
    whole_pages(desk, pupil);
}

/// No page is half there: where the record is, the picture and the reading are.
fn whole_pages(app: &App, pupil: PupilId) {
    for row in app.pupil(OfPupil { pupil }).unwrap().pages {
        let page = row.page;
        let view = app.page(OfPage { pupil, page }).unwrap();
        assert!(
            view.picture_here && view.reading.is_some(),
            "half a page: {page}"
        );
        assert!(app.picture(view.record.picture).unwrap().is_some());
    }
}

fn has_page(app: &App, pupil: PupilId, id: &str) -> bool {
    let page: PageId = id.parse().unwrap();
    app.page(OfPage { pupil, page }).is_ok()
}

fn has_mark(app: &App, pupil: PupilId, id: &str) -> bool {
    let pages = app.pupil(OfPupil { pupil }).unwrap().pages;
    pages.iter().filter(|row| row.marks > 0).any(|row| {
        let page = row.page;
        let view = app.page(OfPage { pupil, page }).unwrap();
        view.marks.iter().any(|mark| mark.id.to_string() == id)
    })
}
