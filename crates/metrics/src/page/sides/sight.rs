//! Steps of colour across a side, found to a part of a pixel.

use super::Tracing;
use crate::page::small::{Colour, Picture};

/// One place along a side with the edge found there.
#[derive(Debug, Clone, Copy)]
pub(in crate::page) struct Sighting {
    pub u: f64,
    /// Offset inwards, pixels.
    pub v: f64,
    /// The step there, levels.
    pub step: f64,
}

/// Colours across the side at one place, from `-radius - band` (outside) to `radius + band`.
pub(super) struct Profile {
    u: f64,
    colours: Vec<Colour>,
}

/// A place on a side: how far along (in any measure), the point, and the unit vector along.
#[derive(Debug, Clone, Copy)]
pub(in crate::page) struct Place {
    pub u: f64,
    pub at: (f64, f64),
    pub along: (f64, f64),
}

/// Colours across a side at each place that lies on the picture.
pub(super) fn profiles(
    picture: &impl Picture,
    places: impl Iterator<Item = Place>,
    tracing: Tracing,
) -> Vec<Profile> {
    let half = ((tracing.radius + tracing.band) * tracing.fineness as f64).ceil() as isize;
    places
        .filter(|place| picture.holds(place.at.0, place.at.1))
        .map(|Place { u, at, along }| {
            // Corners go round clockwise on the screen, so inwards is to the right of the way.
            let inwards = (-along.1, along.0);
            let colours = (-half..=half)
                .map(|s| {
                    let v = s as f64 / tracing.fineness as f64;
                    let (x, y) = (at.0 + v * inwards.0, at.1 + v * inwards.1);
                    let mut sum = [0.0; 3];
                    for w in -tracing.beside..=tracing.beside {
                        let w = f64::from(w);
                        let near = picture.between(x + w * along.0, y + w * along.1);
                        for (sum, c) in sum.iter_mut().zip(near) {
                            *sum += c;
                        }
                    }
                    let looks = (2 * tracing.beside + 1) as f32;
                    sum.map(|sum| sum / looks)
                })
                .collect();
            Profile { u, colours }
        })
        .collect()
}

/// Unit colour difference from inside to outside, median over the places of a side.
pub(super) fn outward_colour(profiles: &[Profile], tracing: Tracing) -> Option<Colour> {
    if profiles.is_empty() {
        return None;
    }
    let n = (tracing.band * tracing.fineness as f64) as usize + 1;
    let difference: Colour = core::array::from_fn(|c| {
        let mut all: Vec<f32> = profiles
            .iter()
            .map(|p| {
                let mean = |part: &[Colour]| {
                    part.iter().map(|colour| colour[c]).sum::<f32>() / part.len() as f32
                };
                mean(&p.colours[..n]) - mean(&p.colours[p.colours.len() - n..])
            })
            .collect();
        let middle = all.len() / 2;
        *all.select_nth_unstable_by(middle, f32::total_cmp).1
    });
    let length = difference.iter().map(|d| d * d).sum::<f32>().sqrt();
    (length > 0.5).then(|| difference.map(|d| d / length))
}

/// The strongest step of the right colour across one place.
pub(super) fn sight(profile: &Profile, outwards: Colour, tracing: Tracing) -> Option<Sighting> {
    let values: Vec<f64> = profile
        .colours
        .iter()
        .map(|c| f64::from(-(c[0] * outwards[0] + c[1] * outwards[1] + c[2] * outwards[2])))
        .collect();
    let n = (tracing.band * tracing.fineness as f64).round().max(1.0) as usize;
    let mut running = vec![0.0];
    for v in &values {
        running.push(running.last().copied().unwrap_or(0.0) + v);
    }
    // Mean of n values from the centre inwards less that outwards, the centre's own left out.
    let steps: Vec<f64> = (n..values.len() - n)
        .map(|i| (running[i + n + 1] - running[i + 1] - running[i] + running[i - n]) / n as f64)
        .collect();
    let (k, &step) = steps
        .iter()
        .enumerate()
        .max_by(|(i, a), (j, b)| a.total_cmp(b).then(j.cmp(i)))?;
    if step < 2.0 || k == 0 || k + 1 == steps.len() {
        return None;
    }
    let (before, after) = (steps[k - 1], steps[k + 1]);
    let curvature = before - 2.0 * step + after;
    let shift = if curvature < 0.0 {
        (0.5 * (before - after) / curvature).clamp(-0.5, 0.5)
    } else {
        0.0
    };
    let centre = (steps.len() - 1) as f64 * 0.5;
    Some(Sighting {
        u: profile.u,
        v: (k as f64 + shift - centre) / tracing.fineness as f64,
        step,
    })
}
