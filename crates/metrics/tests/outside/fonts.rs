//! Geometry against the tables of fonts (OpenType, ISO/IEC 14496-22: `OS/2`, `glyf`, `hmtx`, `post`).
//! The text is set at a known size, printed on ruled paper, photographed, and read the whole way from
//! the bytes. Sizes 2, 3 and 5 mm. Mali and Playpen Sans, SIL Open Font License 1.1.

use demo::paper::Sheet;
use units::MeasureName::{
    AscenderRatio, DescenderRatio, Drift, LetterGap, OWidth, Offset, Slant, WordGap, XHeight,
    XHeightCv,
};
use units::{Mm, Paper, Reading, Ruling};

use crate::photo::{expectation, figure, held, photograph, read};
use crate::tables::Font;
use crate::type_set::{Set, set};

/// The page as set, and as read.
fn page(font: Font, x_height: f64) -> (Set, Reading) {
    let pitch = if x_height < 4.0 { 10.0 } else { 15.0 };
    let sheet = Sheet::new(Paper::A5, Ruling::Lines { pitch: Mm(pitch) });
    let lines: Vec<f64> = sheet.written_lines(x_height).collect();
    let set = set(font, x_height, &lines, sheet.room());
    let bytes = photograph(&sheet, &set.writing, &held(1500, 2000));
    let (_, reading) = read(&bytes, &expectation(&sheet, set.text.clone()));
    (set, reading)
}

/// Prints and gives the figure.
fn shown(reading: &Reading, name: units::MeasureName, by_tables: f64) -> f64 {
    let (value, se) = figure(reading, name).unwrap_or_else(|| panic!("{name:?} was not measured"));
    println!(
        "  {:16} {value:8.3} ± {se:.3}, by the tables {by_tables:8.3}",
        name.text()
    );
    value
}

fn holds(font: Font, x_height: f64) {
    println!("{font:?} at {x_height} mm");
    let (set, reading) = page(font, x_height);
    let near = |name, by_tables: f64, within: f64| {
        let value = shown(&reading, name, by_tables);
        assert!(
            (value - by_tables).abs() <= within,
            "{font:?} at {x_height} mm, {name:?}: {value}, by the tables {by_tables}"
        );
    };
    // The boxes of `glyf` stand up to a tenth above and below what `OS/2` calls the x-height.
    assert!(
        (set.x_height / x_height - 1.0).abs() < 0.08,
        "{}",
        set.x_height
    );
    near(XHeight, set.x_height, 0.015 * set.x_height);
    near(XHeightCv, 0.0, 0.03);
    near(AscenderRatio, set.ascender, 0.04);
    near(DescenderRatio, set.descender, 0.03);
    near(OWidth, set.o_width, 0.015 * set.o_width);
    // Six hundredths of a millimetre.
    near(LetterGap, set.letter_gap, 0.06 / set.o_width);
    near(WordGap, set.word_gap, 0.06 / set.o_width);
    // At 2 mm the part of a stem that stands clear is six pixels high.
    near(Slant, set.stems, if x_height < 3.0 { 1.0 } else { 0.5 });
    near(Drift, 0.0, 0.05);
    near(Offset, set.foot, 0.08);
    let words = reading.words.len();
    assert_eq!(words, set.writing.words.len());
    assert_eq!(reading.lines.len(), set.text.len());
}

#[test]
fn a_page_of_two_millimetres_is_as_its_font_says() {
    holds(Font::Mali, 2.0);
    holds(Font::Playpen, 2.0);
}

#[test]
fn a_page_of_three_millimetres_is_as_its_font_says() {
    holds(Font::Mali, 3.0);
    holds(Font::Playpen, 3.0);
}

#[test]
fn a_page_of_five_millimetres_is_as_its_font_says() {
    holds(Font::Mali, 5.0);
    holds(Font::Playpen, 5.0);
}

#[test]
fn side_bearings_are_the_least_white_between_upright_letters() {
    // `hmtx` and `glyf` give the white between two boxes. By rows it is a little more, where two
    // letters are not widest at the same height; never less, where none leans over the next.
    for font in [Font::Mali, Font::Playpen] {
        let set = set(font, 3.0, &[20.0, 30.0, 40.0, 50.0], (10.0, 190.0));
        for (what, rows, bearings) in [
            ("letters", set.letter_gap, set.letter_bearings),
            ("words", set.word_gap, set.word_bearings),
        ] {
            println!("{font:?}, {what}: by rows {rows:.3}, by side bearings {bearings:.3}");
            assert!((0.0..0.05).contains(&(rows - bearings)), "{font:?}, {what}");
        }
    }
}

#[test]
fn an_italic_leans_by_its_angle_more_than_the_upright() {
    // `post.italicAngle` of the italic is −10°, of the upright 0°.
    let (upright, italic) = (Font::Mali.tables().lean(), Font::MaliItalic.tables().lean());
    assert_eq!((upright, italic), (0.0, 10.0));
    for x_height in [3.0, 5.0] {
        let lean = |font: Font| {
            let (set, reading) = page(font, x_height);
            println!("{font:?} at {x_height} mm");
            shown(&reading, XHeight, set.x_height);
            shown(&reading, Slant, set.stems)
        };
        let (upright, italic) = (lean(Font::Mali), lean(Font::MaliItalic));
        assert!(
            (italic - upright - 10.0).abs() < 0.5,
            "{upright} and {italic}"
        );
    }
}
