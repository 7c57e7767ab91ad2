//! The ways a page may be seen.

use demo::camera::Camera;
use demo::font::Fonts;
use demo::light::Light;
use units::{MeasureName, Paper};

use crate::drawn::{camera, draw, fonts, read, value};

/// What came of it.
#[derive(Debug)]
struct Figures {
    /// Share of the longest cut edge that lies outside the picture.
    cut: f64,
    /// Relative error of the x-height.
    x_height: f64,
    /// Errors in degrees.
    drift: f64,
    slant: f64,
    /// Error in widths of an o.
    word_gap: f64,
}

/// The largest share of an edge that lies outside a picture, of edges that are partly inside it.
fn cut(corners: &[[f64; 2]; 4], (w, h): (f64, f64)) -> f64 {
    let outside = |[x, y]: [f64; 2]| x < 0.0 || y < 0.0 || x > w || y > h;
    (0..4)
        .map(|k| {
            let (a, b) = (corners[k], corners[(k + 1) % 4]);
            let at = |t: f64| [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
            let gone = (0..100).filter(|i| outside(at(f64::from(*i) / 99.0)));
            gone.count() as f64 / 100.0
        })
        .fold(0.0, f64::max)
}

fn seen(paper: Paper, tilt: (f64, f64), turn: f64) -> (Paper, Camera) {
    (paper, camera(tilt, turn))
}

fn figures(fonts: &Fonts, paper: Paper, camera: Camera, seed: u64) -> Result<Figures, String> {
    let size = (f64::from(camera.width), f64::from(camera.height));
    let drawn = draw(fonts, paper, camera, Light::even(), seed);
    let reading = read(&drawn, paper)?;
    let truth = |name: MeasureName| {
        let known = drawn.truth.measures[name.text()];
        known.ok_or_else(|| format!("{name:?} has no truth"))
    };
    let off = |name| Ok::<f64, String>(value(&reading, name)?.0 - truth(name)?);
    Ok(Figures {
        cut: cut(&drawn.truth.corners_px, size),
        x_height: off(MeasureName::XHeight)? / truth(MeasureName::XHeight)?,
        drift: off(MeasureName::Drift)?,
        slant: off(MeasureName::Slant)?,
        word_gap: off(MeasureName::WordGap)?,
    })
}

/// Measures every view, prints its figures, and holds each to what a page seen straight keeps to.
fn all_within(views: &[(&str, (Paper, Camera))], limits: &Figures) {
    let fonts = fonts();
    let mut wrong = Vec::new();
    for (k, (name, (paper, camera))) in views.iter().enumerate() {
        match figures(&fonts, *paper, camera.clone(), 40 + k as u64) {
            Ok(f) => {
                println!(
                    "{name:34} cut {:3.0} %  x-height {:+5.2} %  drift {:+6.3}°  slant {:+5.2}°  \
                     word gap {:+6.3} o",
                    100.0 * f.cut,
                    100.0 * f.x_height,
                    f.drift,
                    f.slant,
                    f.word_gap
                );
                let within = f.x_height.abs() <= limits.x_height
                    && f.drift.abs() <= limits.drift
                    && f.slant.abs() <= limits.slant
                    && f.word_gap.abs() <= limits.word_gap
                    && f.cut >= limits.cut;
                if !within {
                    wrong.push(format!("{name}: {f:?}"));
                }
            }
            Err(why) => wrong.push(format!("{name}: {why}")),
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn a_sheet_that_leans_far_is_measured_as_one_that_does_not() {
    let views = [
        ("A4, nodding 25°", seen(Paper::A4, (25.0, 0.0), 0.0)),
        ("A4, nodding back 25°", seen(Paper::A4, (-25.0, 0.0), 4.0)),
        ("A4, leaning 25°", seen(Paper::A4, (0.0, 25.0), -5.0)),
        ("A5, both 17°", seen(Paper::A5, (17.0, -17.0), 8.0)),
        (
            "US Letter, straight",
            seen(Paper::UsLetter, (0.0, 0.0), 0.0),
        ),
        (
            "US Letter, nodding 25°",
            seen(Paper::UsLetter, (25.0, 3.0), 3.0),
        ),
        (
            "US Letter, leaning 25°",
            seen(Paper::UsLetter, (4.0, -25.0), -8.0),
        ),
    ];
    let limits = Figures {
        cut: 0.0,
        x_height: 0.035,
        drift: 0.15,
        slant: 1.2,
        word_gap: 0.1,
    };
    all_within(&views, &limits);
}

#[test]
fn a_sheet_is_measured_whichever_way_it_is_turned() {
    let views = [
        ("A4 turned 20°", seen(Paper::A4, (4.0, 3.0), 20.0)),
        ("A4 turned 38°", seen(Paper::A4, (4.0, 3.0), 38.0)),
        ("A4 turned 65°", seen(Paper::A4, (4.0, 3.0), 65.0)),
        ("A5 turned 90°", seen(Paper::A5, (6.0, -3.0), 90.0)),
        ("A5 turned 140°", seen(Paper::A5, (6.0, -3.0), 140.0)),
        (
            "US Letter turned 180°",
            seen(Paper::UsLetter, (5.0, 5.0), 180.0),
        ),
        ("A4 turned 230°", seen(Paper::A4, (5.0, 5.0), 230.0)),
        ("A4 turned 275°", seen(Paper::A4, (-5.0, 5.0), 275.0)),
    ];
    let limits = Figures {
        cut: 0.0,
        x_height: 0.035,
        drift: 0.15,
        slant: 1.3,
        word_gap: 0.12,
    };
    all_within(&views, &limits);
}

#[test]
fn a_sheet_with_a_corner_out_of_the_picture_is_measured() {
    let cut = |paper, turn: f64, tilt, fill, shift| {
        (
            paper,
            Camera {
                fill,
                shift,
                ..camera(tilt, turn)
            },
        )
    };
    let views = [
        (
            "A4, low right corner out",
            cut(Paper::A4, 12.0, (3.0, 2.0), 1.0, (0.05, 0.1)),
        ),
        (
            "A4, low left corner out",
            cut(Paper::A4, -12.0, (3.0, 2.0), 1.0, (-0.05, 0.1)),
        ),
        (
            "A5, low right corner out",
            cut(Paper::A5, -14.0, (5.0, -4.0), 1.0, (0.14, 0.08)),
        ),
        (
            "US Letter, low left corner out",
            cut(Paper::UsLetter, 14.0, (-5.0, 4.0), 1.0, (-0.1, 0.06)),
        ),
    ];
    let limits = Figures {
        cut: 0.25,
        x_height: 0.035,
        drift: 0.2,
        slant: 1.5,
        word_gap: 0.12,
    };
    all_within(&views, &limits);
}
