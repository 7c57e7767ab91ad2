//! What the screens ask for beyond the page itself: lessons, starting points, corners shown by hand,
//! half-typed words, and who may see what.

use app::App;
use app::api::{
    AllowLetters, Corner, ForgetPages, FurnitureFor, KeepDraft, KeepPage, Nothing, OfDevice,
    OfDraft, OfPage, OfPupil, SetCorners, SetLesson, SetReminder, SetRuling, SetStarting,
    StagePhoto, Staged,
};
use app::units::{
    Aspect, Day, Lesson, MeasureName, Mm, Outcome, Problem, PupilId, Ruling, Weekday,
};
use image::codecs::jpeg::JpegEncoder;
use image::{Rgb, RgbImage};
use pothook_tests::{KnownPage, answers, kept_page, meet, pair, parent, pupil_with_task, tutor};

fn row(desk: &App, pupil: PupilId) -> app::api::PupilRow {
    let rows = desk.pupils(Nothing {}).unwrap().pupils;
    rows.into_iter().find(|row| row.pupil == pupil).unwrap()
}

#[test]
fn lessons_stand_in_the_list_and_say_what_came_since() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(folder.path());
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    let pupil = of.pupil;
    assert_eq!(
        (row(&desk, pupil).lesson, row(&desk, pupil).came),
        (None, 1)
    );
    let today: Day = row(&desk, pupil).last_page.unwrap();
    let lesson = Lesson {
        weekday: today.weekday(),
        minute: 930,
    };
    let set = |lesson| desk.set_lesson(SetLesson { pupil, lesson });
    set(Some(lesson)).unwrap();
    desk.look(of).unwrap();
    let told = row(&desk, pupil);
    // Today's lesson is still to come: the last one was a week ago, and the page came in since.
    assert_eq!(told.lesson, Some(lesson));
    assert!(told.lesson_today);
    assert_eq!(told.last_lesson, Some(Day(today.0 - 7)));
    assert_eq!((told.came, told.unseen), (1, 0));
    let minute = Lesson::DAY;
    assert!(set(Some(Lesson { minute, ..lesson })).is_err());
    // It is there after a start, and can be taken away.
    drop(desk);
    let desk = tutor(folder.path());
    assert_eq!(row(&desk, pupil).lesson, Some(lesson));
    let none = SetLesson {
        pupil,
        lesson: None,
    };
    desk.set_lesson(none).unwrap();
    assert_eq!(row(&desk, pupil).lesson, None);
}

#[test]
fn the_starting_point_is_the_mean_of_the_pages_that_stand_for_it() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(folder.path());
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    let pupil = of.pupil;
    let chart = || {
        let charts = desk.progress(OfPupil { pupil }).unwrap().charts;
        let mut charts = charts.into_iter();
        charts.find(|it| it.name == MeasureName::XHeight).unwrap()
    };
    assert!(chart().start.is_none());
    let stands = |of: OfPage, starting| {
        let OfPage { pupil, page } = of;
        let input = SetStarting {
            pupil,
            page,
            starting,
        };
        desk.set_starting(input).unwrap();
    };
    stands(of, true);
    let start = chart().start.unwrap();
    let point = chart().points[0].clone();
    assert_eq!(
        (start.value, start.se, start.pages),
        (point.value, point.se, 1)
    );
    assert!(desk.page(of).unwrap().starting);
    // Two more pages, measured elsewhere: mean and standard error as any handbook has them.
    let record = desk.page(of).unwrap().record;
    let mut values = vec![point.value];
    for (at, value) in [3.0, 2.0].into_iter().enumerate() {
        let mut page = record.clone();
        let measures = &mut page.readings[0].measures;
        let measure = measures
            .iter_mut()
            .find(|it| it.name == MeasureName::XHeight);
        let Outcome::Measured { value: kept, .. } = &mut measure.unwrap().outcome else {
            panic!("measured above")
        };
        *kept = value;
        page.readings.truncate(1);
        page.readings[0].id.0[0] ^= 1 + at as u8;
        page.looked_at = None;
        let kept = desk.keep_measured_page(pupil, page, Vec::new()).unwrap();
        stands(
            OfPage {
                pupil,
                page: kept.page,
            },
            true,
        );
        values.push(value);
    }
    let mean = values.iter().sum::<f64>() / 3.0;
    let variance = values
        .iter()
        .map(|it| (it - mean) * (it - mean))
        .sum::<f64>()
        / 2.0;
    let start = chart().start.unwrap();
    assert!((start.value - mean).abs() < 1e-12);
    assert!((start.se - (variance / 3.0).sqrt()).abs() < 1e-12);
    stands(of, false);
    assert_eq!(chart().start.unwrap().pages, 2);
}

fn stage(desk: &App, pupil: PupilId, task: app::units::TaskId, photo: &[u8]) -> Staged {
    desk.stage_photo(photo, answers(pupil, task)).unwrap()
}

fn x_height(desk: &App, of: OfPage) -> f64 {
    let figures = desk.page(of).unwrap().figures;
    let mut figures = figures.iter();
    let figure = figures.find(|it| it.name == MeasureName::XHeight).unwrap();
    figure.value.unwrap()
}

fn keep(desk: &App, pupil: PupilId, staged: Staged) -> Result<OfPage, Problem> {
    let handle = staged.handle;
    let kept = desk.keep_page(KeepPage {
        handle,
        despite: true,
    })?;
    Ok(OfPage {
        pupil,
        page: kept.page,
    })
}

#[test]
fn corners_shown_by_hand_give_the_same_page() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(folder.path());
    let (known, photo) = KnownPage::ordinary();
    let (pupil, task) = pupil_with_task(&desk, &known).unwrap();
    let found = stage(&desk, pupil, task, &photo);
    assert!(found.found && found.photo_width_px.max(found.photo_height_px) <= 1_600);
    let shown = desk.staged_photo(&found.handle).unwrap();
    let shown = image::load_from_memory(&shown).unwrap();
    assert_eq!(
        (shown.width(), shown.height()),
        (found.photo_width_px, found.photo_height_px)
    );
    let corners = found.corners.unwrap();
    let by_itself = keep(&desk, pupil, found).unwrap();
    // A hand is some pixels off, and may go round the other way, beginning anywhere.
    let off = |at: Corner, (x, y): (f64, f64)| Corner {
        x: at.x + x / f64::from(shown.width()),
        y: at.y + y / f64::from(shown.height()),
    };
    let offs = [(2.0, -1.0), (-2.0, 2.0), (1.0, 2.0), (-1.0, -2.0)];
    let mut by_hand = corners;
    for (at, by) in by_hand.iter_mut().zip(offs) {
        *at = off(*at, by);
    }
    by_hand.reverse();
    let staged = stage(&desk, pupil, task, &photo);
    let handle = staged.handle.clone();
    let set = |corners| {
        desk.set_corners(SetCorners {
            handle: handle.clone(),
            corners,
        })
    };
    let staged = set(Some(by_hand)).unwrap();
    let page = keep(&desk, pupil, staged).unwrap();
    let (one, other) = (x_height(&desk, by_itself), x_height(&desk, page));
    assert!((one / other - 1.0).abs() < 0.01, "{one} {other}");
}

#[test]
fn where_no_sheet_is_found_a_person_can_show_it() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(folder.path());
    let (known, photo) = KnownPage::ordinary();
    let (pupil, task) = pupil_with_task(&desk, &known).unwrap();
    // The flat page alone, to its very edge: there is no desk around it, so no edge to be seen.
    let whole = stage(&desk, pupil, task, &photo);
    let flat = desk.staged_picture(&whole.handle).unwrap();
    let flat = image::load_from_memory(&flat).unwrap().into_rgb8();
    let sheet = stage(&desk, pupil, task, &jpeg(&flat));
    assert!(!sheet.found && !sheet.fit && sheet.checks.is_empty());
    assert_eq!((sheet.width_px, sheet.corners), (0, None));
    assert!(desk.staged_picture(&sheet.handle).is_none());
    let refused = keep(&desk, pupil, sheet.clone()).unwrap_err();
    assert_eq!(refused.code, "no-page-found");
    let set = |corners: [(f64, f64); 4]| {
        desk.set_corners(SetCorners {
            handle: sheet.handle.clone(),
            corners: Some(corners.map(|(x, y)| Corner { x, y })),
        })
    };
    for nonsense in [
        [(0.0, 0.0), (0.0, 0.0), (0.0, 0.0), (0.0, 0.0)],
        [(0.0, 0.0), (1.0, 1.0), (1.0, 0.0), (0.0, 1.0)],
        [(0.0, 0.0), (f64::NAN, 0.0), (1.0, 1.0), (0.0, 1.0)],
        [(0.0, 0.0), (1e300, 0.0), (1.0, 1.0), (0.0, 1.0)],
        [(0.4, 0.4), (0.41, 0.4), (0.41, 0.41), (0.4, 0.41)],
    ] {
        assert_eq!(set(nonsense).unwrap_err().code, "no-sheet-shape");
    }
    let staged = set([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]).unwrap();
    assert!(staged.found);
    let by_hand = keep(&desk, pupil, staged).unwrap();
    let by_itself = keep(&desk, pupil, whole).unwrap();
    let (one, other) = (x_height(&desk, by_itself), x_height(&desk, by_hand));
    assert!((one / other - 1.0).abs() < 0.02, "{one} {other}");
}

fn jpeg(picture: &RgbImage) -> Vec<u8> {
    let mut bytes = Vec::new();
    JpegEncoder::new_with_quality(&mut bytes, 92)
        .encode_image(picture)
        .unwrap();
    bytes
}

#[test]
fn a_page_made_small_is_small_and_a_picture_that_is_none_is_not_shown() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(folder.path());
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    let record = desk.page(of).unwrap().record;
    for _ in 0..2 {
        let small = desk.thumb(record.picture).unwrap().unwrap();
        let small = image::load_from_memory(&small).unwrap().into_rgb8();
        assert_eq!(small.width(), 240);
        let mean = |picture: &RgbImage| {
            let sum: u64 = picture.pixels().map(|Rgb(it)| u64::from(it[1])).sum();
            sum as f64 / f64::from(picture.width() * picture.height())
        };
        let whole = desk.picture(record.picture).unwrap().unwrap();
        let whole = image::load_from_memory(&whole).unwrap().into_rgb8();
        assert!((mean(&small) - mean(&whole)).abs() < 2.0);
    }
    assert_eq!(desk.thumb(record.readings[0].detail).unwrap(), None);
}

#[test]
fn another_ruling_than_the_task_said_is_told_and_holds() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(folder.path());
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    let told = desk.page(of).unwrap();
    let OfPage { pupil, page } = of;
    let set = |ruling| {
        desk.set_ruling(SetRuling {
            pupil,
            page,
            ruling,
        })
    };
    set(Ruling::Plain).unwrap();
    let plain = desk.page(of).unwrap();
    assert_eq!(plain.record.ruling, Ruling::Plain);
    let readings = |view: &app::api::PageView| view.record.readings.len();
    assert_eq!(readings(&plain), readings(&told) + 1);
    set(told.record.ruling).unwrap();
    let again = desk.page(of).unwrap();
    assert_eq!(again.record.ruling, told.record.ruling);
    assert_eq!(again.figures.len(), told.figures.len());
    let pitch = Mm(f64::NAN);
    assert!(set(Ruling::Lines { pitch }).is_err());
}

#[test]
fn half_typed_words_stay_and_go_with_what_they_are_about() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(folder.path());
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    let keys = [
        format!("task/{}", of.pupil),
        format!("mark/{}/{}", of.pupil, of.page),
    ];
    let keep = |key: &str, text: &str| {
        desk.keep_draft(KeepDraft {
            key: key.to_owned(),
            text: text.to_owned(),
        })
    };
    for key in &keys {
        keep(key, "a wren in the").unwrap();
    }
    assert!(keep("task", &"a".repeat(10_001)).is_err());
    drop(desk);
    let desk = tutor(folder.path());
    let draft = |key: &str| {
        let key = key.to_owned();
        desk.draft(OfDraft { key }).unwrap().text
    };
    assert_eq!(draft(&keys[1]).as_deref(), Some("a wren in the"));
    desk.forget_pages(ForgetPages {
        pupil: of.pupil,
        pages: vec![of.page],
    })
    .unwrap();
    assert_eq!(draft(&keys[1]), None);
    assert!(draft(&keys[0]).is_some());
    let nothing = KeepDraft {
        key: keys[0].clone(),
        text: String::new(),
    };
    desk.keep_draft(nothing).unwrap();
    assert_eq!(draft(&keys[0]), None);
    // However many there are, they stay few.
    for at in 0..200 {
        let draft = KeepDraft {
            key: format!("task/{at:03}"),
            text: "a".to_owned(),
        };
        desk.keep_draft(draft).unwrap();
    }
    let kept = (0..200).filter(|at| draft(&format!("task/{at:03}")).is_some());
    assert_eq!(kept.count(), 64);
}

#[tokio::test(flavor = "multi_thread")]
async fn findings_on_letters_reach_the_family_once_the_tutor_has_looked_or_allows_it() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let phone = parent(&folder.path().join("p"));
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    let pupil = of.pupil;
    pair(&desk, &phone, pupil).await;
    meet(&phone).await;
    let about_letters =
        |aspect: Option<Aspect>| matches!(aspect, Some(Aspect::Form | Aspect::Joins));
    let tells = |app: &App| {
        let view = app.page(of).unwrap();
        let reading = view.reading.unwrap();
        let rows = app.pupil(OfPupil { pupil }).unwrap().pages;
        let charts = app.progress(OfPupil { pupil }).unwrap().charts;
        let ways = [
            view.letters_shown,
            view.figures.iter().any(|it| about_letters(it.aspect)),
            reading.letters.iter().any(|letter| letter.reads.is_some()),
            rows[0].figures.iter().any(|it| about_letters(it.aspect)),
            charts.iter().any(|it| about_letters(it.aspect)),
        ];
        assert!(ways.iter().all(|way| *way == ways[0]), "{ways:?}");
        ways[0]
    };
    assert!(tells(&desk) && !tells(&phone));
    let allow = |allowed| desk.allow_letters(AllowLetters { pupil, allowed });
    allow(true).unwrap();
    meet(&phone).await;
    assert!(tells(&phone));
    assert!(phone.pupil(OfPupil { pupil }).unwrap().letters_allowed);
    allow(false).unwrap();
    meet(&phone).await;
    assert!(!tells(&phone));
    desk.look(of).unwrap();
    meet(&phone).await;
    assert!(tells(&phone));
    let refused = phone.allow_letters(AllowLetters {
        pupil,
        allowed: true,
    });
    assert_eq!(refused.unwrap_err().code, "other-side");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_family_sees_whether_the_tutor_has_a_page_and_the_tutor_who_has_what() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let phone = parent(&folder.path().join("p"));
    let (known, photo) = KnownPage::ordinary();
    let (pupil, task) = pupil_with_task(&desk, &known).unwrap();
    pair(&desk, &phone, pupil).await;
    meet(&phone).await;
    let staged = stage(&phone, pupil, task, &photo);
    keep(&phone, pupil, staged).unwrap();
    let with_tutor = |app: &App| app.pupil(OfPupil { pupil }).unwrap().pages[0].with_tutor;
    assert_eq!(with_tutor(&phone), Some(false));
    meet(&phone).await;
    assert_eq!(with_tutor(&phone), Some(true));
    assert_eq!(with_tutor(&desk), None);
    let devices = desk.devices(Nothing {}).unwrap().devices;
    let device = devices[0].device;
    let held = desk.holds(OfDevice { device }).unwrap().pupils;
    assert_eq!(held.len(), 1);
    assert_eq!((held[0].pupil, held[0].pages, held[0].of), (pupil, 1, 1));
}

/// EN 1729-1:2015, functional sizes (secondary copies of the table, ± 10 mm).
#[test]
fn seat_and_table_follow_the_standard() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(folder.path());
    let sizes = |height: f64| {
        let height_mm = Mm(height);
        let found = desk.furniture(FurnitureFor { height_mm }).unwrap().sizes;
        let found = found.into_iter().map(|it| (it.mark, it.seat.0, it.table.0));
        found.collect::<Vec<_>>()
    };
    assert_eq!(sizes(1_250.0), [(3, 350.0, 590.0)]);
    assert_eq!(sizes(1_380.0), [(3, 350.0, 590.0), (4, 380.0, 640.0)]);
    assert_eq!(sizes(1_000.0), [(1, 260.0, 460.0)]);
    assert_eq!(sizes(1_880.0), [(6, 460.0, 760.0)]);
    for outside in [0.0, 929.0, 1_881.0, f64::NAN, f64::INFINITY] {
        assert_eq!(sizes(outside), []);
    }
}

#[test]
fn a_reminder_comes_once_and_only_while_the_page_is_missing() {
    let folder = tempfile::tempdir().unwrap();
    let phone = parent(folder.path());
    let friday: Day = "2026-11-27".parse().unwrap();
    assert_eq!(friday.weekday(), Weekday::Friday);
    let at = Lesson {
        weekday: Weekday::Friday,
        minute: 1_020,
    };
    assert!(!phone.is_time_to_remind(friday, 1_300).unwrap());
    phone.set_reminder(SetReminder { at: Some(at) }).unwrap();
    assert!(!phone.reminder(Nothing {}).unwrap().possible);
    phone.can_remind();
    assert!(phone.reminder(Nothing {}).unwrap().possible);
    let minute = Lesson::DAY;
    let none = Some(Lesson { minute, ..at });
    assert!(phone.set_reminder(SetReminder { at: none }).is_err());
    // Without a pupil there is nothing to wait for.
    assert!(!phone.is_time_to_remind(friday, 1_300).unwrap());
    let desk = tutor(&folder.path().join("t"));
    assert!(!desk.is_time_to_remind(friday, 1_300).unwrap());
}

#[test]
fn a_photograph_that_is_gone_has_no_corners() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(folder.path());
    let (known, _) = KnownPage::ordinary();
    let (pupil, task) = pupil_with_task(&desk, &known).unwrap();
    let handle = "00".to_owned();
    let corners = None;
    let gone = desk.set_corners(SetCorners { handle, corners });
    assert_eq!(gone.unwrap_err().code, "photo-gone");
    let about = StagePhoto {
        written_on: None,
        ..answers(pupil, task)
    };
    assert!(desk.stage_photo(b"no picture", about).is_err());
}

#[test]
fn the_example_shows_months_of_a_pupil_who_does_not_exist_and_can_be_erased() {
    let folder = tempfile::tempdir().unwrap();
    let desk = pothook_tests::open(folder.path()).unwrap();
    let overview = desk.load_example(Nothing {}).unwrap();
    assert_eq!(overview.device.unwrap().role, app::units::Role::Tutor);
    let rows = desk.pupils(Nothing {}).unwrap().pupils;
    let [shown] = &rows[..] else {
        panic!("{rows:?}")
    };
    assert_eq!((shown.pages, shown.unseen), (13, 1));
    let pupil = shown.pupil;
    let view = desk.pupil(OfPupil { pupil }).unwrap();
    assert_eq!(view.pages.iter().filter(|page| page.starting).count(), 3);
    let measured = |page: &&app::api::PageRow| {
        let figures = page.figures.iter().filter(|it| it.value.is_some());
        figures.count() > 10
    };
    assert_eq!(view.pages.iter().filter(measured).count(), 13);
    let progress = desk.progress(OfPupil { pupil }).unwrap();
    // A dozen pages are enough to be judged, and seldom enough for a change to be more than noise.
    let judged = |it: &app::api::AspectVerdict| it.verdict != app::api::Verdict::TooFewPages;
    assert!(progress.aspects.iter().filter(|it| judged(it)).count() >= 6);
    assert_eq!(progress.focuses.len(), 3);
    desk.erase_pupil(OfPupil { pupil }).unwrap();
    assert!(desk.pupils(Nothing {}).unwrap().pupils.is_empty());
    let phone = parent(&folder.path().join("p"));
    let refused = phone.load_example(Nothing {}).unwrap_err();
    assert_eq!(refused.code, "other-side");
}
