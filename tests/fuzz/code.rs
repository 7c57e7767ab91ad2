//! Bytes from nowhere: see `sync::fuzz::code`.

#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| sync::fuzz::code(data));
