//! Two screens at once: what one saw before the other changed it is neither held in memory nor filed.

use std::path::Path;
use std::sync::Arc;

use store::{Key, Opener};
use tempfile::TempDir;
use units::{Hand, LetterModel, Mm, Paper, Profile, PupilId, Role, Ruling, SchoolYear};

use crate::App;
use crate::api::*;
use crate::device::locked;

fn desk() -> (App, PupilId, TempDir) {
    let folder = tempfile::tempdir().expect("a folder");
    let app = App::open(folder.path(), Opener::Key(Key::new([5; 32]))).expect("opened");
    let (role, name) = (Role::Tutor, "Study".to_owned());
    app.settle(Settle { role, name }).expect("settled");
    let profile = Profile {
        name: "Wren".to_owned(),
        year: SchoolYear(3),
        hand: Hand::Left,
        model: LetterModel::unjoined(),
        paper: Paper::A5,
        ruling: Ruling::Lines { pitch: Mm(8.0) },
    };
    let pupil = app.add_pupil(AddPupil { profile }).expect("added").pupil;
    (app, pupil, folder)
}

fn stage(app: &App, pupil: PupilId) -> Staged {
    let pages = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/pages");
    let photo = std::fs::read(pages.join("a5-lines8-uneven.jpg")).expect("a photograph");
    let about = StagePhoto {
        pupil,
        task: None,
        kind: None,
        written_on: None,
    };
    app.stage_photo(&photo, about).expect("staged")
}

fn moved(staged: &Staged) -> SetCorners {
    let inwards = |share: f64| share + (0.5 - share) * 0.02;
    let corners = staged.corners.expect("a sheet");
    SetCorners {
        handle: staged.handle.clone(),
        corners: Some(corners.map(|Corner { x, y }| Corner {
            x: inwards(x),
            y: inwards(y),
        })),
    }
}

fn held(app: &App, handle: &str) -> bool {
    locked(&app.inner.looked).contains_key(handle)
}

#[test]
fn a_look_that_ends_after_the_corners_were_moved_is_not_held() {
    let (app, pupil, _folder) = desk();
    let found = stage(&app, pupil);
    let handle = &found.handle;
    let (_, before) = app.looked(handle).expect("looked");
    let moved = app.set_corners(moved(&found)).expect("moved");
    assert_ne!(moved.corners, found.corners);
    let (_, after) = app.looked(handle).expect("looked");
    app.remember_looked(handle, &before).expect("answered");
    let (_, now) = app.looked(handle).expect("looked");
    assert!(Arc::ptr_eq(&now, &after), "the old cut is back");
}

#[test]
fn nothing_is_held_of_a_photograph_that_was_let_go_meanwhile() {
    let (app, pupil, _folder) = desk();
    let handle = &stage(&app, pupil).handle;
    let (_, looked) = app.looked(handle).expect("looked");
    assert!(held(&app, handle));
    let of = OfStaged {
        handle: handle.clone(),
    };
    app.drop_photo(of).expect("dropped");
    assert!(!held(&app, handle));
    app.remember_looked(handle, &looked).expect("answered");
    app.remember_seen(handle, |_, seen| seen.small = Some(Arc::from([0])))
        .expect("answered");
    assert!(!held(&app, handle));

    // Nor of one that was kept, replaced, or whose pupil was erased.
    let kept = stage(&app, pupil).handle;
    let (handle, despite) = (kept.clone(), true);
    app.keep_page(KeepPage { handle, despite }).expect("kept");
    let erased = stage(&app, pupil).handle;
    assert!(app.small_staged_photo(&erased).is_some());
    app.erase_pupil(OfPupil { pupil }).expect("erased");
    assert!(locked(&app.inner.looked).is_empty());
}

#[test]
fn a_page_whose_corners_were_moved_while_it_was_measured_is_not_filed() {
    let (app, pupil, _folder) = desk();
    let found = stage(&app, pupil);
    let keep = KeepPage {
        handle: found.handle.clone(),
        despite: true,
    };
    let measured = app.measured(&keep).expect("measured");
    app.set_corners(moved(&found)).expect("moved");
    let refused = app.keep_measured(measured).expect_err("filed all the same");
    assert_eq!(refused.code, "corners-moved");
    let pages = |app: &App| app.pupil(OfPupil { pupil }).expect("there").pages.len();
    assert_eq!(pages(&app), 0);
    let waiting = app.waiting_photos(OfPupil { pupil }).expect("a list");
    assert_eq!(waiting.photos.len(), 1);
    app.keep_page(keep).expect("kept");
    assert_eq!(pages(&app), 1);
}

#[test]
fn a_small_picture_is_made_once() {
    let (app, pupil, _folder) = desk();
    let handle = stage(&app, pupil).handle;
    let small = |app: &App| {
        let all = locked(&app.inner.looked);
        all.get(&handle).and_then(|seen| seen.small.clone())
    };
    let made = small(&app).expect("made when it was taken");
    let shown = app.small_staged_photo(&handle).expect("shown");
    assert_eq!(*made, *shown);
    // As after a restart.
    locked(&app.inner.looked).clear();
    assert_eq!(app.small_staged_photo(&handle), Some(shown));
    let again = small(&app).expect("held");
    app.small_staged_photo(&handle).expect("shown");
    assert!(Arc::ptr_eq(&again, &small(&app).expect("held")));
}
