//! What a photograph may suffer before the page in it is measured badly: the ground on which the
//! limits of `metrics::fitness` stand.
//!
//! Three hands are drawn by the demo's drawing program, which knows nothing of how pages are
//! measured, and photographed well; then one thing goes wrong, step by step. A step counts as
//! *measured* while, over the hands, the median error of the x-height is at most 4 % and at most
//! one word in ten is lost.
//!
//! `cargo test -p pothook-tests --test fit_limits -- --ignored --nocapture` prints the tables, in
//! a few minutes; `table_of_blur` and so on, one of them.

use std::fmt;

use demo::camera::Camera;
use demo::desk::Top;
use demo::font::{Fonts, Shapes};
use demo::hand::Hand;
use demo::ink::Tool;
use demo::light::{Light, Shadow};
use demo::page::{Drawn, PageSpec};
use demo::paper::Sheet;
use metrics::Photo;
use units::{BoxMm, Expectation, FitCheck, FitFault, Fitness, MeasureName, Mm, Outcome, Paper};
use units::{Reading, Ruling};

const TEXT: &str = "the small boat went out before the sun was up\nand came home with a net full \
                    of fish for the old man\nwho had waited by the water all the long day";

/// The most that the x-height may be off, as a share.
const MOST_ERROR: f64 = 0.04;
/// The least share of words that must be found.
const LEAST_WORDS: f64 = 0.9;
/// Photograph pixels for each millimetre where nothing is wrong.
const SCALE: f64 = 8.0;

/// Who writes, and with what.
struct Writer {
    shapes: Shapes,
    x_height: f64,
    tool: Tool,
    pitch: f64,
}

const WRITERS: [Writer; 3] = [
    Writer {
        shapes: Shapes::Open,
        x_height: 3.0,
        tool: Tool::PENCIL,
        pitch: 12.0,
    },
    Writer {
        shapes: Shapes::Round,
        x_height: 2.2,
        tool: Tool::BLUE_PEN,
        pitch: 8.0,
    },
    Writer {
        shapes: Shapes::Wide,
        x_height: 2.6,
        tool: Tool::HARD_PENCIL,
        pitch: 10.0,
    },
];

/// Light mirrored on the paper: a round spot, added to what the camera sees.
#[derive(Debug, Clone, Copy)]
struct Spot {
    /// Its radius on the sheet, mm.
    radius: f64,
    /// What it adds in its middle, levels of 255.
    adds: f64,
}

/// One way in which a photograph is worse than it should be.
#[derive(Debug, Clone)]
enum Wrong {
    /// Standard deviation of the blur, mm on the sheet.
    Blur(f64),
    /// Share of the light that a round shadow over the writing takes, and how wide its edge is, as
    /// a share of the picture.
    Shadow(f32, f32),
    Glare(Spot),
    /// Photograph pixels for each millimetre.
    Scale(f64),
    /// Share of the picture by which a turned sheet, written full, is moved out of it downwards.
    Moved(f64),
    /// Brightness, where the sensor's noise stays what it is.
    Light(f32),
}

impl Wrong {
    /// What it is found out by.
    fn fault(&self) -> FitFault {
        match self {
            Self::Blur(_) => FitFault::Blur,
            Self::Shadow(..) => FitFault::Shadow,
            Self::Glare(_) => FitFault::Glare,
            Self::Scale(_) => FitFault::TooSmall,
            Self::Moved(_) => FitFault::CutOff,
            Self::Light(_) => FitFault::TooDark,
        }
    }
}

impl fmt::Display for Wrong {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Blur(sd) => write!(f, "blur {sd:.2} mm"),
            Self::Shadow(strength, soft) => write!(f, "shadow {strength:.2}, edge {soft:.3}"),
            Self::Glare(spot) => write!(f, "glare {:.0} mm, +{:.0}", spot.radius, spot.adds),
            Self::Scale(scale) => write!(f, "{scale:.2} px/mm"),
            Self::Moved(share) => write!(f, "moved out {share:.2}"),
            Self::Light(level) => write!(f, "light {level:.2}"),
        }
    }
}

/// The steps by which one fault grows.
fn steps(fault: FitFault) -> Vec<Wrong> {
    let spot = |radius, adds| Wrong::Glare(Spot { radius, adds });
    let shadow = |soft| [0.5, 0.7, 0.8, 0.9].map(|strength| Wrong::Shadow(strength, soft));
    match fault {
        FitFault::Blur => [0.12, 0.15, 0.18, 0.22, 0.3, 0.4].map(Wrong::Blur).into(),
        FitFault::Shadow => [shadow(0.01), shadow(0.05)].concat(),
        FitFault::Glare => [
            spot(22.0, 60.0),
            spot(22.0, 120.0),
            spot(22.0, 240.0),
            spot(5.0, 320.0),
            spot(9.0, 320.0),
            spot(13.0, 320.0),
            spot(17.0, 320.0),
        ]
        .into(),
        FitFault::TooSmall => [5.0, 4.5, 4.0, 3.5, 3.0, 2.5].map(Wrong::Scale).into(),
        FitFault::CutOff => [0.08, 0.12, 0.16, 0.2, 0.25].map(Wrong::Moved).into(),
        FitFault::TooDark => [0.5, 0.3, 0.2, 0.15, 0.11, 0.08].map(Wrong::Light).into(),
        FitFault::Blank => Vec::new(),
    }
}

/// What is drawn for a writer when this goes wrong.
fn spec(writer: &Writer, wrong: Option<&Wrong>, seed: u64) -> PageSpec {
    let scale = match wrong {
        Some(Wrong::Scale(scale)) => *scale,
        _ => SCALE,
    };
    let sheet = Sheet::new(
        Paper::A5,
        Ruling::Lines {
            pitch: Mm(writer.pitch),
        },
    );
    let fill = 0.9;
    let high = sheet.size().1 * scale / fill;
    let camera = Camera {
        tilt: (3.0, -2.0),
        turn: 2.0,
        fill,
        noise: 2.5,
        ..Camera::above((high * 0.75).round() as u32, high.round() as u32)
    };
    let mut spec = PageSpec {
        seed,
        text: TEXT.to_owned(),
        hand: Hand::even(writer.shapes, writer.x_height),
        tool: writer.tool,
        sheet,
        top: Top::Pine,
        clutter: 1,
        light: Light::even(),
        camera,
    };
    match wrong {
        Some(Wrong::Blur(sd)) => spec.camera.blur = sd * scale,
        Some(Wrong::Shadow(strength, soft)) => spec.light.shadows.push(Shadow {
            at: (0.5, 0.28),
            round: Some((0.25, 0.16)),
            towards: 20.0,
            strength: *strength,
            soft: *soft,
        }),
        Some(Wrong::Moved(share)) => {
            spec.camera.turn = 12.0;
            spec.camera.shift = (share / 2.0, *share);
            spec.text = [TEXT; 4].join("\n");
        }
        Some(Wrong::Light(level)) => spec.light.level = *level,
        _ => {}
    }
    spec
}

/// Burns the spot into the photograph, over the middle of the writing; its edge is a third of its
/// radius wide.
fn burn(photo: &mut Photo, drawn: &Drawn, spot: Spot) {
    let words = drawn.truth.words.iter().map(|word| word.bounds);
    let [x0, y0, x1, y1] = words
        .reduce(|a, b| {
            [
                a[0].min(b[0]),
                a[1].min(b[1]),
                a[2].max(b[2]),
                a[3].max(b[3]),
            ]
        })
        .expect("there is writing");
    let m = drawn.truth.mm_to_px;
    let seen = |x: f64, y: f64| {
        let w = m[6] * x + m[7] * y + m[8];
        (
            (m[0] * x + m[1] * y + m[2]) / w,
            (m[3] * x + m[4] * y + m[5]) / w,
        )
    };
    let (x, y) = ((x0 + x1) / 2.0, (y0 + y1) / 2.0);
    let (middle, edge) = (seen(x, y), seen(x + spot.radius, y));
    let radius = (edge.0 - middle.0).hypot(edge.1 - middle.1);
    for (i, j, pixel) in photo.rgb.enumerate_pixels_mut() {
        let away = (f64::from(i) - middle.0).hypot(f64::from(j) - middle.1) / radius;
        let share = ((1.15 - away) / 0.3).clamp(0.0, 1.0);
        for channel in &mut pixel.0 {
            *channel = (f64::from(*channel) + share * spot.adds).min(255.0) as u8;
        }
    }
}

/// What a reading is off by.
#[derive(Debug, Clone, Copy)]
struct Errors {
    /// Of the x-height, as a share.
    x_height: Option<f64>,
    /// Degrees.
    slant: Option<f64>,
    /// Widths of an o.
    word_gap: Option<f64>,
    /// Shares found.
    words: f64,
    letters: f64,
}

/// One photograph: its checks, and what the reading is off by.
struct Shot {
    fitness: Fitness,
    errors: Errors,
}

impl Shot {
    /// `None` where no sheet was found.
    fn take(fonts: &Fonts, writer: &Writer, wrong: Option<&Wrong>, seed: u64) -> Option<Self> {
        let spec = spec(writer, wrong, seed);
        let drawn = spec.draw(fonts);
        let expect = Expectation {
            paper: spec.sheet.paper,
            ruling: spec.sheet.ruling,
            model: spec.model(),
            text: Some(drawn.text.clone()),
            minutes: None,
        };
        let mut photo = metrics::decode(&drawn.jpeg).expect("a photograph");
        if let Some(Wrong::Glare(spot)) = wrong {
            burn(&mut photo, &drawn, *spot);
        }
        let page = metrics::find_page(&photo, &expect).ok()?;
        let fitness = metrics::fitness(&page);
        let reading = metrics::read_page(&page, &expect, fitness.clone());
        Some(Self {
            fitness,
            errors: errors(&reading, &drawn),
        })
    }

    fn check(&self, fault: FitFault) -> Option<&FitCheck> {
        self.fitness.checks.iter().find(|c| c.fault == fault)
    }

    /// Faults that the page is refused for.
    fn refused(&self) -> Vec<FitFault> {
        let failed = self.fitness.checks.iter().filter(|c| !c.passed);
        failed.map(|c| c.fault).collect()
    }
}

fn errors(reading: &Reading, drawn: &Drawn) -> Errors {
    let off = |name: MeasureName| {
        let found = reading.measures.iter().find(|m| m.name == name)?;
        let Outcome::Measured { value, .. } = found.outcome else {
            return None;
        };
        Some(value - drawn.truth.measures[name.text()]?)
    };
    let x_height = drawn.truth.measures[MeasureName::XHeight.text()];
    let words = reading.words.iter().map(|w| (w.bounds, ' '));
    let letters = reading
        .letters
        .iter()
        .map(|l| (l.bounds, l.char.unwrap_or(' ')));
    let true_words = drawn.truth.words.iter().map(|w| (w.bounds, ' '));
    let true_letters = drawn.truth.letters.iter().map(|l| (l.bounds, l.char));
    Errors {
        x_height: off(MeasureName::XHeight).and_then(|off| Some(off / x_height?)),
        slant: off(MeasureName::Slant),
        word_gap: off(MeasureName::WordGap),
        words: found(true_words, &words.collect::<Vec<_>>()),
        letters: found(true_letters, &letters.collect::<Vec<_>>()),
    }
}

/// Share of the true places that are found: intersection over union at least one half, and the
/// same letter.
fn found(truth: impl Iterator<Item = ([f64; 4], char)>, places: &[(BoxMm, char)]) -> f64 {
    let (mut hits, mut all) = (0.0, 0.0);
    for (own, char) in truth {
        all += 1.0;
        let hit = |(b, other): &(BoxMm, char)| {
            *other == char && overlap(own, [b.x0.0, b.y0.0, b.x1.0, b.y1.0]) >= 0.5
        };
        if places.iter().any(hit) {
            hits += 1.0;
        }
    }
    hits / all
}

/// Intersection over union.
fn overlap(a: [f64; 4], b: [f64; 4]) -> f64 {
    let area = |c: [f64; 4]| (c[2] - c[0]).max(0.0) * (c[3] - c[1]).max(0.0);
    let both = area([
        a[0].max(b[0]),
        a[1].max(b[1]),
        a[2].min(b[2]),
        a[3].min(b[3]),
    ]);
    both / (area(a) + area(b) - both)
}

/// The middle one, or of an even number the better of the two.
fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut all: Vec<f64> = values.collect();
    all.sort_by(f64::total_cmp);
    all.get((all.len().max(1) - 1) / 2)
        .copied()
        .unwrap_or(f64::NAN)
}

/// One line of the table.
fn row(wrong: Option<&Wrong>, fault: FitFault, shots: &[Option<Shot>]) -> String {
    let name = wrong.map_or("nothing wrong".to_owned(), ToString::to_string);
    let figure = median(
        shots
            .iter()
            .flatten()
            .filter_map(|s| Some(s.check(fault)?.figure)),
    );
    let refused: Vec<FitFault> = shots.iter().flatten().flat_map(Shot::refused).collect();
    let mut faults = refused.clone();
    faults.dedup();
    format!(
        "{name:24} {figure:8.3}  {:>6.2} % {:>6.2} %  {:>5.2}° {:>6.3} o  {:>4.0} % {:>4.0} %  {} {}",
        100.0 * x_height(shots),
        100.0 * worst_x_height(shots),
        median(shots.iter().map(|s| error(s, |e| e.slant))),
        median(shots.iter().map(|s| error(s, |e| e.word_gap))),
        100.0 * words(shots),
        100.0
            * median(
                shots
                    .iter()
                    .map(|s| s.as_ref().map_or(0.0, |s| s.errors.letters))
            ),
        if measured(shots) {
            "measured"
        } else {
            "not     "
        },
        if faults.is_empty() {
            String::new()
        } else {
            format!(
                "refused {}/{}: {faults:?}",
                shots.iter().flatten().filter(|s| !s.fitness.fit()).count(),
                shots.len()
            )
        },
    )
}

/// Size of an error; what is not measured counts as endlessly wrong.
fn error(shot: &Option<Shot>, of: impl Fn(&Errors) -> Option<f64>) -> f64 {
    let error = shot.as_ref().and_then(|s| of(&s.errors));
    error.map_or(f64::INFINITY, f64::abs)
}

fn x_height(shots: &[Option<Shot>]) -> f64 {
    median(shots.iter().map(|s| error(s, |e| e.x_height)))
}

fn worst_x_height(shots: &[Option<Shot>]) -> f64 {
    shots
        .iter()
        .map(|s| error(s, |e| e.x_height))
        .fold(0.0, f64::max)
}

fn words(shots: &[Option<Shot>]) -> f64 {
    median(
        shots
            .iter()
            .map(|s| s.as_ref().map_or(0.0, |s| s.errors.words)),
    )
}

/// The rule.
fn measured(shots: &[Option<Shot>]) -> bool {
    x_height(shots) <= MOST_ERROR && words(shots) >= LEAST_WORDS
}

fn shots(fonts: &Fonts, wrong: Option<&Wrong>) -> Vec<Option<Shot>> {
    let seeds = 70..;
    WRITERS
        .iter()
        .zip(seeds)
        .map(|(writer, seed)| Shot::take(fonts, writer, wrong, seed))
        .collect()
}

fn fonts() -> Fonts {
    Fonts::load(&Fonts::folder()).expect("the fonts that set-up brings")
}

/// Prints the table of one fault.
fn table(fault: FitFault) {
    let fonts = fonts();
    let mut rows = vec![format!(
        "{fault:<24?} {:>8}  {:>8} {:>8}  {:>6} {:>8}  {:>6} {:>6}",
        "figure", "x-height", "worst", "slant", "word gap", "words", "letters"
    )];
    rows.push(row(None, fault, &shots(&fonts, None)));
    for wrong in steps(fault) {
        rows.push(row(Some(&wrong), fault, &shots(&fonts, Some(&wrong))));
    }
    println!("{}\n", rows.join("\n"));
}

#[test]
#[ignore = "prints a table"]
fn table_of_blur() {
    table(FitFault::Blur);
}

#[test]
#[ignore = "prints a table"]
fn table_of_shadow() {
    table(FitFault::Shadow);
}

#[test]
#[ignore = "prints a table"]
fn table_of_glare() {
    table(FitFault::Glare);
}

#[test]
#[ignore = "prints a table"]
fn table_of_size() {
    table(FitFault::TooSmall);
}

#[test]
#[ignore = "prints a table"]
fn table_of_cut_off() {
    table(FitFault::CutOff);
}

#[test]
#[ignore = "prints a table"]
fn table_of_darkness() {
    table(FitFault::TooDark);
}

/// For each fault a step that is still measured, and one that is far from it.
fn just_inside_and_well_beyond() -> [(Wrong, Wrong); 5] {
    let spot = |radius, adds| Wrong::Glare(Spot { radius, adds });
    [
        (Wrong::Blur(0.12), Wrong::Blur(0.3)),
        (Wrong::Shadow(0.5, 0.05), Wrong::Shadow(0.9, 0.01)),
        (spot(5.0, 320.0), spot(22.0, 320.0)),
        (Wrong::Scale(4.5), Wrong::Scale(2.5)),
        (Wrong::Light(0.2), Wrong::Light(0.08)),
    ]
}

#[test]
fn limits_part_pages_that_are_measured_from_pages_that_are_not() {
    let fonts = fonts();
    let writer = &WRITERS[2];
    for (inside, beyond) in just_inside_and_well_beyond() {
        let taken = [Shot::take(&fonts, writer, Some(&inside), 72)];
        println!("{}", row(Some(&inside), inside.fault(), &taken));
        let refused = taken[0].as_ref().map(Shot::refused);
        assert_eq!(refused, Some(Vec::new()), "{inside} is refused");
        assert!(measured(&taken), "{inside} is measured badly");

        let taken = [Shot::take(&fonts, writer, Some(&beyond), 72)];
        println!("{}", row(Some(&beyond), beyond.fault(), &taken));
        let refused = taken[0].as_ref().map(Shot::refused).unwrap_or_default();
        assert!(
            refused.contains(&beyond.fault()),
            "{beyond} is refused for {refused:?}"
        );
    }
}
