//! A file takes no more memory than its picture, whatever it promises. Alone in its program, because
//! the allocator that it watches is the whole program's.

#![allow(unsafe_code)]

use std::alloc::{GlobalAlloc, Layout, System};
use std::fs;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

use metrics::{Photo, decode};

/// The system's allocator, counting what is held and the most that ever was.
struct Watched;

static HELD: AtomicUsize = AtomicUsize::new(0);
static MOST: AtomicUsize = AtomicUsize::new(0);

// SAFETY: every call is handed to the system's allocator unchanged.
unsafe impl GlobalAlloc for Watched {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        let held = HELD.fetch_add(layout.size(), Ordering::Relaxed) + layout.size();
        MOST.fetch_max(held, Ordering::Relaxed);
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, block: *mut u8, layout: Layout) {
        HELD.fetch_sub(layout.size(), Ordering::Relaxed);
        unsafe { System.dealloc(block, layout) }
    }
}

#[global_allocator]
static ALLOCATOR: Watched = Watched;

/// Most bytes held beyond the file itself while it is decoded, and its pixels.
fn cost(bytes: &[u8]) -> (usize, u64) {
    let before = HELD.load(Ordering::Relaxed);
    MOST.store(before, Ordering::Relaxed);
    let photo = decode(bytes);
    let most = MOST.load(Ordering::Relaxed) - before;
    let pixels = |Photo { rgb }: &Photo| u64::from(rgb.width()) * u64::from(rgb.height());
    (most, photo.as_ref().map_or(0, pixels))
}

#[test]
fn decoding_takes_a_few_bytes_a_pixel_and_no_more_for_what_lies_beside_them() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/bad");
    for entry in fs::read_dir(folder).expect("the folder is there") {
        let path = entry.expect("can be listed").path();
        let bytes = fs::read(&path).expect("can be read");
        let (most, pixels) = cost(&bytes);
        println!(
            "{:>9} kB for {pixels:>9} pixels: {}",
            most / 1000,
            path.display()
        );
        // Eight bytes a pixel: the picture as stored and as three bytes. The rest of a file is
        // bounded, however far it swells: two of these hold 64 MiB in as many kilobytes.
        let allowed = 8 * pixels as usize + 2 * bytes.len() + (40 << 20);
        assert!(most <= allowed, "{}: {most} bytes", path.display());
    }
}
