//! Every stage of a reading drawn as a picture, to see what it did.

use image::{GrayImage, Rgb, RgbImage};
use units::{Expectation, LetterClass};

use crate::Page;
use crate::pieces::{BoxPx, Piece};
use crate::reading::{self, Found};

/// Draws what each stage made of a page, in the order of the stages.
pub fn draw_stages(page: &Page, expect: &Expectation) -> Vec<(&'static str, RgbImage)> {
    let found = reading::find(page, expect);
    vec![
        ("even", from_grey(&found.evened)),
        ("ruling", ruling(&found)),
        ("ink", ink(&found)),
        ("lines", lines(&found)),
        ("words", words(&found)),
        ("letters", letters(&found)),
    ]
}

const COLOURS: [Rgb<u8>; 6] = [
    Rgb([20, 90, 200]),
    Rgb([200, 80, 20]),
    Rgb([20, 140, 60]),
    Rgb([160, 30, 140]),
    Rgb([130, 110, 0]),
    Rgb([0, 130, 140]),
];
const RED: Rgb<u8> = Rgb([220, 0, 0]);

fn from_grey(grey: &GrayImage) -> RgbImage {
    RgbImage::from_fn(grey.width(), grey.height(), |x, y| {
        let v = grey.get_pixel(x, y)[0];
        Rgb([v, v, v])
    })
}

fn dot(picture: &mut RgbImage, x: f64, y: f64, colour: Rgb<u8>) {
    if x >= 0.0 && y >= 0.0 && x < f64::from(picture.width()) && y < f64::from(picture.height()) {
        picture.put_pixel(x as u32, y as u32, colour);
    }
}

fn frame(picture: &mut RgbImage, b: BoxPx, colour: Rgb<u8>) {
    for x in b.x0..b.x1 {
        dot(picture, f64::from(x), f64::from(b.y0), colour);
        dot(picture, f64::from(x), f64::from(b.y1), colour);
    }
    for y in b.y0..b.y1 {
        dot(picture, f64::from(b.x0), f64::from(y), colour);
        dot(picture, f64::from(b.x1), f64::from(y), colour);
    }
}

fn fill(picture: &mut RgbImage, piece: &Piece, colour: Rgb<u8>) {
    for run in &piece.runs {
        for x in run.x0..run.x1 {
            dot(picture, f64::from(x), f64::from(run.y), colour);
        }
    }
}

fn ruling(found: &Found) -> RgbImage {
    let mut picture = from_grey(&found.evened);
    for rule in &found.rulings.across {
        for (x, row) in rule.rows.iter().enumerate() {
            dot(&mut picture, x as f64, f64::from(*row), RED);
        }
    }
    for rule in &found.rulings.down {
        for (y, column) in rule.rows.iter().enumerate() {
            dot(&mut picture, f64::from(*column), y as f64, COLOURS[0]);
        }
    }
    picture
}

fn ink(found: &Found) -> RgbImage {
    let mut picture = from_grey(&found.ink.grey);
    for piece in &found.pieces {
        fill(&mut picture, piece, Rgb([60, 60, 60]));
    }
    for (pixel, m) in picture.pixels_mut().zip(found.ink.mask.pixels()) {
        // Ink that is not taken for writing.
        if m[0] > 0 && *pixel != Rgb([60, 60, 60]) {
            *pixel = RED;
        }
    }
    picture
}

fn lines(found: &Found) -> RgbImage {
    let mut picture = from_grey(&found.ink.grey);
    for (i, line) in found.lines.iter().enumerate() {
        let colour = COLOURS[i % COLOURS.len()];
        for piece in &line.pieces {
            fill(&mut picture, piece, colour);
        }
        for x in 0..picture.width() {
            let x = f64::from(x);
            let base = line.base_at(x);
            let on = |row| found.level.on_sheet(x, row);
            dot(&mut picture, x, on(base), RED);
            dot(
                &mut picture,
                x,
                on(base - line.x_height),
                Rgb([240, 150, 150]),
            );
        }
    }
    picture
}

fn words(found: &Found) -> RgbImage {
    let mut picture = from_grey(&found.ink.grey);
    for (i, word) in found.words.iter().enumerate() {
        let colour = if word.struck.is_some() {
            RED
        } else {
            COLOURS[i % COLOURS.len()]
        };
        fill(&mut picture, &word.piece, colour);
        frame(&mut picture, word.piece.bounds(), colour);
    }
    picture
}

fn letters(found: &Found) -> RgbImage {
    let mut picture = from_grey(&found.ink.grey);
    for (i, glyph) in found.glyphs.iter().enumerate() {
        fill(&mut picture, &glyph.piece, COLOURS[i % COLOURS.len()]);
        let colour = match glyph.class {
            _ if glyph.confidence < crate::aspects::SURE => RED,
            LetterClass::Short => COLOURS[0],
            LetterClass::Tall => COLOURS[2],
            LetterClass::Tail => COLOURS[3],
            LetterClass::Other => COLOURS[4],
        };
        frame(&mut picture, glyph.piece.bounds(), colour);
    }
    picture
}
