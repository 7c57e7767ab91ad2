//! The weights file → numbers to compute with. What it holds is said in `model/net.py`: for each layer
//! its weights as bytes with a sign (tap, input, output), then a step and a bias for each output.

use std::sync::LazyLock;

use crate::recogniser::OUTPUTS;

/// Channels at a half, a quarter and an eighth of the crop's size.
pub(super) const WIDTHS: [usize; 3] = [24, 64, 128];

/// Places that are left at an eighth of the crop's size.
pub(super) const PLACES: usize = 20;

/// For each layer: how many numbers each output is the sum of, and how many outputs there are.
const LAYERS: [(usize, usize); 10] = {
    let [a, b, c] = WIDTHS;
    [
        (25, a),
        (9, a),
        (a, b),
        (9, b),
        (b, b),
        (9, b),
        (b, c),
        (9, c),
        (c, c),
        (PLACES * c, OUTPUTS),
    ]
};

static FILE: &[u8] = include_bytes!("../../model/letters.weights");
const _: () = assert!(FILE.len() == length());

const fn length() -> usize {
    let mut sum = 0;
    let mut k = 0;
    while k < LAYERS.len() {
        sum += (LAYERS[k].0 + 8) * LAYERS[k].1;
        k += 1;
    }
    sum
}

/// Outputs that are computed together.
pub(super) const LANES: usize = 8;

/// One layer. Outputs are filled up with zeros to a multiple of [`LANES`], and lie by their lanes: all
/// inputs' weights of the first lanes, then those of the next.
pub(super) struct Layer {
    pub inputs: usize,
    pub outputs: usize,
    pub weights: Vec<[f32; LANES]>,
    pub biases: Vec<[f32; LANES]>,
}

/// All layers, in the order of computing.
pub(super) static NET: LazyLock<Vec<Layer>> = LazyLock::new(|| {
    let mut rest = FILE;
    LAYERS.iter().map(|size| read(&mut rest, *size)).collect()
});

fn read(rest: &mut &[u8], (inputs, outputs): (usize, usize)) -> Layer {
    let whole = take(rest, inputs * outputs);
    let steps = floats(take(rest, 4 * outputs));
    let biases = floats(take(rest, 4 * outputs));
    let filled = outputs.next_multiple_of(LANES);
    let mut layer = Layer {
        inputs,
        outputs: filled,
        weights: vec![[0.0; LANES]; inputs * filled / LANES],
        biases: vec![[0.0; LANES]; filled / LANES],
    };
    for (output, (step, bias)) in steps.iter().zip(biases).enumerate() {
        let (lanes, lane) = (output / LANES, output % LANES);
        layer.biases[lanes][lane] = bias;
        for input in 0..inputs {
            let byte = whole[input * outputs + output];
            layer.weights[lanes * inputs + input][lane] = f32::from(byte.cast_signed()) * step;
        }
    }
    layer
}

fn take<'a>(rest: &mut &'a [u8], length: usize) -> &'a [u8] {
    let (taken, left) = rest.split_at(length);
    *rest = left;
    taken
}

fn floats(bytes: &[u8]) -> Vec<f32> {
    let numbers = bytes.as_chunks::<4>().0;
    numbers
        .iter()
        .map(|four| f32::from_le_bytes(*four))
        .collect()
}
