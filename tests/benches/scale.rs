//! How long a practice of 40 pupils takes to open after 1, 3 and 10 years, and how large it is.
//!
//! Two pages a week over 40 weeks a year, each with a whole set of measures, two marks, a reply and practice
//! noted; pictures and whole readings are small here, for they stand outside the documents. Times are the
//! median of 10 and are held against reading the same bytes from the same store alone.

use std::path::Path;
use std::time::{Duration, Instant};

use app::api::{Nothing, OfPage, OfPupil};
use app::{App, Key, Opener};
use casefile::{CaseFile, Edit, PracticeBook, PracticeEdit, SignedChange, Signer};
use store::{Store, Write};
use units::{
    Aspect, BlobId, Day, DeviceId, Hand, LetterModel, Mark, MarkId, MarkShape, Measure,
    MeasureName, Mm, Moment, Outcome, PageId, PageRecord, Paper, PointMm, Practised, PractisedId,
    Profile, PupilId, ReadingId, ReadingRecord, Reply, ReplyId, Role, Ruling, SchoolYear, Task,
    TaskId, TaskKind,
};

const PUPILS: u32 = 40;
const WEEKS: u32 = 40;
const PAGES_A_WEEK: u32 = 2;
const RUNS: usize = 10;

fn main() {
    println!("{PAGES_A_WEEK} pages in each of {WEEKS} weeks a year; median of {RUNS}\n");
    println!(
        "years pupils  MB a pupil | first list  list  its bytes  ratio | pupil  its bytes  ratio | page more  its bytes  ratio"
    );
    let mut three = None;
    // Ten years of forty pupils take long to invent, and show nothing that fewer do not.
    for (years, pupils) in [(1, PUPILS), (3, PUPILS), (10, 8)] {
        let row = measure(years, pupils);
        println!(
            "{years:>5} {pupils:>6} {:>11.2} | {:>7.0} ms {:>3.0} ms {:>6.0} ms {:>6.2} | {:>2.0} ms {:>7.1} ms {:>6.2} | {:>6.1} ms {:>7.1} ms {:>6.2}",
            row.megabytes,
            ms(row.first_list),
            ms(row.list),
            ms(row.list_bytes),
            ms(row.list) / ms(row.list_bytes),
            ms(row.pupil),
            ms(row.pupil_bytes),
            ms(row.pupil) / ms(row.pupil_bytes),
            ms(row.add),
            ms(row.add_bytes),
            ms(row.add) / ms(row.add_bytes),
        );
        if years == 3 {
            three = Some(row);
        }
    }
    let row = three.expect("three years were measured");
    println!("\nGoals at three years: list 1,000 ms, pupil 150 ms, add 20 ms, 1 MB a pupil.");
    println!("Its bytes: the same changes read from the same store, checked, and not looked at.");
    let gates = [
        ("a pupil's documents are over 1 MB", row.megabytes > 1.0),
        (
            "the list takes over twice as long as its bytes",
            ms(row.list) > 2.0 * ms(row.list_bytes),
        ),
        (
            "a pupil takes over four times as long as its bytes",
            ms(row.pupil) > 4.0 * ms(row.pupil_bytes),
        ),
        (
            "a page more takes over four times as long as its bytes",
            ms(row.add) > 4.0 * ms(row.add_bytes),
        ),
        (
            "the first list takes over ten times as long as its bytes",
            ms(row.first_list) > 10.0 * ms(row.list_bytes),
        ),
    ];
    let broken = gates.iter().filter(|(_, broken)| *broken);
    let broken: Vec<&str> = broken.map(|(name, _)| *name).collect();
    if !broken.is_empty() {
        eprintln!("Broken: {}", broken.join("; "));
        std::process::exit(1);
    }
}

struct Row {
    megabytes: f64,
    first_list: Duration,
    list: Duration,
    list_bytes: Duration,
    pupil: Duration,
    pupil_bytes: Duration,
    add: Duration,
    add_bytes: Duration,
}

fn ms(time: Duration) -> f64 {
    time.as_secs_f64() * 1_000.0
}

fn measure(years: u32, number: u32) -> Row {
    let folder = tempfile::tempdir().expect("a folder");
    let secret = begin(folder.path());
    let pupils = fill(folder.path(), secret, years, number);
    let docs = |store: &Store, of: Option<PupilId>| {
        let docs = store.docs().expect("documents");
        let docs = docs.into_iter().map(|(doc, _)| doc);
        let mine = |doc: &Vec<u8>| of.is_none_or(|pupil| doc.starts_with(&pupil.0));
        let read = |doc: Vec<u8>| store.changes(&doc, 1..).expect("changes");
        let changes = docs.filter(mine).flat_map(read);
        changes.map(|(_, bytes)| bytes.len()).sum::<usize>()
    };
    let bytes = |of: Option<PupilId>| {
        median(|| {
            let store = Store::open(folder.path(), &opener()).expect("the store");
            timed(|| {
                std::hint::black_box(docs(&store, of));
            })
        })
    };
    let store = Store::open(folder.path(), &opener()).expect("the store");
    let megabytes = docs(&store, None) as f64 / f64::from(number) / 1e6;
    drop(store);
    let list_bytes = bytes(None);
    let pupil_bytes = bytes(Some(pupils[3]));
    // From opening the folder to the list with its charts judged: what Today shows.
    let list = || {
        timed(|| {
            let app = App::open(folder.path(), opener()).expect("the app");
            let list = app.pupils(Nothing {}).expect("a list");
            assert_eq!(list.pupils.len(), number as usize);
        })
    };
    let first_list = list();
    let list = median(list);
    let pupil = median(|| {
        let app = App::open(folder.path(), opener()).expect("the app");
        timed(|| {
            let view = app.pupil(OfPupil { pupil: pupils[3] }).expect("a pupil");
            assert_eq!(view.pages.len(), (years * WEEKS * PAGES_A_WEEK) as usize);
        })
    });
    let app = App::open(folder.path(), opener()).expect("the app");
    let view = app.pupil(OfPupil { pupil: pupils[3] }).expect("a pupil");
    let of = OfPage {
        pupil: pupils[3],
        page: view.pages[0].page,
    };
    let record = app.page(of).expect("a page").record;
    // The first write loads the author's own document; it is not counted.
    app.keep_measured_page(pupils[3], record.clone(), Vec::new())
        .expect("kept");
    let mut number = 0_u32;
    let mut reading = || {
        number += 1;
        let mut bytes = vec![1; 20_000];
        bytes[..4].copy_from_slice(&number.to_le_bytes());
        bytes
    };
    let add = median(|| {
        let blobs = vec![reading()];
        timed(|| {
            app.keep_measured_page(pupils[3], record.clone(), blobs)
                .expect("kept");
        })
    });
    drop(app);
    let store = Store::open(folder.path(), &opener()).expect("the store");
    let mine = |doc: &Vec<u8>| doc.starts_with(&pupils[3].0);
    let all = store.docs().expect("documents").into_iter();
    let own = all
        .filter(|(doc, _)| mine(doc))
        .max_by_key(|(_, count)| *count);
    let (doc, mut seq) = own.expect("a document");
    let change = store.changes(&doc, seq..).expect("a change").remove(0).1;
    let add_bytes = median(|| {
        seq += 1;
        let writes = vec![
            Write::Blob(reading()),
            Write::Change {
                doc: doc.clone(),
                seq,
                bytes: change.clone(),
            },
        ];
        timed(|| store.transaction(writes).expect("written"))
    });
    Row {
        megabytes,
        first_list,
        list,
        list_bytes,
        pupil,
        pupil_bytes,
        add,
        add_bytes,
    }
}

fn opener() -> Opener {
    Opener::Key(Key::new([7; 32]))
}

fn timed(work: impl FnOnce()) -> Duration {
    let start = Instant::now();
    work();
    start.elapsed()
}

fn median(run: impl FnMut() -> Duration) -> Duration {
    let mut times: Vec<Duration> = std::iter::repeat_with(run).take(RUNS).collect();
    times.sort();
    (times[RUNS / 2 - 1] + times[RUNS / 2]) / 2
}

/// A tutor's device that is set up; its secret.
fn begin(folder: &Path) -> [u8; 32] {
    let app = App::open(folder, opener()).expect("the app");
    app.settle(app::api::Settle {
        role: Role::Tutor,
        name: "Study".to_owned(),
    })
    .expect("settled");
    drop(app);
    let store = Store::open(folder, &opener()).expect("the store");
    let secret = store.setting("device/secret").expect("a setting");
    secret.expect("a secret").try_into().expect("32 bytes")
}

fn append(change: &SignedChange) -> Write {
    Write::Change {
        doc: change.doc.encode(),
        seq: change.seq,
        bytes: change.encode(),
    }
}

fn fill(folder: &Path, secret: [u8; 32], years: u32, number: u32) -> Vec<PupilId> {
    let tutor = Signer::from_secret(secret);
    let store = Store::open(folder, &opener()).expect("the store");
    let (mut practice, first) = PracticeBook::begin(&tutor, [1; 16], None);
    let mut writes = vec![append(&first)];
    writes.push(Write::Setting {
        name: "practice/id".to_owned(),
        bytes: serde_json::to_vec(&practice.id()).expect("an id"),
    });
    let some = |numbers: std::ops::Range<u32>| -> Vec<(CaseFile, Vec<SignedChange>)> {
        let made = numbers.map(|number| {
            let family = Signer::from_secret([100 + number as u8; 32]);
            pupil(number, years, &tutor, &family)
        });
        made.collect()
    };
    let made = std::thread::scope(|scope| {
        let one = scope.spawn(|| some(0..number / 2));
        let other = some(number / 2..number);
        [one.join().expect("made"), other].concat()
    });
    let mut pupils = Vec::new();
    for (case, mut changes) in made {
        let listed = PracticeEdit::AddPupil(case.pupil());
        changes.push(practice.write(&tutor, listed).expect("listed"));
        writes.extend(changes.iter().map(append));
        store
            .transaction(std::mem::take(&mut writes))
            .expect("written");
        pupils.push(case.pupil());
    }
    pupils
}

fn pupil(
    number: u32,
    years: u32,
    tutor: &Signer,
    family: &Signer,
) -> (CaseFile, Vec<SignedChange>) {
    let (mut case, first) = CaseFile::begin(tutor, id(number, 0), None);
    let mut changes = vec![first];
    changes.push(
        case.admit(tutor, family.device(), Role::Parent)
            .expect("admitted"),
    );
    let mut write =
        |signer: &Signer, edit: Edit| changes.push(case.write(signer, edit).expect("written"));
    write(
        tutor,
        Edit::SetProfile(Profile {
            name: format!("Pupil {number}"),
            year: SchoolYear(4),
            hand: Hand::Left,
            model: LetterModel::part_joined(),
            paper: Paper::A4,
            ruling: Ruling::Lines { pitch: Mm(8.0) },
        }),
    );
    let mut at = 0;
    for week in 0..years * WEEKS {
        let day = Day(18_000 + (week / WEEKS * 365 + week % WEEKS * 7) as i32);
        let task = TaskId(id(number, 1_000_000 + week));
        write(tutor, Edit::SetTask(weeks_task(task, day)));
        for _ in 0..PAGES_A_WEEK {
            at += 1;
            let page = PageId(id(number, 2_000_000 + at));
            write(
                family,
                Edit::AddPage(page_of(page, task, day, at, family.device())),
            );
            for nth in 0..2 {
                let mark = MarkId(id(number, 3_000_000 + 2 * at + nth));
                write(
                    tutor,
                    Edit::AddMark(mark_on(mark, page, day, tutor.device())),
                );
            }
            let reply = Reply {
                id: ReplyId(id(number, 4_000_000 + at)),
                page,
                mark: None,
                words: "Thank you, we tried it with the paper turned a little.".into(),
                made_at: Moment(i64::from(day.0) * 86_400_000),
                by: family.device(),
            };
            write(family, Edit::AddReply(reply));
        }
        for nth in 0..4 {
            let practised = Practised {
                id: PractisedId(id(number, 5_000_000 + 4 * week + nth)),
                day,
                minutes: 10,
                task: Some(task),
            };
            write(family, Edit::AddPractised(practised));
        }
    }
    (case, changes)
}

/// Bytes that do not repeat, so that nothing packs better than in life.
fn id(pupil: u32, number: u32) -> [u8; 16] {
    let mut bytes = [0; 16];
    let name = [pupil.to_le_bytes(), number.to_le_bytes()].concat();
    bytes.copy_from_slice(&blake3::hash(&name).as_bytes()[..16]);
    bytes
}

fn weeks_task(id: TaskId, set_on: Day) -> Task {
    Task {
        id,
        set_on,
        kind: TaskKind::Copied,
        text: Some(vec![
            "The boat lay still under the old bridge,".into(),
            "and nobody had seen where the heron went.".into(),
            "We waited until the light was nearly gone.".into(),
        ]),
        paper: Paper::A4,
        ruling: Ruling::Lines { pitch: Mm(8.0) },
        minutes: 10,
        focus: Some(Aspect::Gaps),
    }
}

fn page_of(id: PageId, task: TaskId, day: Day, number: u32, by: DeviceId) -> PageRecord {
    let wobble = |name: MeasureName| {
        let key = [number.to_le_bytes().as_slice(), name.text().as_bytes()].concat();
        let hash = blake3::hash(&key);
        f64::from(u32::from_le_bytes(
            *hash.as_bytes().first_chunk().expect("4 bytes"),
        )) / 4e9
    };
    let measured = |name: &MeasureName| Measure {
        name: *name,
        outcome: Outcome::Measured {
            value: 1.0 + wobble(*name),
            se: 0.05 + 0.01 * wobble(*name),
            spread: Some(0.3 + 0.1 * wobble(*name)),
            n: 120,
            places: Vec::new(),
        },
        by_hand: false,
    };
    PageRecord {
        id,
        task: Some(task),
        written_on: day,
        kind: TaskKind::Copied,
        text: weeks_task(task, day).text,
        minutes: None,
        paper: Paper::A4,
        ruling: Ruling::Lines { pitch: Mm(8.0) },
        model: LetterModel::part_joined(),
        picture: BlobId(*blake3::hash(&id.0).as_bytes()),
        added_by: by,
        readings: vec![ReadingRecord {
            id: ReadingId(id.0),
            engine: "pothook-metrics/0.3.0".into(),
            made_at: Moment(i64::from(day.0) * 86_400_000),
            measures: MeasureName::ALL.iter().map(measured).collect(),
            detail: BlobId(*blake3::hash(&[id.0, id.0].concat()).as_bytes()),
        }],
        looked_at: None,
    }
}

fn mark_on(id: MarkId, page: PageId, day: Day, by: DeviceId) -> Mark {
    let point = |step: u32| PointMm {
        x: Mm(20.0 + 0.7 * f64::from(step)),
        y: Mm(40.0 + 0.2 * f64::from(step % 7)),
    };
    Mark {
        id,
        page,
        shape: MarkShape::Pen {
            points: (0..40).map(point).collect(),
        },
        words: "These gaps are as wide as an o: keep them so.".into(),
        aspect: Some(Aspect::Gaps),
        praise: true,
        made_at: Moment(i64::from(day.0) * 86_400_000),
        by,
    }
}
