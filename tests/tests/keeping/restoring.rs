//! Backups, and what comes of them.

use std::io::Read;

use app::App;
use app::api::*;
use pothook_tests::opener;

use crate::people::{Device, holds};

#[tokio::test(flavor = "multi_thread")]
async fn a_laptop_made_from_a_backup_goes_on_and_takes_what_came_after_it() {
    let (desk, phone) = (Device::tutor("Study"), Device::parent("Kitchen"));
    let pupil = desk.add_pupil("Wren");
    desk.family(pupil, &phone).await;
    let first = phone.keep_page(pupil, 0);
    phone.meets().await;
    let folder = tempfile::tempdir().unwrap();
    let backup = folder.path().join("backup");
    desk.back_up(&backup);
    // After the backup: the tutor looks at it, then the laptop is lost.
    desk.app.look(OfPage { pupil, page: first }).unwrap();
    phone.meets().await;
    desk.app.close().await;
    drop(desk);
    let second = phone.keep_page(pupil, 1);
    let new = Device::restored(&backup);
    assert_eq!(new.pages(pupil), [first]);
    for _ in 0..2 {
        new.meets().await;
    }
    let view = new.app.page(OfPage { pupil, page: first }).unwrap();
    assert!(view.record.looked_at.is_some(), "written after the backup");
    let mut pages = new.pages(pupil);
    pages.sort();
    let mut wanted = vec![first, second];
    wanted.sort();
    assert_eq!(pages, wanted);
    // It writes as a device of its own, and the phone takes it.
    new.app
        .look(OfPage {
            pupil,
            page: second,
        })
        .unwrap();
    new.meets().await;
    let of = OfPage {
        pupil,
        page: second,
    };
    assert!(phone.app.page(of).unwrap().record.looked_at.is_some());
}

#[test]
fn backups_are_checked_and_never_written_over() {
    let desk = Device::tutor("Study");
    let pupil = desk.add_pupil("Wren");
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("backup");
    let asked = |passphrase: &str| BackUp {
        path: file.display().to_string(),
        passphrase: passphrase.to_owned(),
    };
    let refused = desk.app.back_up(asked("short")).unwrap_err();
    assert_eq!(refused.code, "passphrase-short");
    let good = "four unusual words here";
    let done = desk.app.back_up(asked(good)).unwrap();
    assert_eq!(App::check_backup(&asked(good)).unwrap(), done);
    assert_eq!(
        desk.app.back_up(asked(good)).unwrap_err().code,
        "file-there"
    );
    let refused = App::check_backup(&asked("four other words here")).unwrap_err();
    assert_eq!(refused.code, "wrong-passphrase");
    let bytes = std::fs::read(&file).unwrap();
    assert!(!holds(&bytes, b"Wren"));
    // Into a folder that is in use nothing is restored.
    let refused = App::restore(&file, good, desk.folder.path(), &opener()).unwrap_err();
    assert!(
        ["folder-occupied", "data-in-use"].contains(&refused.code.as_str()),
        "{}",
        refused.code
    );
    let mut bent = bytes.clone();
    let last = bent.len() - 40;
    bent[last] ^= 1;
    std::fs::write(&file, bent).unwrap();
    let to = folder.path().join("new");
    let refused = App::restore(&file, good, &to, &opener()).unwrap_err();
    assert_eq!(refused.code, "backup-damaged");
    assert_eq!(desk.pupils(), [pupil]);
}

#[test]
fn all_of_a_pupil_is_handed_over_in_open_formats() {
    let desk = Device::tutor("Study");
    let pupil = desk.add_pupil("Wren");
    let page = desk.keep_page(pupil, 0);
    let mut file = std::io::Cursor::new(Vec::new());
    desk.app.export_pupil(pupil, &mut file).unwrap();
    let mut zip = zip::ZipArchive::new(file).unwrap();
    let mut read = |name: &str| {
        let mut bytes = Vec::new();
        zip.by_name(name).unwrap().read_to_end(&mut bytes).unwrap();
        bytes
    };
    let all: serde_json::Value = serde_json::from_slice(&read("pupil.json")).unwrap();
    assert_eq!(all["profile"]["name"], "Wren");
    assert_eq!(all["pages"][0]["id"], page.to_string());
    let day = all["pages"][0]["writtenOn"].as_str().unwrap();
    let picture = read(&format!("pages/{day} {page}.jpg"));
    assert_eq!(Some(picture), desk.picture(pupil, page));
    let reading = read(&format!("pages/{day} {page}.json"));
    let reading: serde_json::Value = serde_json::from_slice(&reading).unwrap();
    assert!(
        reading["letters"]
            .as_array()
            .is_some_and(|letters| !letters.is_empty())
    );
    let csv = String::from_utf8(read("figures.csv")).unwrap();
    let rows: Vec<Vec<&str>> = csv.lines().map(|line| line.split(',').collect()).collect();
    assert!(rows.len() > 10 && rows.iter().all(|row| row.len() == 9));
    let height = rows.iter().find(|row| row[3] == "x_height").unwrap();
    let told: f64 = height[4].parse().unwrap();
    let view = desk.app.page(OfPage { pupil, page }).unwrap();
    let measures = &view.record.readings[0].measures;
    let kept = measures
        .iter()
        .find(|it| it.name.text() == "x_height")
        .unwrap();
    assert!(matches!(kept.outcome, app::units::Outcome::Measured { value, .. } if value == told));
    assert!(read("practice.csv").starts_with(b"day,minutes,task"));
}
