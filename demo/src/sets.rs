//! The pages that tests measure: few, small, and as different from each other as pages are.

use units::{CorrectionKind, Mm, Paper, Ruling};

use crate::camera::Camera;
use crate::desk::Top;
use crate::exif::Exif;
use crate::font::Shapes;
use crate::hand::Hand;
use crate::ink::Tool;
use crate::light::{Light, Shadow};
use crate::page::PageSpec;
use crate::paper::{CREAM, GREY, Sheet};
use crate::texts;

/// A page with the name of its files.
pub struct NamedPage {
    /// Name of its files, without ending.
    pub id: &'static str,
    /// What it follows from.
    pub spec: PageSpec,
}

/// Lines of this pitch, mm.
pub fn lines(pitch: f64) -> Ruling {
    Ruling::Lines { pitch: Mm(pitch) }
}

/// A spec to start from: an even hand on a plainly lit desk.
fn plain(seed: u64, shapes: Shapes, x_height: f64, paper: Paper, ruling: Ruling) -> PageSpec {
    let (width, height) = match paper {
        Paper::A5 => (1230, 1640),
        _ => (1680, 2240),
    };
    PageSpec {
        seed,
        text: texts::LONG[seed as usize % texts::LONG.len()].to_owned(),
        hand: Hand::even(shapes, x_height),
        tool: Tool::PENCIL,
        sheet: Sheet::new(paper, ruling),
        top: Top::Pine,
        clutter: 0,
        light: Light::even(),
        camera: Camera {
            quality: 70,
            noise: 0.9,
            fill: 0.94,
            ..Camera::above(width, height)
        },
    }
}

fn corner_shadow(strength: f32) -> Shadow {
    Shadow {
        at: (0.82, 0.9),
        round: Some((0.5, 0.36)),
        towards: 0.0,
        strength,
        soft: 0.22,
    }
}

fn side_shadow(at: f32, towards: f64, strength: f32) -> Shadow {
    Shadow {
        at: (at, 0.5),
        round: None,
        towards,
        strength,
        soft: 0.14,
    }
}

/// The committed test pages.
pub fn test_pages() -> Vec<NamedPage> {
    let mut pages = vec![
        NamedPage {
            id: "a4-lines8-even",
            spec: plain(6, Shapes::Open, 2.5, Paper::A4, lines(8.0)),
        },
        NamedPage {
            id: "a4-lines8-forward",
            spec: leaning_forward(),
        },
        NamedPage {
            id: "a4-lines8-back",
            spec: leaning_back(),
        },
        NamedPage {
            id: "a4-lines10-climbing",
            spec: climbing(),
        },
        NamedPage {
            id: "a4-lines10-sinking",
            spec: sinking(),
        },
        NamedPage {
            id: "a5-lines12-large",
            spec: large(),
        },
        NamedPage {
            id: "a5-lines8-uneven",
            spec: uneven(),
        },
        NamedPage {
            id: "a4-plain-wandering",
            spec: on_plain(),
        },
        NamedPage {
            id: "a5-squares5",
            spec: on_squares(),
        },
        NamedPage {
            id: "a4-fourline",
            spec: on_four_lines(),
        },
        NamedPage {
            id: "a4-lines8-corrections",
            spec: corrected(),
        },
        NamedPage {
            id: "a5-lines8-turned",
            spec: turned(),
        },
        NamedPage {
            id: "a4-lines8-joined",
            spec: joined(),
        },
        NamedPage {
            id: "a5-lines10-joined-loose",
            spec: joined_loosely(),
        },
    ];
    for page in &mut pages {
        page.spec.seed = page.spec.seed.wrapping_mul(101).wrapping_add(7);
    }
    pages
}

fn leaning_forward() -> PageSpec {
    let mut spec = plain(1, Shapes::RoundFine, 2.3, Paper::A4, lines(8.0));
    spec.hand.slant = 13.0;
    spec.hand.slant_sd = 2.5;
    spec.hand.offset = 0.15;
    spec.tool = Tool::BLUE_PEN;
    spec.sheet.margin = Some(25.0);
    spec.camera.tilt = (10.0, -4.0);
    spec.camera.turn = 3.0;
    spec.light.shadows.push(corner_shadow(0.25));
    spec
}

fn leaning_back() -> PageSpec {
    let mut spec = plain(2, Shapes::Open, 2.7, Paper::A4, lines(8.0));
    spec.hand.slant = -9.0;
    spec.hand.slant_sd = 6.0;
    spec.hand.x_height_cv = 0.1;
    spec.hand.letter_gap = 0.22;
    spec.camera.tilt = (4.0, 8.0);
    spec.camera.turn = -6.0;
    spec.top = Top::White;
    spec.light.shadows.push(side_shadow(0.7, 10.0, 0.3));
    spec
}

fn climbing() -> PageSpec {
    let mut spec = plain(3, Shapes::Wide, 3.0, Paper::A4, lines(10.0));
    spec.hand.width = 0.85;
    spec.hand.drift = 0.9;
    spec.hand.drift_sd = 0.3;
    spec.hand.bob = 0.25;
    spec.hand.word_gap = 1.8;
    spec.sheet.rule_colour = GREY;
    spec.sheet.tint = CREAM;
    spec.camera.tilt = (12.0, 2.0);
    spec.light.cast = [1.0, 0.95, 0.85];
    spec
}

fn sinking() -> PageSpec {
    let mut spec = plain(4, Shapes::Quick, 2.7, Paper::A4, lines(10.0));
    spec.hand.drift = -0.7;
    spec.hand.bob = 0.35;
    spec.hand.x_height_cv = 0.09;
    spec.hand.growth = -8.0;
    spec.tool = Tool::BLACK_PEN;
    spec.sheet.margin = Some(22.0);
    spec.top = Top::Walnut;
    spec.camera.tilt = (-6.0, 6.0);
    spec.camera.turn = 4.0;
    spec
}

fn large() -> PageSpec {
    let mut spec = plain(5, Shapes::Open, 3.9, Paper::A5, lines(12.0));
    spec.text = texts::WEEKS[7].to_owned();
    spec.hand.x_height_cv = 0.12;
    spec.hand.bob = 0.45;
    spec.hand.word_gap = 1.0;
    spec.hand.letter_gap_sd = 0.14;
    spec.hand.ascender = 0.75;
    spec.sheet.first = 22.0;
    spec.top = Top::Cloth;
    spec.camera.turn = -3.0;
    spec.camera.tilt = (7.0, 0.0);
    spec
}

fn uneven() -> PageSpec {
    let mut spec = plain(6, Shapes::Round, 2.4, Paper::A5, lines(8.0));
    spec.text = texts::WEEKS[10].to_owned();
    spec.hand.x_height_cv = 0.16;
    spec.hand.slant = 4.0;
    spec.hand.slant_sd = 8.0;
    spec.hand.word_gap = 0.8;
    spec.hand.word_gap_sd = 0.3;
    spec.hand.descender = 0.6;
    spec.hand.growth = 9.0;
    spec.tool = Tool::HARD_PENCIL;
    spec.camera.tilt = (3.0, -9.0);
    spec.light.level = 0.78;
    spec.light.fall = 0.4;
    spec
}

fn on_plain() -> PageSpec {
    let mut spec = plain(7, Shapes::Open, 3.1, Paper::A4, Ruling::Plain);
    spec.hand.drift = 0.5;
    spec.hand.drift_sd = 0.8;
    spec.hand.bob = 0.3;
    spec.top = Top::Walnut;
    spec.camera.tilt = (6.0, 5.0);
    spec.camera.turn = 2.0;
    spec.light.shadows.push(corner_shadow(0.2));
    spec
}

fn on_squares() -> PageSpec {
    let squares = Ruling::Squares {
        side: Mm(5.0),
        every: 2,
    };
    let mut spec = plain(8, Shapes::OpenFine, 2.7, Paper::A5, squares);
    spec.text = texts::WEEKS[19].to_owned();
    spec.sheet.rule_colour = GREY;
    spec.tool = Tool::BLUE_PEN;
    spec.top = Top::Walnut;
    spec.camera.tilt = (8.0, 3.0);
    spec.camera.turn = -2.0;
    spec
}

fn on_four_lines() -> PageSpec {
    let groups = Ruling::FourLine {
        pitch: Mm(18.0),
        inner: Mm(4.0),
    };
    let mut spec = plain(9, Shapes::Wide, 3.6, Paper::A4, groups);
    spec.hand.width = 0.85;
    spec.text = texts::LONG[0].to_owned();
    spec.hand.offset = -0.1;
    spec.hand.letter_gap = 0.4;
    spec.sheet.first = 36.0;
    spec.camera.quality = 66;
    spec.top = Top::White;
    spec.camera.tilt = (5.0, -5.0);
    spec
}

fn corrected() -> PageSpec {
    let mut spec = plain(10, Shapes::RoundFine, 2.4, Paper::A4, lines(8.0));
    spec.hand.corrections = 0.14;
    spec.hand.kinds = vec![
        CorrectionKind::StruckOnce,
        CorrectionKind::StruckManyTimes,
        CorrectionKind::WrittenOver,
        CorrectionKind::Bracketed,
    ];
    spec.tool = Tool::BLACK_PEN;
    spec.sheet.margin = Some(25.0);
    spec.camera.tilt = (8.0, 0.0);
    spec.light.shadows.push(side_shadow(0.25, 190.0, 0.22));
    spec
}

fn turned() -> PageSpec {
    let mut spec = plain(11, Shapes::Quick, 2.3, Paper::A5, lines(8.0));
    spec.text = texts::WEEKS[36].to_owned();
    spec.hand.slant = 6.0;
    spec.hand.letter_gap = 0.4;
    spec.camera.turn = 9.0;
    spec.camera.tilt = (5.0, 5.0);
    spec.camera.fill = 0.92;
    // The phone was held sideways and knew where it was.
    spec.camera.exif = Some(Exif {
        orientation: 6,
        position: true,
    });
    spec
}

fn joined() -> PageSpec {
    let mut spec = plain(12, Shapes::Looped, 2.5, Paper::A4, lines(8.0));
    spec.text = texts::LONG[4].to_owned();
    spec.hand.letter_gap = 0.0;
    spec.hand.letter_gap_sd = 0.05;
    spec.hand.ascender = 0.8;
    spec.hand.descender = 0.7;
    spec.hand.word_gap = 1.1;
    spec.tool = Tool::BLUE_PEN;
    spec.camera.tilt = (7.0, -3.0);
    spec.camera.turn = -3.0;
    spec
}

fn joined_loosely() -> PageSpec {
    let mut spec = plain(13, Shapes::Loose, 2.6, Paper::A5, lines(10.0));
    spec.text = texts::WEEKS[39].to_owned();
    spec.hand.letter_gap = 0.0;
    spec.hand.letter_gap_sd = 0.06;
    spec.hand.bob = 0.2;
    spec.sheet.tint = CREAM;
    spec.top = Top::Cloth;
    spec.camera.tilt = (9.0, 4.0);
    spec.light.shadows.push(corner_shadow(0.3));
    spec
}

/// Large pages as a phone takes them, to look at.
pub fn large_pages() -> Vec<NamedPage> {
    test_pages()
        .into_iter()
        .map(|mut page| {
            let camera = &mut page.spec.camera;
            (camera.width, camera.height) = (3000, 4000);
            camera.quality = 90;
            camera.noise = 2.2;
            camera.blur = 0.9;
            camera.fill = 0.88;
            page.spec.clutter = 2;
            page
        })
        .collect()
}
