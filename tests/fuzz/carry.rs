//! Bytes from nowhere: see `sync::carry::fuzz`.

#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| sync::carry::fuzz(data));
