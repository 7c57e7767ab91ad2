//! Bytes from nowhere, in each place where somebody can put them.

use ed25519_dalek::SigningKey;
use units::DeviceId;

use super::{Opened, Parcel, envelope, head, keys, open, seal};

const HERE: [u8; 32] = [1; 32];
const MEMBER: [u8; 32] = [2; 32];
const SCOPE: &[u8] = b"scope";

fn device(secret: &[u8; 32]) -> DeviceId {
    DeviceId(SigningKey::from_bytes(secret).verifying_key().to_bytes())
}

/// Opens a file made of `data`, in a way that its first byte picks: the data are the file
/// itself; or are laid over a true file; or are encrypted, as anybody can; or are signed
/// and encrypted, as a member can, after the names of sender and receiver.
///
/// # Panics
///
/// If a file is taken that must not be, or opening one does.
pub fn fuzz(data: &[u8]) {
    let Some((way, data)) = data.split_first() else {
        return;
    };
    let here = keys::recipient(device(&HERE)).expect("a key");
    let file = match way % 4 {
        0 => data.to_vec(),
        1 => laid_over(true_file(), data),
        2 => envelope::encrypt(&[here], [data]),
        _ => envelope::encrypt(&[here], signed(data).iter().map(Vec::as_slice)),
    };
    let expect = |from: DeviceId, scope: &[u8]| from == device(&MEMBER) && scope == SCOPE;
    if let Ok(opened) = open(&file[..], &HERE, &expect) {
        assert!(holds(&opened), "{opened:?}");
    }
}

/// What must be so of everything that is taken.
fn holds(opened: &Opened) -> bool {
    let named = |(id, bytes): &(crate::BlobId, Vec<u8>)| blake3::hash(bytes).as_bytes() == &id.0;
    let within = |piece: &super::Piece| piece.from + piece.bytes.len() as u64 <= piece.length;
    opened.from == device(&MEMBER)
        && opened.to.contains(&device(&HERE))
        && opened.parcel.scope == SCOPE
        && (1..=opened.part.1).contains(&opened.part.0)
        && opened.parcel.blobs.iter().all(named)
        && opened.pieces.iter().all(within)
}

fn true_file() -> Vec<u8> {
    let blob = vec![7; 100];
    let parcel = Parcel {
        scope: SCOPE.to_vec(),
        changes: vec![vec![1; 20], vec![2; 30]],
        blobs: vec![(crate::BlobId(*blake3::hash(&blob).as_bytes()), blob)],
        ..Parcel::default()
    };
    let mut files = seal(&parcel, &MEMBER, &[device(&HERE)], 1 << 20).expect("a small parcel");
    files.swap_remove(0)
}

/// The place comes first, in two bytes; the rest goes over what stands there.
fn laid_over(mut file: Vec<u8>, data: &[u8]) -> Vec<u8> {
    if let Some(([a, b], data)) = data.split_first_chunk() {
        let at = usize::from(u16::from_be_bytes([*a, *b])) % file.len();
        file.iter_mut()
            .skip(at)
            .zip(data)
            .for_each(|(to, from)| *to ^= from);
    }
    file
}

/// How much of it is head comes first, in two bytes; the rest is content, of which the
/// head tells the right hash.
fn signed(data: &[u8]) -> [Vec<u8>; 2] {
    let (length, rest) = data.split_first_chunk().unwrap_or((&[0; 2], &[]));
    let length = usize::from(u16::from_be_bytes(*length)).min(rest.len());
    let (middle, content) = rest.split_at(length);
    let mut bytes = device(&MEMBER).0.to_vec();
    bytes.push(1);
    bytes.extend(device(&HERE).0);
    bytes.extend(middle);
    bytes.extend(blake3::hash(content).as_bytes());
    let start = head::sign(&bytes, &SigningKey::from_bytes(&MEMBER));
    [start, content.to_vec()]
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// What [`signed`] puts between receiver and hash, for two changes and a blob that is
    /// empty: without this the test below might never get beyond the first field.
    fn sound_middle() -> Vec<u8> {
        let mut middle = vec![0; 16];
        middle.extend([1, 1, 9, 5]);
        middle.extend(SCOPE);
        middle.extend([0, 0, 0, 2, 3, 4, 1]);
        middle.extend(blake3::hash(&[]).as_bytes());
        middle.extend([0, 0]);
        middle
    }

    #[test]
    fn each_way_reaches_what_it_is_meant_to() {
        let expect = |_: DeviceId, _: &[u8]| true;
        let mut data = sound_middle();
        data.splice(0..0, (data.len() as u16).to_be_bytes());
        data.extend(b"abcdefg");
        let here = keys::recipient(device(&HERE)).unwrap();
        let file = envelope::encrypt(&[here], signed(&data).iter().map(Vec::as_slice));
        let opened = open(&file[..], &HERE, &expect).unwrap();
        assert_eq!(opened.parcel.changes, [b"abc".to_vec(), b"defg".to_vec()]);
        assert!(holds(&opened));
        assert!(open(&laid_over(true_file(), &[0, 5, 0, 0])[..], &HERE, &expect).is_ok());
        assert!(open(&laid_over(true_file(), &[0, 5, 0, 1])[..], &HERE, &expect).is_err());
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(400))]
        #[test]
        fn no_bytes_make_opening_panic(
            way: u8,
            data in prop::collection::vec(any::<u8>(), 0..600),
        ) {
            fuzz(&[&[way], &data[..]].concat());
        }

        #[test]
        fn no_slip_in_what_a_member_signs_makes_opening_panic(
            slips in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..4),
            content in prop::collection::vec(any::<u8>(), 0..20),
        ) {
            let mut data = sound_middle();
            for (at, byte) in slips {
                let at = at.index(data.len());
                data[at] = byte;
            }
            data.splice(0..0, (data.len() as u16).to_be_bytes());
            fuzz(&[&[3], &data[..], &content].concat());
        }
    }
}
