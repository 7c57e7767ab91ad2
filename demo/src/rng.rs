//! Chance that follows from a seed: the same numbers on every platform.

/// A stream of numbers (SplitMix64; Steele, Lea & Flood 2014, OOPSLA, "Fast splittable
/// pseudorandom number generators").
#[derive(Debug, Clone)]
pub struct Rng(u64);

/// The mixing step: a good hash of one 64-bit word.
pub fn mix(word: u64) -> u64 {
    let word = (word ^ (word >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let word = (word ^ (word >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    word ^ (word >> 31)
}

impl Rng {
    /// The stream of a seed and a purpose: streams of different purposes do not meet, so that
    /// changing the light never changes the writing.
    pub fn new(seed: u64, purpose: &str) -> Self {
        let purpose = purpose
            .bytes()
            .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
                (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
            });
        Self(mix(seed ^ purpose.rotate_left(17)))
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        mix(self.0)
    }

    /// Evenly spread over 0 (included) to 1 (left out).
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Evenly spread between two values.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Normally distributed, mean 0 and standard deviation 1 (Box & Muller 1958), cut off at 2.6
    /// so that no single letter looks like a slip of the program.
    pub fn normal(&mut self) -> f64 {
        let radius = libm::sqrt(-2.0 * libm::log(1.0 - self.unit()));
        let angle = core::f64::consts::TAU * self.unit();
        (radius * libm::cos(angle)).clamp(-2.6, 2.6)
    }

    /// True with the given probability.
    pub fn chance(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }

    /// A whole number from 0 to `count` - 1.
    pub fn below(&mut self, count: usize) -> usize {
        (self.unit() * count as f64) as usize
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn follows_the_published_generator() {
        // First outputs of SplitMix64 from state 1234567, as listed on Rosetta Code
        // ("Pseudo-random numbers/Splitmix64").
        let mut rng = Rng(1_234_567);
        assert_eq!(rng.bits(), 6_457_827_717_110_365_317);
        assert_eq!(rng.bits(), 3_203_168_211_198_807_973);
        assert_eq!(rng.bits(), 9_817_491_932_198_370_423);
    }

    #[test]
    fn normal_has_its_mean_and_deviation() {
        let mut rng = Rng::new(3, "test");
        let values: Vec<f64> = (0..20_000).map(|_| rng.normal()).collect();
        let mean = values.iter().sum::<f64>() / 20_000.0;
        let variance = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / 20_000.0;
        assert!(mean.abs() < 0.03, "{mean}");
        assert!((variance - 1.0).abs() < 0.06, "{variance}");
    }
}
