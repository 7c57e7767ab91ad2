//! Bytes from nowhere: see `sync::fuzz::frame`.

#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| sync::fuzz::frame(data));
