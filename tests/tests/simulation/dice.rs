//! Chance from one number: the same number, the same chances.

/// SplitMix64: Steele, Lea and Flood, *Fast splittable pseudorandom number generators*, OOPSLA 2014.
#[derive(Debug, Clone)]
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// A number below `most`, which is more than 0.
    pub fn below(&mut self, most: u64) -> u64 {
        self.next() % most
    }

    pub fn one_in(&mut self, most: u64) -> bool {
        self.below(most) == 0
    }

    /// One of them; `None` where there are none.
    pub fn pick<'a, T>(&mut self, among: &'a [T]) -> Option<&'a T> {
        match among.len() as u64 {
            0 => None,
            most => among.get(self.below(most) as usize),
        }
    }

    pub fn fill(&mut self, bytes: &mut [u8]) {
        for chunk in bytes.chunks_mut(8) {
            let next = self.next().to_le_bytes();
            chunk.copy_from_slice(&next[..chunk.len()]);
        }
    }
}

/// The first numbers from the seed 1234567, from memory of the author's reference program.
#[test]
fn the_generator_is_the_published_one() {
    let mut dice = Dice::new(1_234_567);
    let first = [dice.next(), dice.next(), dice.next()];
    let published = [
        6_457_827_717_110_365_317,
        3_203_168_211_198_807_973,
        9_817_491_932_198_370_423,
    ];
    assert_eq!(first, published);
}
