//! The file of a photograph.
#![no_main]

#[path = "../tests/fuzzed/drawn.rs"]
mod drawn;
#[path = "../tests/fuzzed/ways.rs"]
mod ways;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| ways::photo(bytes));
