//! `cargo xtask fuzz`: bytes from nowhere, by every way that bytes come in.

use std::env;
use std::ffi::OsStr;
use std::fs;
use std::path::PathBuf;

use crate::failure::Failure;
use crate::place;
use crate::setup::{self, tool};
use crate::step::Step;

/// A package of ways in.
struct Package {
    folder: &'static str,
    /// Where each way starts from, and where whatever breaks something is kept for ever.
    inputs: &'static str,
    /// The test that tries all of them ever after.
    replayed: &'static str,
    ways: &'static [Way],
}

const PACKAGES: [Package; 2] = [
    Package {
        folder: "crates/metrics/fuzz",
        inputs: "crates/metrics/tests/fuzzed",
        replayed: "cargo test -p metrics --test fuzzed",
        ways: &MEASURING,
    },
    Package {
        folder: "tests/fuzz",
        inputs: "tests/fuzzed",
        replayed: "cargo test -p pothook-tests --test fuzzed",
        ways: &MEETING,
    },
];

/// Files that are no page, for whatever decodes.
const BAD: &str = "tests/bad";

/// One way in.
struct Way {
    name: &'static str,
    /// How much of the time it gets.
    share: u32,
    /// Most bytes of one input.
    most: u32,
    /// Whether every access to memory is watched. The decoders from outside have unsafe code; this
    /// repository has none, and measuring under watch takes twenty times as long.
    watched: bool,
}

const fn way(name: &'static str, share: u32, most: u32, watched: bool) -> Way {
    Way {
        name,
        share,
        most,
        watched,
    }
}

/// Carry files, pairing texts, frames, whole conversations, changes from outside and behind a signature.
const MEETING: [Way; 6] = [
    way("carry", 2, 8_000, false),
    way("code", 1, 600, false),
    way("frame", 1, 4_000, false),
    way("talk", 3, 600, false),
    way("outside", 1, 2_000, false),
    way("signed", 3, 2_000, false),
];

const MEASURING: [Way; 6] = [
    way("file", 2, 60_000, true),
    way("exif", 1, 4_000, true),
    way("photo", 3, 60_000, false),
    way("kept", 2, 60_000, false),
    way("drawn", 6, 400, false),
    way("told", 1, 2_000, false),
];

/// Tries for so many minutes in all; what was learnt by earlier runs is used again. In no minutes
/// only what is kept is tried, once. All the time goes to one way, if one is named.
pub fn run(minutes: u32, only: Option<&str>) -> Result<(), Failure> {
    setup::system::ready(setup::BUILD)?;
    let tools = tool::ready("cargo-fuzz", "0.13.2", "The fuzzer")?;
    let mut path = vec![tools];
    path.extend(env::split_paths(&env::var_os("PATH").unwrap_or_default()));
    let path = env::join_paths(path)
        .map_err(|error| Failure::new(format!("The search path cannot be used: {error}."), ""))?;
    let ways = PACKAGES.iter().flat_map(|package| package.ways);
    let shares: u32 = ways.map(|way| way.share).sum();
    for package in &PACKAGES {
        for way in package
            .ways
            .iter()
            .filter(|way| only.is_none_or(|only| only == way.name))
        {
            let minutes = u64::from(minutes) * 60;
            let seconds = match only {
                Some(_) => minutes,
                None => minutes * u64::from(way.share) / u64::from(shares),
            };
            try_out(package, way, (minutes > 0).then_some(seconds), &path)?;
        }
    }
    match minutes {
        0 => println!("\nEverything kept was tried: nothing broke."),
        _ => println!("\nFuzzed for {minutes} minutes: nothing broke."),
    }
    Ok(())
}

/// Tries one way for so many seconds, or what is kept once.
fn try_out(
    package: &Package,
    way: &Way,
    seconds: Option<u64>,
    path: &OsStr,
) -> Result<(), Failure> {
    let Package {
        folder: fuzz,
        inputs,
        replayed,
        ..
    } = package;
    let name = way.name;
    let (sanitizer, folder) = match way.watched {
        true => ("address", place::target().join("fuzz")),
        false => ("none", place::target().join("fuzz-unwatched")),
    };
    let title = match seconds {
        Some(seconds) => format!("fuzz {name} for {seconds} s"),
        None => format!("fuzz {name}: what is kept"),
    };
    let step = Step::new(title, "cargo")
        .args(["fuzz", "run", "--fuzz-dir", fuzz, "--target-dir"])
        .args([&folder])
        .args(["--sanitizer", sanitizer, name])
        .args(corpora(inputs, name, seconds.is_some())?)
        .args([
            "--",
            "-timeout=60",
            "-report_slow_units=60",
            "-rss_limit_mb=1024",
            "-print_final_stats=1",
        ])
        // Runs are too few to let inputs grow slowly, or to spend them on what takes long.
        .args(["-entropic_scale_per_exec_time=1"])
        .args([
            format!("-max_len={}", way.most),
            "-len_control=0".to_owned(),
        ])
        .args([match seconds {
            // libFuzzer takes a time of 0 for no limit.
            Some(seconds) => format!("-max_total_time={}", seconds.max(1)),
            None => "-runs=0".to_owned(),
        }])
        .args([format!("-artifact_prefix={inputs}/{name}/")])
        .env("PATH", path)
        // The instruments are not stable features of the compiler; this lets it have them.
        .env("RUSTC_BOOTSTRAP", "1");
    step.run().map_err(|failure| {
        Failure::new(
            failure.what,
            format!(
                "What broke it is in {inputs}/{name}. Give the file a name that says what is \
                 wrong with it, mend the program, and commit both: `{replayed}` tries it ever after."
            ),
        )
    })
}

/// The folders of inputs: what is learnt goes into the first.
fn corpora(inputs: &str, name: &str, learn: bool) -> Result<Vec<PathBuf>, Failure> {
    let mut folders = Vec::new();
    if learn {
        let learnt = place::target().join("fuzz").join("learnt").join(name);
        fs::create_dir_all(&learnt).map_err(|error| {
            let what = format!("{}: {error}.", learnt.display());
            Failure::new(what, "Make room for it.")
        })?;
        folders.push(learnt);
    }
    folders.push(place::root().join(inputs).join(name));
    if name == "file" {
        folders.push(place::root().join(BAD));
    }
    Ok(folders)
}
