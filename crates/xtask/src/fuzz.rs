//! `cargo xtask fuzz`: bytes from nowhere, by every way that bytes come in.

use std::env;
use std::fs;

use crate::failure::Failure;
use crate::place;
use crate::setup::{self, tool};
use crate::step::Step;

const FUZZ: &str = "crates/metrics/fuzz";
/// Where each way starts from, and where whatever breaks something is kept for ever.
const INPUTS: &str = "crates/metrics/tests/fuzzed";
/// The ways in, each with its share of the time.
const WAYS: [(&str, u32); 3] = [("photo", 5), ("kept", 4), ("exif", 1)];

/// Tries for so many minutes in all; what was learnt by earlier runs is used again.
pub fn run(minutes: u32) -> Result<(), Failure> {
    setup::system::ready(setup::BUILD)?;
    let tools = tool::ready("cargo-fuzz", "0.13.2", "The fuzzer")?;
    let folder = place::target().join("fuzz");
    let mut path = vec![tools];
    path.extend(env::split_paths(&env::var_os("PATH").unwrap_or_default()));
    let path = env::join_paths(path)
        .map_err(|error| Failure::new(format!("The search path cannot be used: {error}."), ""))?;
    for (way, share) in WAYS {
        let learnt = folder.join("learnt").join(way);
        fs::create_dir_all(&learnt).map_err(|error| {
            Failure::new(
                format!("{}: {error}.", learnt.display()),
                "Make room for it.",
            )
        })?;
        let seconds = minutes * 60 * share / 10;
        let step = Step::new(format!("fuzz {way} for {seconds} s"), "cargo")
            .args(["fuzz", "run", "--fuzz-dir", FUZZ, "--target-dir"])
            .args([&folder])
            .args([way])
            .args([&learnt, &place::root().join(INPUTS).join(way)])
            .args(["--", "-max_len=60000", "-timeout=60", "-rss_limit_mb=1024"])
            .args([
                "-print_final_stats=1",
                &format!("-max_total_time={seconds}"),
            ])
            .args([format!("-artifact_prefix={INPUTS}/{way}/")])
            .env("PATH", &path)
            // The instruments are not stable features of the compiler; this lets it have them.
            .env("RUSTC_BOOTSTRAP", "1");
        step.run().map_err(|failure| {
            Failure::new(
                failure.what,
                format!(
                    "What broke it is in {INPUTS}/{way}. Give the file a name that says what is \
                     wrong with it, mend the program, and commit both: `cargo test -p metrics \
                     --test fuzzed` tries it ever after."
                ),
            )
        })?;
    }
    println!("\nFuzzed for {minutes} minutes: nothing broke.");
    Ok(())
}
