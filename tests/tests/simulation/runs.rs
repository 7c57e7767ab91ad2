//! Many schedules, one again, and those with a fault planted.

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;

use crate::counts::Counts;
use crate::planted::Plant;
use crate::plug::Lie;
use crate::steps::Plan;
use crate::world::run;

/// Schedules in one run of all tests.
const SCHEDULES: u64 = 300;

/// A number out of the environment.
fn told(name: &str) -> Option<u64> {
    std::env::var(name).ok()?.parse().ok()
}

/// What went wrong with which seed.
type Wrong = (u64, String);

/// Runs schedules from a seed on, on all processors; what happened, and what went wrong, the lowest seed
/// first. Unless it is to go on, it ends with the first.
fn run_many(first: u64, count: u64, plant: Plant, goes_on: bool) -> (Counts, Vec<Wrong>) {
    let next = AtomicU64::new(first);
    let found: Mutex<(Counts, Vec<Wrong>)> = Mutex::default();
    let workers = std::thread::available_parallelism().map_or(1, usize::from);
    let work = || {
        loop {
            let seed = next.fetch_add(1, Ordering::Relaxed);
            let over = !goes_on && !found.lock().unwrap().1.is_empty();
            if seed >= first + count || over {
                return;
            }
            let ran = run(&Plan::of(seed), plant);
            let mut found = found.lock().unwrap();
            match ran {
                Ok(ended) => found.0 += ended.counts,
                Err(wrong) => found.1.push((seed, wrong)),
            }
        }
    };
    std::thread::scope(|scope| {
        for _ in 0..workers {
            scope.spawn(work);
        }
    });
    let (counts, mut wrong) = found.into_inner().unwrap();
    wrong.sort();
    (counts, wrong)
}

/// Leaves out whatever is not needed for a schedule to go wrong.
fn shrunk(plan: &Plan, plant: Plant) -> (Plan, String) {
    let mut least = plan.clone();
    let mut wrong = run(&least, plant).err().unwrap_or_default();
    loop {
        let before = least.steps.len();
        let mut size = (before / 2).max(1);
        while size > 0 {
            let mut at = 0;
            while at < least.steps.len() {
                let mut fewer = least.clone();
                let end = (at + size).min(fewer.steps.len());
                fewer.steps.drain(at..end);
                match run(&fewer, plant) {
                    Err(still) => (least, wrong) = (fewer, still),
                    Ok(_) => at += size,
                }
            }
            size /= 2;
        }
        if least.steps.len() == before {
            return (least, wrong);
        }
    }
}

fn steps(plan: &Plan) -> String {
    let lines = plan.steps.iter().enumerate();
    let lines = lines.map(|(at, step)| format!("{at:3} {step}\n"));
    lines.collect()
}

#[test]
fn many_schedules_end_well() {
    let first = told("POTHOOK_SEED").unwrap_or(1);
    let count = told("POTHOOK_SCHEDULES").unwrap_or(SCHEDULES);
    let begun = Instant::now();
    let goes_on = told("POTHOOK_GO_ON").is_some();
    let (counts, bad) = run_many(first, count, Plant::Nothing, goes_on);
    println!("{counts}; {} s", begun.elapsed().as_secs());
    for (seed, wrong) in bad.iter().filter(|_| goes_on) {
        println!("seed {seed}: {wrong}");
    }
    if let Some((seed, wrong)) = bad.first() {
        panic!("seed {seed}: {wrong}\n{}", steps(&Plan::of(*seed)));
    }
    assert_eq!(counts.schedules, count);
    for some in [
        counts.edits,
        counts.meetings,
        counts.broken_meetings,
        counts.power_cuts,
        counts.foundings,
        counts.files_taken,
    ] {
        assert!(some >= count / 2, "too little happened: {counts}");
    }
}

/// Says what happens with the seed that is told, and which steps are needed for it.
#[test]
fn one() {
    let Some(seed) = told("POTHOOK_SEED") else {
        return;
    };
    let plan = Plan::of(seed);
    println!("{plan:?}");
    match run(&plan, Plant::Nothing) {
        Ok(ended) => println!("{}", ended.counts),
        Err(wrong) => {
            println!("{}{wrong}\n", steps(&plan));
            let (least, wrong) = shrunk(&plan, Plant::Nothing);
            panic!("{}{wrong}", steps(&least));
        }
    }
}

#[test]
fn a_seed_does_the_same_each_time() {
    for seed in 1..=told("POTHOOK_SCHEDULES").unwrap_or(5) {
        let plan = Plan::of(seed);
        let first = run(&plan, Plant::Nothing);
        assert_eq!(first, run(&plan, Plant::Nothing), "seed {seed}");
    }
}

/// A fault is planted and must be found within so many schedules.
fn is_found(plant: Plant, within: u64) {
    let (counts, bad) = run_many(1, within, plant, false);
    let found = bad.first();
    let (seed, wrong) = found.unwrap_or_else(|| panic!("{plant:?} was not found: {counts}"));
    println!(
        "{plant:?} is found by seed {seed}: {}",
        wrong.lines().next().unwrap_or_default()
    );
}

#[test]
fn a_disk_that_loses_the_last_commit_is_found() {
    is_found(Plant::Disk(Lie::LosesTheLastCommit), 40);
}

#[test]
fn a_disk_that_loses_the_last_file_is_found() {
    is_found(Plant::Disk(Lie::LosesTheLastFile), 40);
}

#[test]
fn a_laptop_that_drops_changes_it_has_taken_is_found() {
    is_found(Plant::DropsChanges, 20);
}

#[test]
fn a_laptop_that_drops_pictures_it_has_taken_is_found() {
    is_found(Plant::DropsBlobs, 20);
}

#[test]
fn a_phone_that_hands_nobody_what_it_carried_over_is_found() {
    is_found(Plant::KeepsToItself, 20);
}

#[test]
fn a_laptop_that_shows_a_family_too_much_is_found() {
    is_found(Plant::ShowsTooMuch, 20);
}
