//! One letter through the weeks: is every instance found, and do the crops show what they say?

use app::App;
use app::api::{Amend, Crop, FindLetters, LettersFound, OfPage};
use app::units::{Amendment, BlobId, PupilId};
use image::RgbImage;
use pothook_tests::{KnownPage, kept_page, tutor};

fn find(desk: &App, pupil: PupilId, text: &str) -> LettersFound {
    let text = text.to_owned();
    desk.find_letters(FindLetters { pupil, text }).unwrap()
}

fn decoded(jpeg: &[u8]) -> RgbImage {
    let format = image::ImageFormat::Jpeg;
    image::load_from_memory_with_format(jpeg, format)
        .expect("a JPEG")
        .into_rgb8()
}

fn cut(desk: &App, crop: Crop) -> Option<RgbImage> {
    desk.crop(crop).unwrap().map(|jpeg| decoded(&jpeg))
}

/// The page, its reading's letters and its picture.
fn kept(desk: &App) -> (OfPage, app::units::Reading, BlobId) {
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(desk, &known, &photo).unwrap();
    let view = desk.page(of).unwrap();
    (of, view.reading.unwrap(), view.record.picture)
}

#[test]
fn every_instance_of_a_letter_is_found_and_shown() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let (of, reading, picture) = kept(&desk);
    let page = decoded(&desk.picture(picture).unwrap().unwrap());
    for letter in ['e', 't', 'g', 'i'] {
        let all = reading.letters.iter();
        let there = all.filter(|one| one.char == Some(letter)).count();
        let found = find(&desk, of.pupil, &letter.to_string());
        assert_eq!(found.pages.len(), 1, "{letter}");
        let on_page = &found.pages[0];
        assert_eq!(on_page.found.len(), there.min(12));
        assert_eq!(on_page.more as usize, there.saturating_sub(12));
        for instance in &on_page.found {
            let crop = instance.crop;
            let shown = cut(&desk, crop).expect("a crop");
            assert_eq!(shown.dimensions(), (crop.width, crop.height));
            // The same pixels as the page has there, but for what JPEG leaves out.
            let there = image::imageops::crop_imm(&page, crop.x, crop.y, crop.width, crop.height);
            let there = there.to_image();
            let differ = |(a, b): (&u8, &u8)| f64::from(a.abs_diff(*b));
            let off: f64 = shown.iter().zip(there.iter()).map(differ).sum();
            assert!(off / (shown.len() as f64) < 8.0, "{letter}: {off}");
            // All of the letter's ink with a margin lies in it.
            let k = reading.frame.px_per_mm;
            let (x, y) = (f64::from(crop.x), f64::from(crop.y));
            assert!(x <= instance.at.x0.0 * k && y <= instance.at.y0.0 * k);
            assert!(x + f64::from(crop.width) >= instance.at.x1.0 * k);
            assert!(y + f64::from(crop.height) >= instance.at.y1.0 * k);
            if instance.sure {
                let dark = shown.pixels().map(|p| p.0[1]).min().unwrap();
                let light = shown.pixels().map(|p| p.0[1]).max().unwrap();
                assert!(
                    light - dark > 60,
                    "{letter}: there is ink, and there is paper"
                );
            }
        }
    }
    let capital = find(&desk, of.pupil, "E");
    let there = reading.letters.iter().any(|one| one.char == Some('E'));
    assert_eq!(!capital.pages.is_empty(), there, "small and capital differ");
}

#[test]
fn ink_that_is_no_letter_is_not_shown_as_one() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let (of, reading, _) = kept(&desk);
    let mut all = reading.letters.iter();
    let wrong = all.find(|one| one.char == Some('g')).expect("a g");
    let total = |found: &LettersFound| found.pages[0].found.len() + found.pages[0].more as usize;
    let before = find(&desk, of.pupil, "g");
    let what = Amendment::Letter {
        at: wrong.bounds,
        letter: 'g',
        bounds: None,
    };
    let OfPage { pupil, page } = of;
    desk.amend(Amend { pupil, page, what }).unwrap();
    let after = find(&desk, of.pupil, "g");
    assert_eq!(total(&after), total(&before) - 1);
    let same = |instance: &app::api::Instance| instance.at.x0 == wrong.bounds.x0;
    assert!(!after.pages[0].found.iter().any(same));
}

#[test]
fn a_word_is_found_whatever_stands_round_it() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let (of, reading, _) = kept(&desk);
    let bare = |text: &str| text.trim_matches(|c: char| !c.is_alphanumeric()).to_owned();
    let words = reading.words.iter().filter_map(|word| word.text.as_deref());
    let marked = words
        .clone()
        .find(|word| word.ends_with(['.', ',']) && bare(word).len() > 2)
        .expect("a word before a comma or full stop");
    let wanted = bare(marked);
    let there = words.filter(|word| bare(word) == wanted).count();
    for asked in [wanted.clone(), marked.to_owned(), format!(" {wanted}! ")] {
        let found = find(&desk, of.pupil, &asked);
        assert_eq!(found.pages[0].found.len(), there, "{asked}");
        for instance in &found.pages[0].found {
            assert!(instance.faults.is_empty());
            assert!(cut(&desk, instance.crop).is_some());
        }
    }
    assert!(find(&desk, of.pupil, "zyxwv").pages.is_empty());
}

#[test]
fn letters_and_words_for_choosing_come_most_first() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let (of, reading, _) = kept(&desk);
    let found = find(&desk, of.pupil, "");
    assert!(found.pages.is_empty());
    assert!(found.often.len() <= 40);
    let times = |text: &str| match text.chars().count() {
        1 => {
            let letter = text.chars().next();
            reading
                .letters
                .iter()
                .filter(|one| one.char == letter)
                .count()
        }
        _ => {
            let words = reading.words.iter().filter_map(|word| word.text.as_deref());
            words
                .filter(|word| word.trim_matches(|c: char| !c.is_alphanumeric()) == text)
                .count()
        }
    };
    let (letters, words): (Vec<_>, Vec<_>) = found
        .often
        .iter()
        .partition(|text| text.chars().count() == 1);
    assert!(letters.len() > 15 && words.len() > 5, "{:?}", found.often);
    let first = &found.often[..letters.len()];
    assert!(first.iter().all(|text| text.chars().count() == 1));
    for kind in [letters, words] {
        let counts: Vec<usize> = kind.iter().map(|text| times(text)).collect();
        assert!(counts.is_sorted_by(|a, b| a >= b), "{counts:?}");
        assert!(counts.iter().all(|count| *count > 0));
    }
    let long = FindLetters {
        pupil: of.pupil,
        text: "e".repeat(61),
    };
    assert_eq!(desk.find_letters(long).unwrap_err().code, "text-too-long");
}

#[test]
fn only_pictures_that_are_here_are_cut_and_only_within_them() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path().join("t");
    let desk = tutor(&at);
    let (of, _, picture) = kept(&desk);
    let detail = desk.page(of).unwrap().record.readings[0].detail;
    let (width, height) = decoded(&desk.picture(picture).unwrap().unwrap()).dimensions();
    let crop = |of, x, y, width, height| Crop {
        of,
        x,
        y,
        width,
        height,
    };
    for nothing in [
        crop(BlobId([9; 32]), 0, 0, 10, 10),
        // A reading is a blob, but no picture.
        crop(detail, 0, 0, 10, 10),
        crop(picture, 0, 0, 0, 10),
        crop(picture, 0, 0, 10, 0),
        crop(picture, width, 0, 10, 10),
        crop(picture, 0, height, 10, 10),
        crop(picture, u32::MAX, u32::MAX, u32::MAX, u32::MAX),
        crop(picture, 0, 0, 4_001, 10),
    ] {
        assert_eq!(cut(&desk, nothing), None, "{nothing:?}");
    }
    // What lies over the edge ends with the picture.
    let over = cut(&desk, crop(picture, width - 5, height - 7, 4_000, 4_000));
    assert_eq!(over.unwrap().dimensions(), (5, 7));

    // Pages whose picture has not come are not offered.
    assert!(!find(&desk, of.pupil, "e").pages.is_empty());
    drop(desk);
    let store = store::Store::open(&at, &pothook_tests::opener()).unwrap();
    store.remove_blob(picture).unwrap();
    drop(store);
    let desk = tutor(&at);
    let found = find(&desk, of.pupil, "e");
    assert!(found.pages.is_empty() && !found.often.is_empty());
    assert_eq!(cut(&desk, crop(picture, 0, 0, 10, 10)), None);
}
