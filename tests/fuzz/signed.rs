//! Bytes from nowhere: see `casefile::fuzz::signed`.

#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| casefile::fuzz::signed(data));
