//! A whole reading as a blob: JSON, deflated.

use std::io::{Read, Write};

use flate2::Compression;
use flate2::read::ZlibDecoder;
use flate2::write::ZlibEncoder;
use units::Reading;

/// Largest reading once unpacked; a page of 3,000 letters takes about 1 MB.
const LARGEST: u64 = 16 << 20;

pub(crate) fn pack(reading: &Reading) -> Vec<u8> {
    let json = serde_json::to_vec(reading).expect("a reading is plain data");
    let mut packed = ZlibEncoder::new(Vec::new(), Compression::default());
    packed
        .write_all(&json)
        .and_then(|()| packed.finish())
        .expect("memory takes every byte")
}

/// `None` where the bytes are no reading that this version knows.
pub(crate) fn unpack(bytes: &[u8]) -> Option<Reading> {
    let mut json = Vec::new();
    ZlibDecoder::new(bytes)
        .take(LARGEST + 1)
        .read_to_end(&mut json)
        .ok()?;
    if json.len() as u64 > LARGEST {
        return None;
    }
    serde_json::from_slice(&json).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bomb_of_zeros_is_not_unpacked_whole() {
        let mut packed = ZlibEncoder::new(Vec::new(), Compression::best());
        let zeros = vec![b' '; 1 << 20];
        for _ in 0..40 {
            packed.write_all(&zeros).unwrap();
        }
        assert!(unpack(&packed.finish().unwrap()).is_none());
    }

    #[test]
    fn noise_is_no_reading() {
        assert!(unpack(b"not deflated at all").is_none());
    }
}
