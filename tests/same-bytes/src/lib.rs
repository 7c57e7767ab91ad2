//! A door to measuring for a program without an operating system: the same reading must come out
//! of WebAssembly as out of the machine's own code, byte for byte.
//!
//! The host asks [`room`] for space, writes a photograph and what is expected of its page there,
//! calls [`read`], and finds the answer at [`answer`]. `compare.mjs` is such a host.
//!
//! **May not know:** anything but units and metrics; the native example also reads drawn folders.

// Exported names must be unique in a program; that is all that is unsafe about them. Natively
// nothing is exported: `read` is also a name of the C library.
#![allow(unsafe_code)]

use std::sync::{Mutex, PoisonError};

use serde::Serialize;
use units::{Expectation, Reading};

/// What a photograph gave, stage by stage, so that a difference can be traced to where it began.
#[derive(Serialize)]
struct Answer {
    /// FNV-1a of the decoded pixels.
    photo: String,
    /// FNV-1a of the flat sheet.
    page: String,
    /// The reading.
    reading: Reading,
}

/// Reads a page; in words what went wrong, if something did.
pub fn answer_to(photo: &[u8], expect: &[u8]) -> Vec<u8> {
    let reading = read_page(photo, expect).and_then(|answer| {
        let text = serde_json::to_vec(&answer);
        text.map_err(|error| error.to_string())
    });
    reading.unwrap_or_else(String::into_bytes)
}

fn read_page(photo: &[u8], expect: &[u8]) -> Result<Answer, String> {
    let expect: Expectation = serde_json::from_slice(expect).map_err(|e| e.to_string())?;
    let photo = metrics::decode(photo).map_err(|e| e.to_string())?;
    let page = metrics::find_page(&photo, &expect).map_err(|e| e.to_string())?;
    let fitness = metrics::fitness(&page);
    Ok(Answer {
        photo: fnv(photo.rgb.as_raw()),
        page: fnv(page.rgb.as_raw()),
        reading: metrics::read_page(&page, &expect, fitness),
    })
}

/// The 64-bit FNV-1a hash (RFC 9923).
fn fnv(bytes: &[u8]) -> String {
    let hash = bytes.iter().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
        (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3)
    });
    format!("{hash:016x}")
}

static PHOTO: Mutex<Vec<u8>> = Mutex::new(Vec::new());
static EXPECT: Mutex<Vec<u8>> = Mutex::new(Vec::new());
static ANSWER: Mutex<Vec<u8>> = Mutex::new(Vec::new());

fn held(bytes: &'static Mutex<Vec<u8>>) -> std::sync::MutexGuard<'static, Vec<u8>> {
    bytes.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Space for `length` bytes of a photograph (`what` = 0) or of an expectation as JSON (any other).
#[cfg_attr(target_arch = "wasm32", unsafe(no_mangle))]
pub extern "C" fn room(what: u32, length: usize) -> *mut u8 {
    let mut bytes = held(if what == 0 { &PHOTO } else { &EXPECT });
    *bytes = vec![0; length];
    bytes.as_mut_ptr()
}

/// Reads the page that was written into the two rooms; gives the length of the answer.
#[cfg_attr(target_arch = "wasm32", unsafe(no_mangle))]
pub extern "C" fn read() -> usize {
    let answer = answer_to(&held(&PHOTO), &held(&EXPECT));
    let length = answer.len();
    *held(&ANSWER) = answer;
    length
}

/// Where the answer is.
#[cfg_attr(target_arch = "wasm32", unsafe(no_mangle))]
pub extern "C" fn answer() -> *const u8 {
    held(&ANSWER).as_ptr()
}
