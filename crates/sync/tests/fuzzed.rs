//! A peer that does what bytes say does not make this device hold much. Alone in its
//! program, because the allocator that it watches is the whole program's.

#![allow(unsafe_code)]

use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::atomic::{AtomicUsize, Ordering};

/// The system's allocator, counting what is held and the most that was.
struct Counted;

static HELD: AtomicUsize = AtomicUsize::new(0);
static MOST: AtomicUsize = AtomicUsize::new(0);

// SAFETY: every call is handed to the system's allocator unchanged.
unsafe impl GlobalAlloc for Counted {
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
static ALLOCATOR: Counted = Counted;

/// A megabyte of each kind is all that such a meeting may hold, besides what is on its way.
const BOUND: usize = 8 << 20;

#[test]
fn no_peer_makes_this_device_hold_much() {
    let cases = std::env::var("POTHOOK_FUZZ_CASES")
        .ok()
        .and_then(|n| n.parse().ok());
    for seed in 0..cases.unwrap_or(2_000u64) {
        let mut data = vec![0; 16 + seed as usize % 400];
        let mut bytes = blake3::Hasher::new();
        bytes
            .update(&seed.to_be_bytes())
            .finalize_xof()
            .fill(&mut data);
        let before = HELD.load(Ordering::Relaxed);
        MOST.store(before, Ordering::Relaxed);
        sync::fuzz::talk(&data);
        let most = MOST.load(Ordering::Relaxed) - before;
        assert!(most < BOUND, "{most} bytes held for {data:?}");
    }
}
