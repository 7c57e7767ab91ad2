//! Ink that is no writing, and lines that the engine did not see.

use image::{GrayImage, Luma};
use metrics::{Page, read_page};
use units::{Amendment, BoxMm, MeasureName, Mm, Reading};

use super::{a_box, bytes, marked, read_with};
use crate::pen::Sheet;
use crate::{read, unchecked, value};

fn read_on(page: &Page, sheet: &Sheet, amendments: &[Amendment]) -> Reading {
    let mut expect = sheet.expectation();
    expect.amendments = amendments.to_vec();
    read_page(page, &expect, unchecked())
}

/// A sheet that is so much longer, with what another sheet shows so far down.
fn longer(page: &Page, more: f64, other: Option<(&Page, f64)>) -> Page {
    let px = |mm: f64| (mm * page.frame.px_per_mm).round() as u32;
    let of = |page: &Page, x, y| page.grey.get_pixel_checked(x, y).map_or(255, |it| it[0]);
    let shown = |x, y: u32| {
        let other = other.and_then(|(other, down)| Some(of(other, x, y.checked_sub(px(down))?)));
        Luma([of(page, x, y).min(other.unwrap_or(255))])
    };
    let (width, height) = page.grey.dimensions();
    let mut longer = page.clone();
    longer.grey = GrayImage::from_fn(width, height + px(more), shown);
    longer.frame.height = Mm(longer.frame.height.0 + more);
    longer
}

/// The box round all words of a line.
fn line_of(reading: &Reading, line: usize) -> BoxMm {
    let words = reading.words.iter().filter(|word| word.line == line);
    words
        .map(|word| word.bounds)
        .reduce(|a, b| BoxMm {
            x0: if a.x0 < b.x0 { a.x0 } else { b.x0 },
            y0: if a.y0 < b.y0 { a.y0 } else { b.y0 },
            x1: if a.x1 > b.x1 { a.x1 } else { b.x1 },
            y1: if a.y1 > b.y1 { a.y1 } else { b.y1 },
        })
        .expect("words on the line")
}

#[test]
fn a_line_that_is_none_of_the_task_counts_nowhere() {
    let drawn = Sheet {
        text: vec![
            "a tall hat",
            "a tall hat and a pool",
            "i had a thin old lion",
            "pull it until noon",
            "a lap and a dull loop",
        ],
        ..Sheet::default()
    };
    let page = drawn.page();
    // The task is what stands below: the first line is a name that a grown-up wrote.
    let task = Sheet::default();
    let at = line_of(&read(&drawn), 0);
    let helped = read_on(&page, &task, &[Amendment::NotWriting { at }]);
    assert_eq!(helped.lines.len(), 4);
    let words: Vec<&str> = helped
        .words
        .iter()
        .filter_map(|w| w.text.as_deref())
        .collect();
    assert_eq!(words.join(" "), task.text.join(" "));
    let all = read_on(&page, &task, &[]);
    assert_eq!(all.lines.len(), 5);
    assert!(marked(&all, &helped).contains(&MeasureName::XHeight));
    // Half of the line and a strip of the margin: what reaches out of the place still counts.
    let half = BoxMm {
        x1: Mm((at.x0.0 + at.x1.0) / 2.0),
        ..at
    };
    let part = read_on(&page, &task, &[Amendment::NotWriting { at: half }]);
    let ink = line_of(&part, 0);
    assert!(ink.x0.0 >= half.x1.0 - 0.2, "{ink:?} of {at:?}");
}

#[test]
fn a_drawing_beside_the_writing_spoils_no_figure_once_it_is_told() {
    let sheet = Sheet::default();
    let mut page = longer(&sheet.page(), 40.0, None);
    let px = |mm: f64| (mm * sheet.px_per_mm) as u32;
    // A house of thick strokes below the writing, as high as three lines.
    let house = a_box(20.0, 70.0, 52.0, 96.0);
    for y in px(72.0)..px(94.0) {
        for x in px(22.0)..px(50.0) {
            let stroke = |v: u32| (v / px(0.7)).is_multiple_of(5);
            if stroke(x) || stroke(y) {
                page.grey.put_pixel(x, y, Luma([40]));
            }
        }
    }
    let clean = read(&sheet);
    let helped = read_on(&page, &sheet, &[Amendment::NotWriting { at: house }]);
    assert_eq!(helped.lines.len(), clean.lines.len());
    for name in [
        MeasureName::XHeight,
        MeasureName::Slant,
        MeasureName::WordGap,
        MeasureName::AscenderRatio,
    ] {
        let (with, without) = (value(&helped, name), value(&clean, name));
        assert!((with - without).abs() < 0.02, "{name:?}: {with}, {without}");
    }
    let unhelped = read_on(&page, &sheet, &[]);
    assert!(
        unhelped.lines.len() > clean.lines.len(),
        "the drawing was taken for writing"
    );
}

#[test]
fn a_line_squeezed_in_between_two_is_read_where_it_is_told() {
    let sheet = Sheet {
        pitch: Some(13.0),
        ..Sheet::default()
    };
    let squeezed = Sheet {
        text: vec!["a hill"],
        height: 1.8,
        letter_gap: 0.8,
        word_gap: 3.0,
        pitch: None,
        ..Sheet::default()
    };
    let line = line_of(&read(&squeezed), 0);
    let second = line_of(&read(&sheet), 1);
    // Its foot stands 5.5 mm below the foot of the second line.
    let down = second.y1.0 + 5.5 - line.y1.0;
    let page = longer(&sheet.page(), 0.0, Some((&squeezed.page(), down)));
    let at = a_box(
        line.x0.0 - 1.0,
        line.y0.0 + down - 0.2,
        line.x1.0 + 1.0,
        line.y1.0 + down + 0.2,
    );
    let whole = Sheet {
        text: vec![
            "a tall hat and a pool",
            "i had a thin old lion",
            "a hill",
            "pull it until noon",
            "a lap and a dull loop",
        ],
        ..sheet.clone()
    };
    let unhelped = read_on(&page, &whole, &[]);
    assert_eq!(unhelped.lines.len(), 4, "it was seen without help");
    let helped = read_on(&page, &whole, &[Amendment::Line { at }]);
    assert_eq!(helped.lines.len(), 5);
    let words: Vec<&str> = helped
        .words
        .iter()
        .filter_map(|w| w.text.as_deref())
        .collect();
    assert_eq!(words.join(" "), whole.text.join(" "));
}

#[test]
fn a_line_told_where_nothing_is_or_where_one_was_seen_changes_nothing_of_account() {
    let sheet = Sheet::default();
    let before = read(&sheet);
    let nothing = Amendment::Line {
        at: a_box(60.0, 80.0, 90.0, 90.0),
    };
    assert!(bytes(&read_with(&sheet, &[nothing])) == bytes(&before));
    let at = line_of(&before, 2);
    let again = read_with(&sheet, &[Amendment::Line { at }]);
    assert_eq!(again.lines.len(), before.lines.len());
    let close = |name| (value(&again, name) - value(&before, name)).abs();
    assert!(close(MeasureName::XHeight) < 0.03 && close(MeasureName::Offset) < 0.03);
}
