//! What was seen of a sheet → the view of it: least squares by Levenberg and Marquardt.

use super::view::{Numbers, PARAMETERS, View};

/// A place of the sheet that was seen somewhere.
#[derive(Debug, Clone, Copy)]
pub(super) struct Target {
    /// Millimetres from the sheet's top left corner.
    pub sheet: (f64, f64),
    /// Where in the photograph, pixels.
    pub seen: (f64, f64),
    /// Unit vector in the photograph along which the sighting says anything: along an edge it
    /// says nothing.
    pub across: (f64, f64),
    /// Standard error of the sighting, pixels.
    pub sigma: f64,
    /// Targets of one group are off by a common amount that is not known: those of a printed line,
    /// whose place on the sheet is not known.
    pub group: Option<usize>,
}

/// A settled view and how well it holds.
pub(super) struct Settled {
    pub view: View,
    /// Sum of squares of what is left and of what is unusual.
    pub cost: f64,
}

/// What of each target is left, in standard errors.
pub(super) fn rests(view: &View, targets: &[Target]) -> Vec<f64> {
    let lens = view.lens();
    let mut out: Vec<f64> = targets
        .iter()
        .map(|t| {
            let (x, y) = lens.project(t.sheet.0, t.sheet.1);
            ((x - t.seen.0) * t.across.0 + (y - t.seen.1) * t.across.1) / t.sigma
        })
        .collect();
    let groups = targets
        .iter()
        .filter_map(|t| t.group)
        .max()
        .map_or(0, |g| g + 1);
    let mut sums = vec![(0.0, 0.0); groups];
    for (t, rest) in targets.iter().zip(&out) {
        if let Some(g) = t.group {
            sums[g].0 += rest;
            sums[g].1 += 1.0;
        }
    }
    for (t, rest) in targets.iter().zip(&mut out) {
        if let Some(g) = t.group {
            *rest -= sums[g].0 / sums[g].1;
        }
    }
    out
}

/// Moves the view until the targets are met as well as the usual allows. Past `reach` standard
/// errors a target counts for nothing (Tukey's biweight); infinite, they all count alike.
#[tracing::instrument(level = "trace", name = "settle", skip_all)]
pub(super) fn settle(start: View, targets: &[Target], reach: f64) -> Settled {
    const ROUNDS: usize = 40;
    let mut view = start;
    let mut rest = rests(&view, targets);
    let weights = |rest: &[f64]| -> Vec<f64> {
        rest.iter()
            .map(|r| {
                let u = r / reach;
                (1.0 - u * u).max(0.0) * (1.0 - u * u).max(0.0)
            })
            .collect()
    };
    let mut weight = weights(&rest);
    let mut cost = cost_of(&view, &rest, &weight);
    let mut damping = 1e-3;
    for _ in 0..ROUNDS {
        let (matrix, pull) = equations(&view, targets, &rest, &weight);
        let Some(step) = solve(matrix, pull, damping) else {
            damping *= 10.0;
            continue;
        };
        let next = view.with(core::array::from_fn(|k| view.numbers[k] + step[k]));
        let next_rest = rests(&next, targets);
        let next_cost = cost_of(&next, &next_rest, &weight);
        if next_cost < cost {
            let gain = cost - next_cost;
            view = next;
            rest = next_rest;
            damping = (0.2 * damping).max(1e-9);
            weight = weights(&rest);
            cost = cost_of(&view, &rest, &weight);
            if gain < 1e-6 * cost {
                break;
            }
        } else {
            damping *= 6.0;
            if damping > 1e9 {
                break;
            }
        }
    }
    Settled { view, cost }
}

fn cost_of(view: &View, rest: &[f64], weight: &[f64]) -> f64 {
    let seen: f64 = rest.iter().zip(weight).map(|(r, w)| w * r * r).sum();
    let unusual: f64 = view.unusual().iter().map(|u| u * u).sum();
    seen + unusual
}

type Matrix = [[f64; PARAMETERS]; PARAMETERS];

/// Normal equations, slopes taken by small steps.
fn equations(view: &View, targets: &[Target], rest: &[f64], weight: &[f64]) -> (Matrix, Numbers) {
    const STEP: f64 = 1e-5;
    let slopes: Vec<Vec<f64>> = (0..PARAMETERS)
        .map(|k| {
            let mut numbers = view.numbers;
            numbers[k] += STEP;
            rests(&view.with(numbers), targets)
                .iter()
                .zip(rest)
                .map(|(a, b)| (a - b) / STEP)
                .collect()
        })
        .collect();
    let mut matrix = [[0.0; PARAMETERS]; PARAMETERS];
    let mut pull = [0.0; PARAMETERS];
    let unusual = view.unusual();
    for k in 0..PARAMETERS {
        for l in 0..=k {
            let sum: f64 = (0..rest.len())
                .map(|i| weight[i] * slopes[k][i] * slopes[l][i])
                .sum();
            matrix[k][l] = sum;
            matrix[l][k] = sum;
        }
        pull[k] = -(0..rest.len())
            .map(|i| weight[i] * slopes[k][i] * rest[i])
            .sum::<f64>();
        let usual = View::usual(k);
        matrix[k][k] += usual * usual;
        pull[k] -= usual * unusual[k];
    }
    (matrix, pull)
}

/// Cholesky's way through the damped equations.
fn solve(mut m: Matrix, mut x: Numbers, damping: f64) -> Option<Numbers> {
    for (k, row) in m.iter_mut().enumerate() {
        row[k] += damping * row[k].max(1e-9);
    }
    for k in 0..PARAMETERS {
        for l in 0..=k {
            let known: f64 = (0..l).map(|i| m[k][i] * m[l][i]).sum();
            let rest = m[k][l] - known;
            if k == l {
                if rest <= 0.0 || !rest.is_finite() {
                    return None;
                }
                m[k][k] = rest.sqrt();
            } else {
                m[k][l] = rest / m[l][l];
            }
        }
    }
    for k in 0..PARAMETERS {
        let known: f64 = (0..k).map(|i| m[k][i] * x[i]).sum();
        x[k] = (x[k] - known) / m[k][k];
    }
    for k in (0..PARAMETERS).rev() {
        let known: f64 = (k + 1..PARAMETERS).map(|i| m[i][k] * x[i]).sum();
        x[k] = (x[k] - known) / m[k][k];
    }
    x.iter().all(|v| v.is_finite()).then_some(x)
}
