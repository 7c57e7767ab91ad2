//! What goes wrong with a photograph, and how it is drawn.

use std::fmt;

use demo::camera::Camera;
use demo::desk::Top;
use demo::font::Shapes;
use demo::hand::Hand;
use demo::ink::Tool;
use demo::light::{Light, Shadow};
use demo::page::{Drawn, PageSpec};
use demo::paper::Sheet;
use metrics::Photo;
use units::{FitFault, Mm, Paper, Ruling};

const TEXT: &str = "the small boat went out before the sun was up\nand came home with a net full \
                    of fish for the old man\nwho had waited by the water all the long day";

/// Photograph pixels for each millimetre where nothing is wrong.
const SCALE: f64 = 8.0;

/// Who writes, and with what.
pub struct Writer {
    shapes: Shapes,
    x_height: f64,
    tool: Tool,
    pitch: f64,
}

pub const WRITERS: [Writer; 3] = [
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
pub struct Spot {
    /// Its radius on the sheet, mm.
    pub radius: f64,
    /// What it adds in its middle, levels of 255.
    pub adds: f64,
}

/// A corner of the sheet that lies outside the picture.
#[derive(Debug, Clone, Copy)]
pub struct Corner {
    /// Turn of the sheet, degrees.
    pub turn: f64,
    /// Share of the picture by which the sheet is moved out of it downwards, and half of it to the
    /// right.
    pub share: f64,
    /// Whether the sheet is written full, or only on its first three lines.
    pub written: bool,
}

/// One way in which a photograph is worse than it should be.
#[derive(Debug, Clone)]
pub enum Wrong {
    /// Standard deviation of the blur, mm on the sheet.
    Blur(f64),
    /// Share of the light that a round shadow over the writing takes, and how wide its edge is, as
    /// a share of the picture.
    Shadow(f32, f32),
    Glare(Spot),
    /// Photograph pixels for each millimetre.
    Scale(f64),
    /// A corner out of the picture.
    Out(Corner),
    /// Brightness, where the sensor's noise stays what it is.
    Light(f32),
}

impl Wrong {
    /// What it is found out by.
    pub fn fault(&self) -> FitFault {
        match self {
            Self::Blur(_) => FitFault::Blur,
            Self::Shadow(..) => FitFault::Shadow,
            Self::Glare(_) => FitFault::Glare,
            Self::Scale(_) => FitFault::TooSmall,
            Self::Out(_) => FitFault::CutOff,
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
            Self::Out(corner) => {
                let full = if corner.written { "written" } else { "blank" };
                write!(f, "{full}, {:.0}°, {:.2}", corner.turn, corner.share)
            }
            Self::Light(level) => write!(f, "light {level:.2}"),
        }
    }
}

/// What is drawn for a writer when this goes wrong.
pub fn spec(writer: &Writer, wrong: Option<&Wrong>, seed: u64) -> PageSpec {
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
    // A page far away is small in the picture too.
    let fill = if scale < SCALE { 0.6 } else { 0.9 };
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
        Some(Wrong::Out(corner)) => {
            spec.camera.turn = corner.turn;
            spec.camera.shift = (corner.share / 2.0, corner.share);
            if corner.written {
                let lines = spec.sheet.written_lines(writer.x_height);
                let text = TEXT.lines().cycle().zip(lines).map(|(line, _)| line);
                spec.text = text.collect::<Vec<_>>().join("\n");
            }
        }
        Some(Wrong::Light(level)) => spec.light.level = *level,
        _ => {}
    }
    spec
}

/// Burns the spot into the photograph, over the middle of the writing; its edge is a third of its
/// radius wide.
pub fn burn(photo: &mut Photo, drawn: &Drawn, spot: Spot) {
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
