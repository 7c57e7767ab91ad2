//! Bytes from nowhere: see `casefile::fuzz::outside`.

#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| casefile::fuzz::outside(data));
