//! A blob's outline: the hashes of its groups, from which its name follows.
//!
//! BLAKE3 is a tree over chunks of 1 KiB (the BLAKE3 paper, section 2.1). A *group* is 64
//! chunks, a whole subtree but for the last one; its chaining value stands for its bytes.
//! The chaining values of all groups join to the blob's name and to no other, so whoever
//! has them can check each group by itself. A blob of one group has an empty outline: its
//! name checks it.

use blake3::Hasher;
use blake3::hazmat::{HasherExt, Mode, merge_subtrees_non_root, merge_subtrees_root};
use units::BlobId;

/// Bytes of a group; the last one may be shorter.
pub(crate) const GROUP: usize = 64 << 10;
const VALUE: usize = 32;

type Value = [u8; VALUE];

/// The chaining values of a blob's groups, known to join to its name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Outline {
    name: BlobId,
    values: Vec<Value>,
}

impl Outline {
    /// Size in bytes of the outline of a blob of `length` bytes.
    pub(crate) fn size(length: usize) -> usize {
        match length.div_ceil(GROUP) {
            0 | 1 => 0,
            groups => groups * VALUE,
        }
    }

    /// The outline of a whole blob, as bytes.
    pub(crate) fn of(blob: &[u8]) -> Vec<u8> {
        if Self::size(blob.len()) == 0 {
            return Vec::new();
        }
        let groups = blob.chunks(GROUP).enumerate();
        groups.flat_map(|(at, group)| value(at, group)).collect()
    }

    /// Reads an outline; `None` if it is not one of `name` for a blob of `length` bytes.
    pub(crate) fn read(name: BlobId, length: usize, bytes: &[u8]) -> Option<Self> {
        if bytes.len() != Self::size(length) {
            return None;
        }
        let (values, _) = bytes.as_chunks();
        let joined = match length {
            0 => *blake3::hash(&[]).as_bytes() == name.0,
            _ => values.is_empty() || root(values) == name.0,
        };
        let values = values.to_vec();
        joined.then_some(Self { name, values })
    }

    /// Whether these are the bytes of the group with number `at`.
    pub(crate) fn fits(&self, at: usize, group: &[u8]) -> bool {
        if self.values.is_empty() {
            return at == 0 && *blake3::hash(group).as_bytes() == self.name.0;
        }
        self.values
            .get(at)
            .is_some_and(|told| value(at, group) == *told)
    }
}

/// The chaining value of the group with number `at`, in a blob of several.
fn value(at: usize, group: &[u8]) -> Value {
    let mut hasher = Hasher::new();
    hasher.set_input_offset((at * GROUP) as u64).update(group);
    hasher.finalize_non_root()
}

/// The name that two or more chaining values join to.
fn root(values: &[Value]) -> Value {
    let (left, right) = split(values);
    *merge_subtrees_root(&joined(left), &joined(right), Mode::Hash).as_bytes()
}

fn joined(values: &[Value]) -> Value {
    if let [only] = values {
        return *only;
    }
    let (left, right) = split(values);
    merge_subtrees_non_root(&joined(left), &joined(right), Mode::Hash)
}

/// The left subtree is the largest full one that leaves something to its right.
fn split(values: &[Value]) -> (&[Value], &[Value]) {
    values.split_at(values.len().next_power_of_two() / 2)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// The pattern of the BLAKE3 test vectors: bytes counting up to 250, repeated.
    fn blob(length: usize) -> Vec<u8> {
        (0..length).map(|at| (at % 251) as u8).collect()
    }

    fn name(blob: &[u8]) -> BlobId {
        BlobId(*blake3::hash(blob).as_bytes())
    }

    /// Lengths around the places where the tree changes its shape.
    const LENGTHS: [usize; 13] = [
        0,
        1,
        GROUP - 1,
        GROUP,
        GROUP + 1,
        2 * GROUP - 1,
        2 * GROUP,
        2 * GROUP + 1,
        3 * GROUP,
        4 * GROUP + 1025,
        5 * GROUP - 3,
        8 * GROUP,
        19 * GROUP - 700,
    ];

    #[test]
    fn outlines_join_to_what_blake3_gives_for_the_whole() {
        for length in LENGTHS {
            let blob = blob(length);
            let bytes = Outline::of(&blob);
            let outline = Outline::read(name(&blob), length, &bytes);
            let outline = outline.unwrap_or_else(|| panic!("no outline for {length} bytes"));
            for (at, group) in blob.chunks(GROUP).enumerate() {
                assert!(outline.fits(at, group), "group {at} of {length} bytes");
            }
            assert!(length == 0 || !outline.fits(blob.len().div_ceil(GROUP), b"more"));
        }
    }

    #[test]
    fn an_outline_of_another_blob_or_length_is_refused() {
        let (blob, other) = (blob(3 * GROUP), blob(3 * GROUP + 1));
        let bytes = Outline::of(&blob);
        assert_eq!(Outline::read(name(&other), blob.len(), &bytes), None);
        assert_eq!(Outline::read(name(&blob), other.len(), &bytes), None);
        assert_eq!(Outline::read(name(&blob), 1, &bytes), None);
        assert_eq!(Outline::read(name(&blob), 0, &[]), None);
        let mut shuffled = bytes.clone();
        shuffled.rotate_left(VALUE);
        assert_eq!(Outline::read(name(&blob), blob.len(), &shuffled), None);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn one_wrong_bit_is_found_in_its_group(
            length in 1..6 * GROUP, at: prop::sample::Index, bit in 0..8u32,
        ) {
            let mut blob = blob(length);
            let outline = Outline::read(name(&blob), length, &Outline::of(&blob)).unwrap();
            let at = at.index(length);
            blob[at] ^= 1u8 << bit;
            for (number, group) in blob.chunks(GROUP).enumerate() {
                prop_assert_eq!(outline.fits(number, group), number != at / GROUP);
            }
        }

        #[test]
        fn one_wrong_bit_of_the_outline_is_found(
            length in GROUP + 1..6 * GROUP, at: prop::sample::Index, bit in 0..8u32,
        ) {
            let blob = blob(length);
            let mut bytes = Outline::of(&blob);
            let at = at.index(bytes.len());
            bytes[at] ^= 1u8 << bit;
            prop_assert_eq!(Outline::read(name(&blob), length, &bytes), None);
        }
    }
}
