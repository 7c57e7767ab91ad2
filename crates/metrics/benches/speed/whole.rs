//! The whole way of a photograph, beside decoding alone.

use std::io::Cursor;

use image::{DynamicImage, ImageDecoder, ImageReader};
use units::Reading;

use crate::clock::{ROUNDS, in_turn, median, of_stages, seconds};
use crate::photos::{Photograph, TURNED, USUAL};
use crate::table::{Limit, Table};

/// Bytes in, reading out.
pub fn read(photo: &Photograph) -> Reading {
    let picture = metrics::decode(&photo.jpeg).expect("a photograph");
    let page = metrics::find_page(&picture, &photo.expect).expect("a sheet");
    let fitness = metrics::fitness(&page);
    metrics::read_page(&page, &photo.expect, fitness)
}

/// Adds the rows of the whole way.
pub fn compare(photos: &[Photograph], table: &mut Table) {
    let mut readings = Vec::new();
    for (index, photo) in photos.iter().enumerate() {
        let bytes = photo.jpeg.len() as f64 / 1e6;
        let turned = if index == TURNED { ", turned" } else { "" };
        let size = format!("{:.0} MP{turned} in {bytes:.1} MB", photo.megapixels);
        let [decoded, whole] = alone_and_whole(photo);
        let limit = if index == USUAL || index == TURNED {
            Limit::goal(4.0).never_above(6.0)
        } else {
            Limit::none()
        };
        if index != TURNED {
            readings.push((photo.megapixels, whole));
        }
        let turns = if index == TURNED { " and turns" } else { "" };
        let against = format!("image crate decodes{turns} it: {:.0} ms", 1e3 * decoded);
        table.ratio(
            &format!("whole reading, {size}"),
            whole,
            &against,
            decoded,
            limit,
        );
        if index == USUAL {
            parts(photo, decoded, &against, table);
        }
    }
    let (first, last) = (readings[0], readings[readings.len() - 1]);
    // A twentieth of slack for the noise of the clock.
    table.ratio(
        "time for each pixel, largest photograph",
        last.1 / last.0,
        &format!("the smallest: {:.1} ms/MP", 1e3 * first.1 / first.0),
        first.1 / first.0,
        Limit::goal(1.05),
    );
}

/// What anybody does who wants the photograph upright: decodes it, and turns it as its camera says.
fn upright(jpeg: &[u8]) -> Option<image::RgbImage> {
    let reader = ImageReader::new(Cursor::new(jpeg)).with_guessed_format();
    let mut decoder = reader.ok()?.into_decoder().ok()?;
    let orientation = decoder.orientation().ok()?;
    let mut picture = DynamicImage::from_decoder(decoder).ok()?;
    picture.apply_orientation(orientation);
    Some(picture.into_rgb8())
}

fn alone_and_whole(photo: &Photograph) -> [f64; 2] {
    let mut alone = || seconds(|| upright(&photo.jpeg).expect("a photograph"));
    let mut whole = || seconds(|| read(photo));
    let figures = in_turn(&mut [("decoding", &mut alone), ("reading", &mut whole)]);
    [figures[0], figures[1]]
}

/// The parts that a person waits for separately.
fn parts(photo: &Photograph, decoded: f64, against: &str, table: &mut Table) {
    let picture = metrics::decode(&photo.jpeg).expect("a photograph");
    let page = metrics::find_page(&picture, &photo.expect).expect("a sheet");
    let kept = metrics::encode_page(&page);
    let mut decode = || seconds(|| metrics::decode(&photo.jpeg));
    let mut find = || seconds(|| metrics::find_page(&picture, &photo.expect));
    let mut fit = || seconds(|| metrics::fitness(&page));
    let mut read = || {
        let fitness = metrics::fitness(&page);
        seconds(|| metrics::read_page(&page, &photo.expect, fitness))
    };
    let mut keep = || seconds(|| metrics::encode_page(&page));
    let mut again = || seconds(|| metrics::page_from_picture(&kept, &page.frame));
    let figures = in_turn(&mut [
        ("decode", &mut decode),
        ("page", &mut find),
        ("fit", &mut fit),
        ("read", &mut read),
        ("keep", &mut keep),
        ("open again", &mut again),
    ]);
    let rows = [
        (
            "  decode, with limits and turning",
            figures[0],
            Limit::none(),
        ),
        ("  page: found and flattened", figures[1], Limit::none()),
        ("  fit: can it be read?", figures[2], Limit::goal(1.0)),
        ("  read: every measure", figures[3], Limit::none()),
        (
            "  from the decoded photograph to the answer “fit”",
            figures[1] + figures[2],
            Limit::none(),
        ),
        (
            "  beside it: the page kept as a JPEG",
            figures[4],
            Limit::none(),
        ),
        (
            "  beside it: the kept page opened",
            figures[5],
            Limit::none(),
        ),
    ];
    for (name, time, limit) in rows {
        table.ratio(name, time, against, decoded, limit);
    }
    letters(photo, &page, table);
}

/// What telling letters takes, beside the rest of the reading.
fn letters(photo: &Photograph, page: &metrics::Page, table: &mut Table) {
    let once = || {
        let fitness = metrics::fitness(page);
        let read = || metrics::read_page(page, &photo.expect, fitness);
        of_stages(read, &["with text", "form", "joins"], "read")
    };
    let rounds = (0..=ROUNDS).map(|_| once()).skip(1);
    let (some, whole): (Vec<f64>, Vec<f64>) = rounds.unzip();
    let (some, whole) = (median(some), median(whole));
    let rest = whole - some;
    table.ratio(
        "  read: alignment, form and joins",
        some,
        &format!("the rest of the reading: {:.0} ms", 1e3 * rest),
        rest,
        Limit::goal(1.5),
    );
}
