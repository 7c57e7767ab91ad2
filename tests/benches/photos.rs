//! How fast photographs come from a tutor's laptop to a family's phone on this machine, with all that the program
//! does: asking whose they are, checking them, encrypting each into the store, flushed, with its row. Beside it
//! the same bytes through one bare QUIC stream into plain files, each flushed, in the same run.
//!
//! `cargo bench -p pothook-tests --bench photos`. The two take turns; the middle one of the rounds' ratios counts, for
//! a machine shared with others is fast for some rounds and slow for others, and slow for both. The best round of
//! each is told beside it. Processor time, of both devices together, says more on a busy machine.

use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use app::App;
use app::api::{Exchange, OfferPairing, Settle};
use app::units::{Day, Role};
use cpu_time::ProcessTime;
use dice::Dice;
use pothook_tests::{KnownPage, open, pair_for};

#[path = "../../crates/sync/benches/peer/bare.rs"]
mod bare;
#[allow(dead_code)]
#[path = "../tests/simulation/dice.rs"]
mod dice;
#[path = "../tests/simulation/invented.rs"]
mod invented;

const PHOTOS: u32 = 64;
const PHOTO_BYTES: usize = 1_200_000;
const ROUNDS: u32 = 9;
/// Least rate to that of the bare stream.
const LEAST: f64 = 0.6;

fn settled(folder: &Path, role: Role) -> App {
    let app = open(folder).expect("the folder opens");
    let name = "Bench".to_owned();
    app.settle(Settle { role, name }).expect("a new folder");
    app
}

/// How long something took, and for how long processors worked at it.
type Took = (Duration, Duration);

async fn timed<T>(work: impl Future<Output = T>) -> (T, Took) {
    let (begun, began) = (Instant::now(), ProcessTime::now());
    let done = work.await;
    (done, (begun.elapsed(), began.elapsed()))
}

fn best(of: Took, and: Took) -> Took {
    (of.0.min(and.0), of.1.min(and.1))
}

/// A phone that is known in its family fetches what the laptop has since; how long that took, and what came.
async fn fetched(desk: &App, folder: &Path, round: u32) -> (Took, Vec<Arc<Vec<u8>>>) {
    let (known, _) = KnownPage::ordinary();
    let (pupil, _) = pothook_tests::pupil_with_task(desk, &known).expect("a pupil");
    let phone = settled(folder, Role::Parent);
    pair_for(desk, OfferPairing::Family { pupil }, &phone, None).await;
    let meets = || phone.exchange(Exchange { device: None });
    // The pairing ends with a meeting of its own, which must be over.
    for _ in 0..5 {
        meets().await.expect("a meeting");
        tokio::time::sleep(Duration::from_millis(200)).await;
    }
    let mut plain = Vec::new();
    for number in 0..PHOTOS {
        let mut dice = Dice::new(u64::from(round * PHOTOS + number) + 1);
        let day = Day(20_000 + number as i32);
        let (page, blobs) = invented::page(number, day, PHOTO_BYTES, &mut dice);
        plain.extend(blobs.iter().cloned().map(Arc::new));
        let kept = desk.keep_measured_page(pupil, page, blobs);
        kept.expect("a page");
    }
    let (met, took) = timed(meets()).await;
    let met = met.expect("a meeting").meetings;
    assert!(met.iter().all(|met| met.problem.is_none()), "{met:?}");
    let came: u32 = met.iter().map(|met| met.received_blobs).sum();
    assert_eq!(came, 2 * PHOTOS, "each with its reading");
    phone.close().await;
    (took, plain)
}

#[tokio::main]
async fn main() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    let desk = settled(&at("desk"), Role::Tutor);
    let (mut program, mut stream) = (
        (Duration::MAX, Duration::MAX),
        (Duration::MAX, Duration::MAX),
    );
    let (mut megabytes, mut ratios) = (0.0, Vec::new());
    for round in 0..ROUNDS {
        let (took, plain) = fetched(&desk, &at(&format!("phone {round}")), round).await;
        program = best(program, took);
        let files = at(&format!("files {round}"));
        std::fs::create_dir(&files).expect("a folder");
        let (copied, (_, worked)) = timed(bare::copy(&plain, &files, true)).await;
        stream = best(stream, (copied, worked));
        ratios.push(copied.as_secs_f64() / took.0.as_secs_f64());
        megabytes = plain.iter().map(|blob| blob.len()).sum::<usize>() as f64 / 1e6;
    }
    println!(
        "{PHOTOS} photographs with their readings, {megabytes:.1} MB; best of {ROUNDS} rounds:"
    );
    println!("  {:32}{:>8}{:>22}", "", "MB/s", "processor, ms for MB");
    for (name, (took, worked)) in [
        ("the program, into its store", program),
        ("bare stream, each flushed", stream),
    ] {
        let rate = megabytes / took.as_secs_f64();
        let work = worked.as_secs_f64() * 1000.0 / megabytes;
        println!("  {name:32}{rate:8.1}{work:22.2}");
    }
    let rate = stream.0.as_secs_f64() / program.0.as_secs_f64();
    let work = program.1.as_secs_f64() / stream.1.as_secs_f64();
    println!("  the program to the bare stream  {rate:8.2}{work:22.2}");
    ratios.sort_by(f64::total_cmp);
    let (first, rate, last) = (
        ratios[0],
        ratios[ratios.len() / 2],
        ratios[ratios.len() - 1],
    );
    println!("  round by round, the middle one: {rate:8.2} ({first:.2} to {last:.2})");
    if rate < LEAST {
        eprintln!("Broken: under {LEAST} of the bare stream");
        std::process::exit(1);
    }
}
