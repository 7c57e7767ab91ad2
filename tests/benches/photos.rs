//! How fast photographs come from a tutor's laptop to a family's phone on this machine, with all that the program
//! does: asking whose they are, checking them, encrypting each into the store, flushed, with its row. Beside it
//! the same bytes through one bare QUIC stream into plain files, each flushed, in the same run.
//!
//! `cargo bench -p pothook-tests --bench photos`. The two take turns, and the best round of each counts: what else
//! runs on the machine makes rounds only slower.

use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use app::App;
use app::api::{Exchange, OfferPairing, Settle};
use app::units::{Day, Role};
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
const ROUNDS: usize = 5;
/// Least rate to that of the bare stream.
const LEAST: f64 = 0.6;

fn settled(folder: &Path, role: Role) -> App {
    let app = open(folder).expect("the folder opens");
    let name = "Bench".to_owned();
    app.settle(Settle { role, name }).expect("a new folder");
    app
}

/// A phone that is new in the family fetches all that the laptop has.
async fn fetched(desk: &App, pupil: app::units::PupilId, folder: &Path) -> Duration {
    let phone = settled(folder, Role::Parent);
    pair_for(desk, OfferPairing::Family { pupil }, &phone, None).await;
    let begun = Instant::now();
    let met = phone.exchange(Exchange { device: None }).await;
    let took = begun.elapsed();
    let met = met.expect("a meeting").meetings;
    assert!(met.iter().all(|met| met.problem.is_none()), "{met:?}");
    let came: u32 = met.iter().map(|met| met.received_blobs).sum();
    assert_eq!(came, 2 * PHOTOS, "each with its reading");
    phone.close().await;
    took
}

#[tokio::main]
async fn main() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    let desk = settled(&at("desk"), Role::Tutor);
    let (known, _) = KnownPage::ordinary();
    let (pupil, _) = pothook_tests::pupil_with_task(&desk, &known).expect("a pupil");
    let mut plain = Vec::new();
    for number in 0..PHOTOS {
        let mut dice = Dice::new(u64::from(number) + 1);
        let day = Day(20_000 + number as i32);
        let (page, blobs) = invented::page(number, day, PHOTO_BYTES, &mut dice);
        plain.extend(blobs.iter().cloned().map(Arc::new));
        let kept = desk.keep_measured_page(pupil, page, blobs);
        kept.expect("a page");
    }
    let megabytes = plain.iter().map(|blob| blob.len()).sum::<usize>() as f64 / 1e6;
    let (mut program, mut stream) = (Duration::MAX, Duration::MAX);
    for round in 0..ROUNDS {
        program = program.min(fetched(&desk, pupil, &at(&format!("phone {round}"))).await);
        let files = at(&format!("files {round}"));
        std::fs::create_dir(&files).expect("a folder");
        stream = stream.min(bare::copy(&plain, &files, true).await);
    }
    println!(
        "{PHOTOS} photographs with their readings, {megabytes:.1} MB; best of {ROUNDS} rounds:"
    );
    for (name, took) in [
        ("the program, into its store", program),
        ("bare stream, each flushed", stream),
    ] {
        println!("  {name:32}{:8.1} MB/s", megabytes / took.as_secs_f64());
    }
    let rate = stream.as_secs_f64() / program.as_secs_f64();
    println!("  rate of the program to that of the bare stream: {rate:.2}");
    if rate < LEAST {
        eprintln!("Broken: under {LEAST} of the bare stream");
        std::process::exit(1);
    }
}
