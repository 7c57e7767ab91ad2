//! What a file announces is not what this device allocates.

#![allow(unsafe_code)]

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

use sync::carry::Parcel;

use crate::*;

/// The system's allocator, counting what each thread holds, and held at most.
struct Watched;

thread_local! {
    static HELD: Cell<isize> = const { Cell::new(0) };
    static MOST: Cell<isize> = const { Cell::new(0) };
}

fn count(bytes: isize) {
    HELD.set(HELD.get() + bytes);
    MOST.set(MOST.get().max(HELD.get()));
}

// SAFETY: every call is handed to the system's allocator unchanged. The default `realloc`
// calls these two.
unsafe impl GlobalAlloc for Watched {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        count(layout.size() as isize);
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, block: *mut u8, layout: Layout) {
        count(-(layout.size() as isize));
        unsafe { System.dealloc(block, layout) }
    }
}

#[global_allocator]
static ALLOCATOR: Watched = Watched;

/// The most memory that was held at once, beyond what was held before.
fn most_during<T>(action: impl FnOnce() -> T) -> (isize, T) {
    MOST.set(HELD.get());
    let before = HELD.get();
    let done = action();
    (MOST.get() - before, done)
}

/// What is read at once, its plain text and its header; and, in the second case, a head.
const LITTLE: isize = 512 << 10;

#[test]
fn what_is_announced_is_not_allocated() {
    for (what, file) in members::spoilt() {
        let (most, opened) = most_during(|| open_as(&TUTOR, &file));
        assert!(opened.is_err());
        let fair = LITTLE + 2 * file.len() as isize;
        assert!(
            most < fair,
            "{what}: {most} bytes for a file of {}",
            file.len()
        );
    }
    bounds::endless(|what, file| {
        let (most, opened) = most_during(|| open(file, &TUTOR, &member));
        assert!(most < LITTLE, "{what}: {most} bytes");
        opened.unwrap_err()
    });
    // As much as may be announced, of which little comes.
    let mut head = raw::head();
    head.blobs = vec![([0; 32], 32 << 20)];
    let file = raw::encrypt(&head.with(&[0; 70_000]), &[device(&TUTOR)]);
    let (most, opened) = most_during(|| open_as(&TUTOR, &file));
    assert!(matches!(opened, Err(OpenError::Cut)), "{opened:?}");
    assert!(most < LITTLE, "{most} bytes");
}

#[test]
fn opening_holds_the_content_once_and_a_growing_blob_half_as_much_again() {
    let parcel = Parcel {
        scope: SCOPE.to_vec(),
        blobs: (0..4).map(|seed| blob(seed, 3 << 20)).collect(),
        ..Parcel::default()
    };
    let file = post(&parcel);
    let (most, opened) = most_during(|| open_as(&TUTOR, &file));
    assert!(opened.is_ok());
    let fair = file.len() as isize + (3 << 20) + LITTLE;
    assert!(most < fair, "{most} bytes for a file of {}", file.len());
}
