//! The recogniser's forward pass. Every sum is taken in one fixed order, without fused operations, so
//! it comes out the same on every platform.
//!
//! Between layers, numbers lie place by place (row by row), the channels of a place side by side in
//! groups of [`LANES`].

use crate::recogniser::OUTPUTS;
use crate::recogniser::crop::{COLUMNS, Crop, ROWS};
use crate::recogniser::weights::{LANES, Layer, NET};

/// Channels that are computed together.
type Lanes = [f32; LANES];

/// How many places share one pass over a layer's weights.
const TOGETHER: usize = 4;

/// The logit of each class for a crop. Wider registers are used where the processor has them; every
/// product and every sum is the same one by one, so the result is too.
pub(super) fn logits(crop: &Crop) -> [f32; OUTPUTS] {
    pulp::Arch::new().dispatch(Forward(crop))
}

/// The forward pass, to be compiled once for each width of registers.
struct Forward<'a>(&'a Crop);

impl pulp::WithSimd for Forward<'_> {
    type Output = [f32; OUTPUTS];

    #[inline(always)]
    fn with_simd<S: pulp::Simd>(self, _: S) -> Self::Output {
        forward(self.0)
    }
}

/// As [`logits`], with the registers that every processor has.
#[inline(always)]
pub(super) fn forward(crop: &Crop) -> [f32; OUTPUTS] {
    let net = &*NET;
    let size = |by: usize| (ROWS / by, COLUMNS / by);
    let x = first(crop, &net[0]);
    let x = pointwise(&each(&x, size(2), 2, &net[1]), &net[2]);
    let x = pointwise(&each(&x, size(4), 1, &net[3]), &net[4]);
    let x = pointwise(&each(&x, size(4), 2, &net[5]), &net[6]);
    let x = pointwise(&each(&x, size(8), 1, &net[7]), &net[8]);
    let all = last(&x, &net[9]);
    let all = all.as_flattened();
    std::array::from_fn(|k| all[k])
}

/// 5 × 5 over the crop, every other place; paper adds nothing.
#[inline(always)]
fn first(crop: &Crop, layer: &Layer) -> Vec<Lanes> {
    let groups = layer.outputs / LANES;
    let mut out = vec![[0.0; LANES]; groups * (ROWS / 2) * (COLUMNS / 2)];
    let mut seen = Vec::with_capacity(layer.inputs);
    for (place, out) in out.chunks_exact_mut(groups).enumerate() {
        let (row, column) = (place / (COLUMNS / 2) * 2, place % (COLUMNS / 2) * 2);
        around(crop, (row, column), &mut seen);
        let weights = layer.weights.chunks_exact(layer.inputs);
        for ((out, bias), weights) in out.iter_mut().zip(&layer.biases).zip(weights) {
            let mut sums = *bias;
            for &(tap, dark) in &seen {
                add(&mut sums, dark, &weights[tap]);
            }
            *out = cut_off(sums);
        }
    }
    out
}

/// The inked cells of the 5 × 5 round a cell.
#[inline(always)]
fn around(crop: &Crop, (row, column): (usize, usize), seen: &mut Vec<(usize, f32)>) {
    seen.clear();
    for y in row.saturating_sub(2)..(row + 3).min(ROWS) {
        for x in column.saturating_sub(2)..(column + 3).min(COLUMNS) {
            let dark = crop[y * COLUMNS + x];
            if dark > 0.0 {
                seen.push(((y + 2 - row) * 5 + x + 2 - column, dark));
            }
        }
    }
}

/// 3 × 3 over each channel by itself, at every `stride`-th place.
#[inline(always)]
fn each(
    input: &[Lanes],
    (rows, columns): (usize, usize),
    stride: usize,
    layer: &Layer,
) -> Vec<Lanes> {
    let groups = layer.outputs / LANES;
    let across = columns / stride;
    let mut out = vec![[0.0; LANES]; rows / stride * across * groups];
    for (place, out) in out.chunks_exact_mut(groups).enumerate() {
        let (row, column) = (place / across * stride, place % across * stride);
        let (taps, count) = neighbours((row, column), (rows, columns), groups);
        let weights = layer.weights.chunks_exact(layer.inputs);
        for (group, ((out, weights), bias)) in
            out.iter_mut().zip(weights).zip(&layer.biases).enumerate()
        {
            let mut sums = *bias;
            for &(tap, there) in &taps[..count] {
                let (weights, values) = (&weights[tap], &input[there + group]);
                for k in 0..LANES {
                    sums[k] += weights[k] * values[k];
                }
            }
            *out = cut_off(sums);
        }
    }
    out
}

/// Which of the 3 × 3 about a place lie within, where their channels begin, and how many they are.
#[inline(always)]
fn neighbours(
    (row, column): (usize, usize),
    (rows, columns): (usize, usize),
    groups: usize,
) -> ([(usize, usize); 9], usize) {
    let (mut taps, mut count) = ([(0, 0); 9], 0);
    for tap in 0..9 {
        let (y, x) = (row + tap / 3, column + tap % 3);
        if (1..=rows).contains(&y) && (1..=columns).contains(&x) {
            taps[count] = (tap, ((y - 1) * columns + x - 1) * groups);
            count += 1;
        }
    }
    (taps, count)
}

/// Each place by itself, all channels with all.
#[inline(always)]
fn pointwise(input: &[Lanes], layer: &Layer) -> Vec<Lanes> {
    let groups = layer.outputs / LANES;
    let input = input.as_flattened();
    let mut out = vec![[0.0; LANES]; input.len() / layer.inputs * groups];
    let places = out.chunks_exact_mut(TOGETHER * groups);
    for (out, there) in places.zip(input.chunks_exact(TOGETHER * layer.inputs)) {
        let weights = layer.weights.chunks_exact(layer.inputs);
        for (group, (weights, bias)) in weights.zip(&layer.biases).enumerate() {
            let sums = block(there, weights, *bias);
            for (place, sums) in sums.into_iter().enumerate() {
                out[place * groups + group] = cut_off(sums);
            }
        }
    }
    out
}

/// A few outputs of a few places, small enough to be kept in registers.
#[inline(always)]
fn block(input: &[f32], weights: &[Lanes], bias: Lanes) -> [Lanes; TOGETHER] {
    let (a, rest) = input.split_at(weights.len());
    let (b, rest) = rest.split_at(weights.len());
    let (c, d) = rest.split_at(weights.len());
    let [mut sum_a, mut sum_b, mut sum_c, mut sum_d] = [bias; TOGETHER];
    for ((((weights, a), b), c), d) in weights.iter().zip(a).zip(b).zip(c).zip(d) {
        add(&mut sum_a, *a, weights);
        add(&mut sum_b, *b, weights);
        add(&mut sum_c, *c, weights);
        add(&mut sum_d, *d, weights);
    }
    [sum_a, sum_b, sum_c, sum_d]
}

/// All places and channels with all classes; what is 0 adds nothing.
#[inline(always)]
fn last(input: &[Lanes], layer: &Layer) -> Vec<Lanes> {
    let values = input.as_flattened().iter().copied().enumerate();
    let seen: Vec<(usize, f32)> = values.filter(|(_, v)| *v > 0.0).collect();
    let weights = layer.weights.chunks_exact(layer.inputs);
    let groups = layer.biases.iter().zip(weights);
    groups
        .map(|(bias, weights)| {
            let mut sums = *bias;
            for &(input, v) in &seen {
                add(&mut sums, v, &weights[input]);
            }
            sums
        })
        .collect()
}

#[inline(always)]
fn add(sums: &mut Lanes, v: f32, weights: &Lanes) {
    for k in 0..LANES {
        sums[k] += weights[k] * v;
    }
}

#[inline(always)]
fn cut_off(sums: Lanes) -> Lanes {
    sums.map(|v| v.max(0.0))
}
