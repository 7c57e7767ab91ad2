//! Where and how a parent takes the photograph: every week a little differently.

use units::Paper;

use crate::camera::Camera;
use crate::desk::Top;
use crate::exif::Exif;
use crate::light::{Light, Shadow};
use crate::page::PageSpec;
use crate::paper::{CREAM, GREY, Sheet};
use crate::rng::Rng;
use crate::texts;

use super::calendar::Week;
use super::pupils::{Course, WEEKS, kind};

/// The page that a pupil wrote in a week, and its photograph.
pub(super) fn page(course: &Course, week: usize, of: &Week) -> PageSpec {
    let seed = course.seed * 1_000 + week as u64;
    let mut rng = Rng::new(seed, "scene");
    let mut sheet = Sheet::new(course.profile.paper, course.profile.ruling);
    if course.profile.paper == Paper::A4 {
        sheet.margin = Some(25.0);
    }
    if course.seed % 2 == 1 {
        sheet.rule_colour = GREY;
        sheet.tint = if course.seed == 1_001 {
            CREAM
        } else {
            sheet.tint
        };
    }
    let tops = [Top::Pine, Top::Walnut, Top::Cloth, Top::White];
    PageSpec {
        seed,
        text: written_text(course, week, of),
        hand: course.hand(week, kind(week)),
        tool: course.tool,
        sheet,
        // A family has one kitchen table and sometimes uses another.
        top: tops[(course.seed as usize + usize::from(rng.chance(0.25))) % 4],
        clutter: rng.below(3),
        light: light(&mut rng),
        camera: camera(course, week, &mut rng),
    }
}

/// What stands on the page: the task's text, or own words.
pub(super) fn written_text(course: &Course, week: usize, of: &Week) -> String {
    // Own words come from the same season, so that a child writes about what there is.
    let shift = usize::from(kind(week) == units::TaskKind::OwnWords);
    (0..course.texts)
        .map(|index| texts::WEEKS[(of.text + index + shift) % texts::WEEKS.len()])
        .collect::<Vec<_>>()
        .join(" ")
}

fn light(rng: &mut Rng) -> Light {
    let mut light = Light {
        level: rng.between(0.78, 0.9) as f32,
        fall: rng.between(0.03, 0.22) as f32,
        towards: rng.between(0.0, 360.0),
        vignette: rng.between(0.04, 0.12) as f32,
        ..Light::even()
    };
    if rng.chance(0.4) {
        // A lamp in the evening.
        light.cast = [1.0, 0.955, 0.87];
    }
    if rng.chance(0.35) {
        light.shadows.push(Shadow {
            at: (rng.between(0.6, 1.0) as f32, rng.between(0.65, 1.0) as f32),
            round: Some((rng.between(0.3, 0.5) as f32, rng.between(0.25, 0.4) as f32)),
            towards: 0.0,
            strength: rng.between(0.08, 0.22) as f32,
            soft: rng.between(0.2, 0.3) as f32,
        });
    }
    light
}

fn camera(course: &Course, week: usize, rng: &mut Rng) -> Camera {
    let newest = week + 1 == WEEKS;
    let (width, height) = match (newest, course.seed) {
        (true, 1_001) => (3000, 4000),
        (true, _) => (2448, 3264),
        _ => (1560, 2080),
    };
    Camera {
        turn: rng.normal() * 3.0,
        tilt: (rng.normal() * 5.0, rng.normal() * 4.0),
        fill: rng.between(0.86, 0.93),
        shift: (rng.between(-0.015, 0.015), rng.between(-0.015, 0.015)),
        blur: if newest { 1.0 } else { 0.6 },
        noise: rng.between(1.2, 2.2) as f32,
        quality: 88,
        // Every phone writes how it was held; some write where.
        exif: Some(Exif {
            orientation: if rng.chance(0.3) { 6 } else { 1 },
            position: newest || rng.chance(0.3),
        }),
        ..Camera::above(width, height)
    }
}
