//! Bytes from nowhere: see `sync::fuzz::talk`.

#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| sync::fuzz::talk(data));
