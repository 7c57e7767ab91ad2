//! A file takes no more memory than its picture, whatever it promises, and a page no more than a few
//! times the usual, whatever it shows. Alone in its program, because the allocator that is watched is
//! the whole program's.

#![allow(unsafe_code)]

use std::alloc::{GlobalAlloc, Layout, System};
use std::fs;
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use metrics::{Page, Photo, decode, find_page, fitness, read_page};
use units::Expectation;

#[allow(dead_code)] // The tests of bad pictures want more of it.
#[path = "bad_pictures/pages.rs"]
mod pages;

/// The system's allocator, counting what is held, the most that ever was, and all that was ever given.
struct Watched;

static HELD: AtomicUsize = AtomicUsize::new(0);
static MOST: AtomicUsize = AtomicUsize::new(0);
static GIVEN: AtomicUsize = AtomicUsize::new(0);
/// One test at a time.
static TURN: Mutex<()> = Mutex::new(());

// SAFETY: every call is handed to the system's allocator unchanged.
unsafe impl GlobalAlloc for Watched {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        let held = HELD.fetch_add(layout.size(), Ordering::Relaxed) + layout.size();
        MOST.fetch_max(held, Ordering::Relaxed);
        GIVEN.fetch_add(layout.size(), Ordering::Relaxed);
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
    let _turn = TURN.lock();
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

/// Most bytes held while a page is read, its own four a pixel included, and all bytes asked for.
fn reading_costs(page: &Page, expect: &Expectation) -> [usize; 2] {
    let (held, given) = (HELD.load(Ordering::Relaxed), GIVEN.load(Ordering::Relaxed));
    MOST.store(held, Ordering::Relaxed);
    let reading = read_page(page, expect, fitness(page));
    drop(reading);
    let own = page.rgb.len() + page.grey.len();
    [
        own + MOST.load(Ordering::Relaxed) - held,
        GIVEN.load(Ordering::Relaxed) - given,
    ]
}

/// What is asked for in all stands for the work: whatever is done for each of many pieces of ink
/// beside each other copies some of them.
#[test]
fn reading_the_worst_pages_takes_a_few_times_the_memory_of_a_usual_one() {
    const MOST_TIMES: usize = 5;
    let _turn = TURN.lock();
    let photo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/pages/a4-lines8-even.jpg");
    let photo = decode(&fs::read(photo).expect("can be read")).expect("a photograph");
    let written = vec!["the quick brown fox jumps over the lazy dog".to_owned(); 25];
    for text in [None, Some(written)] {
        let expect = pages::expectation(text);
        let page = find_page(&photo, &expect).expect("a sheet");
        let usual = reading_costs(&page, &expect);
        println!("{usual:>12?} bytes: usual");
        for bad in pages::ALL {
            let mut worst = bad.page(page.grey.dimensions());
            worst.frame = page.frame.clone();
            let costs = reading_costs(&worst, &expect);
            println!("{costs:>12?} bytes: {}", bad.name);
            for (cost, usual) in costs.into_iter().zip(usual) {
                assert!(cost <= MOST_TIMES * usual, "{}: {cost} bytes", bad.name);
            }
        }
    }
}
