//! Does what a person puts right on a page hold: kept with the new reading, taken back without a trace,
//! and never lost where the page cannot be measured again?

use app::App;
use app::api::{
    Amend, ChangePupil, KeepPage, OfPage, OfPupil, PageView, SetMinutes, SetText, TakeBack,
};
use app::units::{
    Amendment, AmendmentId, BoxMm, FaultKind, Letter, LetterModel, MeasureName, Mm, PageId,
    Profile, PupilId, Ratio,
};
use pothook_tests::{KnownPage, answers, kept_page, meet, pair, parent, pupil_with_task, tutor};

fn amend(desk: &App, of: OfPage, what: Amendment) -> Result<AmendmentId, app::units::Problem> {
    let OfPage { pupil, page } = of;
    let amended = desk.amend(Amend { pupil, page, what })?;
    Ok(amended.amendment)
}

fn take_back(desk: &App, of: OfPage, amendment: AmendmentId) -> Result<(), app::units::Problem> {
    let OfPage { pupil, page } = of;
    desk.take_back(TakeBack {
        pupil,
        page,
        amendment,
    })?;
    Ok(())
}

/// A sure letter from the middle of the page.
fn some_letter(view: &PageView) -> Letter {
    let letters = &view.reading.as_ref().unwrap().letters;
    let sure = |letter: &&Letter| letter.char == Some('a') && letter.confidence.0 > 0.7;
    letters.iter().rev().find(sure).expect("an a").clone()
}

fn has_open_bowl(letter: &Letter, there: bool) -> Amendment {
    Amendment::Fault {
        at: letter.bounds,
        letter: 'a',
        fault: FaultKind::Open,
        there,
    }
}

#[test]
fn what_is_put_right_is_kept_with_a_new_reading_and_gone_when_taken_back() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path().join("t");
    let desk = tutor(&at);
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    // From the second reading on a page starts with the scale that its printed lines gave.
    desk.measure_again(of).unwrap();
    let first = desk.page(of).unwrap();
    assert!(first.amendments.is_empty());
    assert!(first.figures.iter().all(|figure| !figure.by_hand));

    let letter = some_letter(&first);
    let id = amend(&desk, of, has_open_bowl(&letter, true)).unwrap();
    let after = desk.page(of).unwrap();
    assert_eq!(after.amendments.len(), 1);
    assert_eq!(after.amendments[0].id, id);
    assert_eq!(after.amendments[0].what, has_open_bowl(&letter, true));
    assert_eq!(after.record.readings.len(), 3, "those before are kept");

    // The reading honours it: the letter has the fault, and says that a person said so.
    let reading = after.reading.as_ref().unwrap();
    let same = reading
        .letters
        .iter()
        .find(|one| one.bounds == letter.bounds)
        .expect("the letter stays where it was");
    assert!(same.by_hand);
    assert!(
        same.faults
            .iter()
            .any(|fault| fault.kind == FaultKind::Open)
    );
    let formed = after
        .figures
        .iter()
        .find(|figure| figure.name == MeasureName::WellFormed)
        .unwrap();
    assert!(formed.by_hand, "{formed:?}");

    // Closed and opened anew it is still there, and measuring again honours it again.
    drop(desk);
    let desk = tutor(&at);
    assert_eq!(desk.page(of).unwrap(), after);
    desk.measure_again(of).unwrap();
    let again = desk.page(of).unwrap();
    assert!(again.reading == after.reading, "the same again");

    take_back(&desk, of, id).unwrap();
    let back = desk.page(of).unwrap();
    assert!(back.amendments.is_empty());
    assert!(back.reading == first.reading, "as if nothing had been said");
    let refused = take_back(&desk, of, id).unwrap_err();
    assert_eq!(refused.code, "no-such-amendment");
    assert_eq!(desk.page(of).unwrap(), back);
}

#[test]
fn the_later_of_two_about_the_same_stands_last_even_when_the_clock_stands_still() {
    let folder = tempfile::tempdir().unwrap();
    let clock: app::Clock = std::sync::Arc::new(|| app::units::Moment(1_700_000_000_000));
    let mut opening = app::Opening::new(&folder.path().join("t"), pothook_tests::opener());
    opening.clock = clock;
    let desk = App::open_with(opening).unwrap();
    desk.settle(app::api::Settle {
        role: app::units::Role::Tutor,
        name: "Study".to_owned(),
    })
    .unwrap();
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    let letter = some_letter(&desk.page(of).unwrap());
    let ids: Vec<_> = [true, false, true]
        .map(|there| amend(&desk, of, has_open_bowl(&letter, there)).unwrap())
        .into();
    let kept = desk.page(of).unwrap().amendments;
    assert_eq!(kept.iter().map(|one| one.id).collect::<Vec<_>>(), ids);
}

#[test]
fn a_text_given_later_is_measured_with_what_was_put_right() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    let letter = some_letter(&desk.page(of).unwrap());
    amend(&desk, of, has_open_bowl(&letter, true)).unwrap();
    let before = desk.page(of).unwrap();
    desk.set_text(SetText {
        pupil: of.pupil,
        page: of.page,
        text: known.text.unwrap(),
    })
    .unwrap();
    let after = desk.page(of).unwrap();
    assert!(after.reading == before.reading, "the text is the same");
    assert_eq!(after.amendments, before.amendments);
}

#[test]
fn what_cannot_be_kept_changes_nothing_and_says_why() {
    let folder = tempfile::tempdir().unwrap();
    let (desk_at, home_at) = (folder.path().join("t"), folder.path().join("p"));
    let desk = tutor(&desk_at);
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    let view = desk.page(of).unwrap();
    let what = has_open_bowl(&some_letter(&view), true);

    let home = parent(&home_at);
    assert_eq!(amend(&home, of, what).unwrap_err().code, "other-side");
    let taken = take_back(&home, of, AmendmentId([1; 16]));
    assert_eq!(taken.unwrap_err().code, "other-side");

    let nowhere = OfPage {
        page: app::units::PageId([3; 16]),
        ..of
    };
    assert_eq!(
        amend(&desk, nowhere, what).unwrap_err().code,
        "no-such-page"
    );
    let outside = BoxMm {
        x0: Mm(0.0),
        y0: Mm(0.0),
        x1: Mm(f64::INFINITY),
        y1: Mm(1.0),
    };
    let outside = Amendment::Correction {
        at: outside,
        kind: None,
    };
    assert_eq!(amend(&desk, of, outside).unwrap_err().code, "not-written");
    assert_eq!(desk.page(of).unwrap(), view);

    // A page whose picture has not come yet is not put right blindly.
    drop(desk);
    let store = store::Store::open(&desk_at, &pothook_tests::opener()).unwrap();
    assert!(store.remove_blob(view.record.picture).unwrap());
    drop(store);
    let desk = tutor(&desk_at);
    let refused = amend(&desk, of, what).unwrap_err();
    assert_eq!(refused.code, "picture-not-here");
    let after = desk.page(of).unwrap();
    assert!(after.amendments.is_empty());
    assert_eq!(after.record.readings.len(), 1);
}

#[test]
fn ink_that_is_no_writing_is_left_out_until_that_is_taken_back() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    desk.measure_again(of).unwrap();
    let before = desk.page(of).unwrap().reading.unwrap();
    let first = before.words.iter().filter(|word| word.line == 0);
    let around = |a: BoxMm, b: BoxMm| BoxMm {
        x0: Mm(a.x0.0.min(b.x0.0)),
        y0: Mm(a.y0.0.min(b.y0.0)),
        x1: Mm(a.x1.0.max(b.x1.0)),
        y1: Mm(a.y1.0.max(b.y1.0)),
    };
    let at = first.map(|word| word.bounds).reduce(around).unwrap();
    let id = amend(&desk, of, Amendment::NotWriting { at }).unwrap();
    let after = desk.page(of).unwrap();
    let reading = after.reading.unwrap();
    assert_eq!(reading.lines.len() + 1, before.lines.len());
    assert!(reading.words.iter().all(|word| word.bounds.y1 > at.y1));
    let by_hand = after.figures.iter().filter(|figure| figure.by_hand);
    assert!(
        by_hand.count() > 5,
        "figures say that they rest on a person"
    );
    // The line is told to be one after all, beside what is left out: what is left out stays so.
    let line = amend(&desk, of, Amendment::Line { at }).unwrap();
    assert_eq!(desk.page(of).unwrap().reading.unwrap().lines, reading.lines);
    take_back(&desk, of, line).unwrap();
    take_back(&desk, of, id).unwrap();
    assert!(desk.page(of).unwrap().reading.unwrap() == before);
}

#[test]
fn a_letter_that_the_page_does_not_have_there_is_not_put_right() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    // A letter more than was written stands in the text: the page skips it.
    let mut text = known.text.clone().unwrap();
    let end = text[2].find(' ').expect("two words");
    text[2].insert_str(end, "mm");
    let set = |text| {
        let OfPage { pupil, page } = of;
        desk.set_text(SetText { pupil, page, text }).unwrap();
    };
    set(text);
    let before = desk.page(of).unwrap();
    let reading = before.reading.as_ref().unwrap();
    let skipped = reading.text.as_ref().unwrap().skipped[0];
    let a = some_letter(&before);
    let moved = |place: BoxMm, x: f64, y: f64| BoxMm {
        x0: Mm(place.x0.0 + x),
        y0: Mm(place.y0.0 + y),
        x1: Mm(place.x1.0 + x),
        y1: Mm(place.y1.0 + y),
    };
    let drawn = |letter: char, at: BoxMm| Amendment::Letter {
        at,
        letter,
        bounds: Some(at),
    };
    let fault = |letter: char, at: BoxMm| Amendment::Fault {
        at,
        letter,
        fault: FaultKind::Open,
        there: true,
    };
    let width = a.bounds.x1.0 - a.bounds.x0.0;
    for what in [
        fault('q', a.bounds),
        drawn('q', a.bounds),
        fault('a', moved(a.bounds, 0.0, -500.0)),
        // Too little of it is shared: 0.4 of 1.6.
        fault('a', moved(a.bounds, 0.6 * width, 0.0)),
        // A missing letter has no form, and can only be where it was expected.
        fault(skipped.letter, skipped.at),
        Amendment::Letter {
            at: skipped.at,
            letter: skipped.letter,
            bounds: None,
        },
        drawn(skipped.letter, moved(skipped.at, 0.0, -500.0)),
    ] {
        let refused = amend(&desk, of, what).unwrap_err();
        assert_eq!(refused.code, "no-such-letter", "{what:?}");
    }
    assert_eq!(desk.page(of).unwrap(), before);

    // Near enough, what was missed can be drawn, and what lies where it is told can be put right.
    amend(&desk, of, fault('a', moved(a.bounds, 0.4 * width, 0.0))).unwrap();
    amend(
        &desk,
        of,
        drawn(skipped.letter, moved(skipped.at, 0.5, 0.0)),
    )
    .unwrap();
    assert_eq!(desk.page(of).unwrap().amendments.len(), 2);
}

/// A photograph kept that answers no task, so that its text is not known.
fn kept_without_task(desk: &App, pupil: PupilId, photo: &[u8]) -> PageId {
    let about = app::api::StagePhoto {
        pupil,
        task: None,
        kind: None,
        written_on: None,
    };
    let staged = desk.stage_photo(photo, about).unwrap();
    let kept = desk.keep_page(KeepPage {
        handle: staged.handle,
        despite: true,
    });
    kept.unwrap().page
}

#[test]
fn without_a_text_only_corrections_can_be_put_right() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let (known, photo) = KnownPage::ordinary();
    let (pupil, _) = pupil_with_task(&desk, &known).unwrap();
    let page = kept_without_task(&desk, pupil, &photo);
    let of = OfPage { pupil, page };
    let view = desk.page(of).unwrap();
    let letter = view.reading.unwrap().letters[5].clone();
    let refused = amend(&desk, of, has_open_bowl(&letter, true)).unwrap_err();
    assert_eq!(refused.code, "no-such-letter");
    assert!(refused.what_to_do.contains("Type"), "{refused}");
    let at = letter.bounds;
    amend(&desk, of, Amendment::Correction { at, kind: None }).unwrap();
}

#[test]
fn a_page_is_measured_again_by_the_letters_that_it_was_written_by() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    let mut own = LetterModel::unjoined();
    own.name = "Lower school".into();
    own.letters[19].above = Ratio(1.5);
    let pupil = of.pupil;
    let set = |model: LetterModel| {
        let profile = Profile {
            model,
            ..known.profile("Wren")
        };
        desk.change_pupil(ChangePupil { pupil, profile })
    };
    set(own.clone()).unwrap();
    let profile = desk.pupil(OfPupil { pupil }).unwrap().profile;
    assert_eq!(profile.unwrap().model, own);
    desk.measure_again(of).unwrap();
    let page = desk.page(of).unwrap();
    assert_eq!(page.record.model, LetterModel::unjoined());
    assert_eq!(page.record.readings.len(), 2);

    // The next photograph goes by the letters as they are now.
    let page = kept_without_task(&desk, pupil, &photo);
    let next = desk.page(OfPage { pupil, page }).unwrap();
    assert_eq!(next.record.model, own);

    let mut unsound = own;
    unsound.letters[1].exit = app::units::Exit::Top;
    let refused = set(unsound).unwrap_err();
    assert_eq!(refused.code, "letters-unsound");
    assert!(refused.message.contains("letter b"), "{refused}");
}

#[tokio::test(flavor = "multi_thread")]
async fn it_goes_to_the_family_and_holds_there_when_the_page_is_measured_again() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let home = parent(&folder.path().join("p"));
    let (known, photo) = KnownPage::ordinary();
    let (pupil, task) = pupil_with_task(&desk, &known).unwrap();
    let mut own = LetterModel::unjoined();
    own.name = "Lower school".into();
    let profile = Profile {
        model: own.clone(),
        ..known.profile("Wren")
    };
    desk.change_pupil(ChangePupil { pupil, profile }).unwrap();
    pair(&desk, &home, pupil).await;
    meet(&home).await;

    let staged = home.stage_photo(&photo, answers(pupil, task)).unwrap();
    let kept = home.keep_page(KeepPage {
        handle: staged.handle,
        despite: false,
    });
    let page = kept.unwrap().page;
    let of = OfPage { pupil, page };
    let there = home.page(of).unwrap();
    assert_eq!(there.record.model, own, "the tutor's letters");
    meet(&home).await;

    let letter = some_letter(&desk.page(of).unwrap());
    amend(&desk, of, has_open_bowl(&letter, true)).unwrap();
    // Findings on letters reach the family once the tutor has looked.
    desk.look(of).unwrap();
    meet(&home).await;
    assert!(home.page(of).unwrap() == desk.page(of).unwrap());

    home.set_minutes(SetMinutes {
        pupil,
        page,
        minutes: Some(5),
    })
    .unwrap();
    let timed = home.page(of).unwrap();
    assert_eq!(timed.amendments.len(), 1);
    let by_hand = |letter: &Letter| letter.by_hand && !letter.faults.is_empty();
    assert!(timed.reading.unwrap().letters.iter().any(by_hand));
    meet(&home).await;
    assert!(home.page(of).unwrap() == desk.page(of).unwrap());
    desk.close().await;
    home.close().await;
}
