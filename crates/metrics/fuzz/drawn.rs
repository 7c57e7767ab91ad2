//! A page that the bytes draw, without a file.
#![no_main]

#[path = "../tests/fuzzed/drawn.rs"]
mod drawn;
#[path = "../tests/fuzzed/ways.rs"]
mod ways;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| ways::drawn(bytes));
