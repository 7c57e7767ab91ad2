//! The main job, end to end, on two devices: a task goes out, a page comes in and is measured, marks
//! and a focus go back, and both sides hold the same history.

use app::App;
use app::api::{
    AddMark, AddPractised, AddReply, ChangeMark, DropPractised, KeepPage, Nothing, OfPage, OfPupil,
    PageView, RemoveMark, StagePhoto, StartFocus,
};
use app::units::{
    Aspect, BoxMm, Mark, MarkShape, MeasureName, Mm, Outcome, PageId, PointMm, PupilId,
};
use pothook_tests::{KnownPage, answers, meet, pair, parent, pupil_with_task, seen_by_both, tutor};

#[tokio::test(flavor = "multi_thread")]
async fn a_week_from_task_to_marks() {
    let folder = tempfile::tempdir().unwrap();
    let (desk, home) = (
        tutor(&folder.path().join("t")),
        parent(&folder.path().join("p")),
    );
    let (known, photo) = KnownPage::ordinary();

    let (pupil, task) = pupil_with_task(&desk, &known).unwrap();
    println!("tutor: pupil added, task set");
    let words = pair(&desk, &home, pupil).await;
    println!("both: the same words ({}), paired", words.join(" "));
    meet(&home).await;
    let here = home.pupil(OfPupil { pupil }).unwrap();
    assert_eq!(here.tasks[0].id, task);
    assert_eq!(here.profile.unwrap().name, "Wren");
    println!("parent: the task is here");

    let staged = home.stage_photo(&photo, answers(pupil, task)).unwrap();
    assert!(staged.fit, "{:?}", staged.checks);
    let page = home
        .keep_page(KeepPage {
            handle: staged.handle,
            despite: false,
        })
        .unwrap()
        .page;
    let seen = home.page(OfPage { pupil, page }).unwrap();
    assert_measured(&seen, &known);
    println!(
        "parent: the page is kept, {} of {} measured",
        measured(&seen),
        seen.figures.len()
    );

    let report = meet(&home).await;
    assert!(
        report.0 >= 1 && report.1 == 2,
        "a change, the picture and the reading: {report:?}"
    );
    let there = desk.page(OfPage { pupil, page }).unwrap();
    // Which letters read as meant is told to the family once the tutor has looked.
    let shared = |view: &PageView| {
        let reading = view.reading.clone().expect("a reading");
        (reading.lines, reading.words, reading.corrections)
    };
    assert!(shared(&there) == shared(&seen));
    let picture = desk
        .picture(there.record.picture)
        .unwrap()
        .expect("the picture came along");
    assert_no_metadata(&picture);
    println!(
        "tutor: page and reading are here, the picture ({} KB) bare",
        picture.len() / 1024
    );

    mark(&desk, pupil, page);
    desk.look(OfPage { pupil, page }).unwrap();
    desk.start_focus(StartFocus {
        pupil,
        aspect: Aspect::Baseline,
        from: None,
        try_this: "Let every letter sit down on the line before you lift the pencil.".to_owned(),
    })
    .unwrap();
    meet(&desk).await;
    let back = home.page(OfPage { pupil, page }).unwrap();
    assert_eq!(back.marks, desk.page(OfPage { pupil, page }).unwrap().marks);
    assert_eq!(back.marks.len(), 3);
    assert!(back.record.looked_at.is_some());
    println!("parent: {} marks and the focus are here", back.marks.len());

    change_and_take_back(&desk, &home, OfPage { pupil, page }).await;

    let of = OfPupil { pupil };
    assert_eq!(desk.progress(of).unwrap(), home.progress(of).unwrap());
    let both = [&desk, &home].map(|app| seen_by_both(app.pupil(of).unwrap()));
    assert_eq!(both[0], both[1]);
    assert_eq!(home.progress(of).unwrap().focuses.len(), 1);
    let again = meet(&home).await;
    assert_eq!(again, (0, 0), "a second meeting has nothing to say");
    println!(
        "both: the same history, {} charts",
        home.progress(of).unwrap().charts.len()
    );

    // Closed and opened anew, both still hold it.
    let before = (
        desk.progress(of).unwrap(),
        home.page(OfPage { pupil, page }).unwrap(),
    );
    desk.close().await;
    home.close().await;
    drop((desk, home));
    let (desk, home) = (
        reopened(&folder.path().join("t")),
        reopened(&folder.path().join("p")),
    );
    assert_eq!(
        before,
        (
            desk.progress(of).unwrap(),
            home.page(OfPage { pupil, page }).unwrap()
        )
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn each_side_keeps_to_its_own_part() {
    let folder = tempfile::tempdir().unwrap();
    let (desk, home) = (
        tutor(&folder.path().join("t")),
        parent(&folder.path().join("p")),
    );
    let (known, photo) = KnownPage::ordinary();
    let (shared, _) = pupil_with_task(&desk, &known).unwrap();
    let (other, _) = pupil_with_task(&desk, &known).unwrap();
    pair(&desk, &home, shared).await;
    meet(&home).await;

    let listed: Vec<PupilId> = home
        .pupils(Nothing {})
        .unwrap()
        .pupils
        .iter()
        .map(|row| row.pupil)
        .collect();
    assert_eq!(listed, [shared], "a parent sees only the own child");
    assert_eq!(
        home.pupil(OfPupil { pupil: other }).unwrap_err().code,
        "no-such-pupil"
    );
    let about = StagePhoto {
        pupil: other,
        task: None,
        kind: None,
        written_on: None,
    };
    assert_eq!(
        home.stage_photo(&photo, about).unwrap_err().code,
        "no-such-pupil"
    );
    let focus = StartFocus {
        pupil: shared,
        aspect: Aspect::Slant,
        from: None,
        try_this: String::new(),
    };
    assert_eq!(home.start_focus(focus).unwrap_err().code, "other-side");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_photograph_that_is_dropped_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let (known, photo) = KnownPage::ordinary();
    let (pupil, task) = pupil_with_task(&desk, &known).unwrap();
    let staged = desk.stage_photo(&photo, answers(pupil, task)).unwrap();
    assert!(desk.staged_picture(&staged.handle).is_some());
    desk.drop_photo(app::api::OfStaged {
        handle: staged.handle.clone(),
    })
    .unwrap();
    assert!(desk.staged_picture(&staged.handle).is_none());
    let keep = KeepPage {
        handle: staged.handle,
        despite: true,
    };
    assert_eq!(desk.keep_page(keep).unwrap_err().code, "photo-gone");
    assert!(desk.pupil(OfPupil { pupil }).unwrap().pages.is_empty());
}

#[tokio::test(flavor = "multi_thread")]
async fn text_typed_later_is_measured_with_and_nothing_is_overwritten() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let (known, photo) = KnownPage::ordinary();
    let (pupil, _) = pupil_with_task(&desk, &known).unwrap();
    let about = StagePhoto {
        pupil,
        task: None,
        kind: None,
        written_on: None,
    };
    let staged = desk.stage_photo(&photo, about).unwrap();
    let page = desk
        .keep_page(KeepPage {
            handle: staged.handle,
            despite: true,
        })
        .unwrap()
        .page;
    let of = OfPage { pupil, page };
    let blind = desk.page(of).unwrap();
    assert_eq!(blind.record.text, None);
    let text = known.text.clone().unwrap();
    desk.set_text(app::api::SetText {
        pupil,
        page,
        text: text.clone(),
    })
    .unwrap();
    let read = desk.page(of).unwrap();
    assert_eq!(read.record.text, Some(text));
    assert_eq!(read.record.readings.len(), 2);
    assert_eq!(read.record.readings[0], blind.record.readings[0]);
    let named = |view: &PageView| {
        let reading = view.reading.as_ref().unwrap();
        reading
            .letters
            .iter()
            .filter(|letter| letter.char.is_some())
            .count()
    };
    assert!(
        named(&read) > named(&blind),
        "{} > {}",
        named(&read),
        named(&blind)
    );
}

fn reopened(folder: &std::path::Path) -> App {
    // Tasks of the network may hold the folder for a moment longer.
    for _ in 0..100 {
        match pothook_tests::open(folder) {
            Ok(app) => return app,
            Err(problem) if problem.code == "data-in-use" => {
                std::thread::sleep(std::time::Duration::from_millis(50));
            }
            Err(problem) => panic!("{problem:?}"),
        }
    }
    panic!("the folder stays in use")
}

fn mark(desk: &App, pupil: PupilId, page: PageId) {
    let corner = |x: f64, y: f64| PointMm { x: Mm(x), y: Mm(y) };
    let bounds = BoxMm {
        x0: Mm(20.0),
        y0: Mm(30.0),
        x1: Mm(60.0),
        y1: Mm(42.0),
    };
    let points = (0..40)
        .map(|at| corner(20.0 + f64::from(at), 50.0))
        .collect();
    for (shape, words) in [
        (MarkShape::Box { bounds }, ""),
        (MarkShape::Pen { points }, ""),
        (
            MarkShape::Note {
                at: corner(30.0, 60.0),
            },
            "This line sits well.",
        ),
    ] {
        let mark = AddMark {
            pupil,
            page,
            shape,
            words: words.to_owned(),
            aspect: Some(Aspect::Baseline),
            praise: true,
        };
        desk.add_mark(mark).unwrap();
    }
}

/// The family answers a mark and notes practice; the tutor says the mark otherwise, and the family takes the
/// practice back.
async fn change_and_take_back(desk: &App, home: &App, at: OfPage) {
    let OfPage { pupil, page } = at;
    let (of, before) = (OfPupil { pupil }, desk.page(at).unwrap().marks);
    let note = before.last().unwrap().clone();
    home.add_reply(AddReply {
        pupil,
        page,
        mark: Some(note.id),
        words: "We saw it too.".to_owned(),
    })
    .unwrap();
    home.add_practised(AddPractised {
        pupil,
        day: None,
        minutes: 99,
        task: None,
    })
    .unwrap();
    meet(home).await;
    let practised = desk.home(of).unwrap().practised[0].id;
    let change = ChangeMark {
        pupil,
        mark: note.id,
        shape: note.shape.clone(),
        words: " This line climbs a little. ".to_owned(),
        aspect: None,
        praise: false,
    };
    let refused = home.change_mark(change.clone()).unwrap_err();
    assert_eq!(refused.code, "other-side");
    let empty = ChangeMark {
        words: " ".to_owned(),
        ..change.clone()
    };
    assert_eq!(desk.change_mark(empty).unwrap_err().code, "empty-mark");
    desk.change_mark(change.clone()).unwrap();
    let taken = DropPractised { pupil, practised };
    home.drop_practised(taken).unwrap();
    meet(desk).await;
    let marks = home.page(at).unwrap().marks;
    let now = Mark {
        words: "This line climbs a little.".to_owned(),
        aspect: None,
        praise: false,
        ..note.clone()
    };
    assert_eq!(marks.last(), Some(&now));
    assert_eq!(marks.len(), before.len());
    for app in [desk, home] {
        let said = app.home(of).unwrap();
        assert!(said.practised.is_empty());
        assert_eq!(said.replies[0].mark, Some(note.id));
    }
    let mark = note.id;
    desk.remove_mark(RemoveMark { pupil, mark }).unwrap();
    assert_eq!(desk.change_mark(change).unwrap_err().code, "no-such-mark");
    assert_eq!(home.drop_practised(taken).unwrap_err().code, "not-written");
    meet(desk).await;
}

fn measured(view: &PageView) -> usize {
    view.figures
        .iter()
        .filter(|figure| figure.value.is_some())
        .count()
}

/// Every measure is there once; the ones that any lined page of text gives are figures with doubt.
fn assert_measured(view: &PageView, known: &KnownPage) {
    let reading = view.reading.as_ref().expect("a reading");
    let names: Vec<MeasureName> = reading
        .measures
        .iter()
        .map(|measure| measure.name)
        .collect();
    let about_letters =
        |name: &MeasureName| matches!(name.aspect(), Some(Aspect::Form | Aspect::Joins));
    let mut told = MeasureName::ALL.to_vec();
    told.retain(|name| view.letters_shown || !about_letters(name));
    assert_eq!(names, told);
    for name in [
        MeasureName::Drift,
        MeasureName::Wander,
        MeasureName::OnLine,
        MeasureName::XHeight,
        MeasureName::AscenderRatio,
        MeasureName::DescenderRatio,
        MeasureName::LetterGap,
        MeasureName::WordGap,
        MeasureName::Slant,
        MeasureName::Corrections,
    ] {
        let measure = reading
            .measures
            .iter()
            .find(|measure| measure.name == name)
            .unwrap();
        let Outcome::Measured { value, se, n, .. } = &measure.outcome else {
            panic!("{name:?} is not measured: {measure:?}")
        };
        assert!(value.is_finite() && *se > 0.0 && *n > 0, "{measure:?}");
    }
    let lines = known.text.as_ref().unwrap().len();
    assert!(
        reading.lines.len().abs_diff(lines) <= 1,
        "{} lines",
        reading.lines.len()
    );
}

/// A bare JPEG: no application segment but the JFIF header (ITU-T T.871), no comment.
fn assert_no_metadata(jpeg: &[u8]) {
    let mut at = 2;
    while at + 4 <= jpeg.len() && jpeg[at] == 0xFF && jpeg[at + 1] != 0xDA {
        let marker = jpeg[at + 1];
        let foreign = matches!(marker, 0xE1..=0xEF | 0xFE);
        assert!(!foreign, "segment {marker:#x} is no part of a bare picture");
        at += 2 + usize::from(u16::from_be_bytes([jpeg[at + 2], jpeg[at + 3]]));
    }
}
