//! Which blobs are named by changes that may be of any version of the program.

use std::collections::BTreeSet;

use units::BlobId;

const BYTES: usize = 32;

/// Those of some blobs whose names occur anywhere in these bytes.
///
/// Each place of the bytes would be a name; looked up are only those that begin like one of the names
/// asked for, a few in ten thousand.
pub(crate) fn named<'a>(
    changes: impl Iterator<Item = &'a [u8]>,
    among: &BTreeSet<BlobId>,
) -> BTreeSet<BlobId> {
    let mut begins = vec![false; 1 << 16];
    for id in among {
        begins[usize::from(u16::from_le_bytes([id.0[0], id.0[1]]))] = true;
    }
    let mut named = BTreeSet::new();
    for bytes in changes {
        for window in bytes.windows(BYTES) {
            let begin = usize::from(u16::from_le_bytes([window[0], window[1]]));
            if let (true, Some(id)) = (begins[begin], window.first_chunk::<BYTES>()) {
                named.extend(among.get(&BlobId(*id)));
            }
        }
    }
    named
}
