//! `cargo xtask simulate`: invented practices with everything going wrong, and programs that are killed.

use crate::failure::Failure;
use crate::setup;
use crate::step::Step;

/// What is asked for where nothing is said.
const SCHEDULES: u64 = 20_000;
const SEED: u64 = 1;

/// What to simulate, and from which seed.
#[derive(Debug, PartialEq, Eq)]
pub struct Asked {
    what: What,
    seed: u64,
}

#[derive(Debug, PartialEq, Eq)]
enum What {
    /// So many schedules; the first that goes wrong is shown with its steps.
    Schedules(u64),
    /// So many kills of the programs of two devices.
    Kills(u64),
}

/// What the arguments ask for; `None` if they are none.
pub fn asked(args: &[&str]) -> Option<Asked> {
    let (what, rest) = match args {
        ["--kill", count, rest @ ..] => (What::Kills(count.parse().ok()?), rest),
        [count, rest @ ..] if !count.starts_with('-') => {
            (What::Schedules(count.parse().ok()?), rest)
        }
        rest => (What::Schedules(SCHEDULES), rest),
    };
    let seed = match rest {
        [] => SEED,
        ["--seed", seed] => seed.parse().ok()?,
        _ => return None,
    };
    Some(Asked { what, seed })
}

/// Builds and runs it.
pub fn run(Asked { what, seed }: &Asked) -> Result<(), Failure> {
    setup::system::ready(setup::BUILD)?;
    let (title, target, name, count) = match what {
        What::Schedules(count) => {
            let name = "many_schedules_end_well";
            (
                "schedules",
                "simulation",
                name,
                ("POTHOOK_SCHEDULES", count),
            )
        }
        What::Kills(count) => {
            let name = "what_was_acknowledged_survives";
            ("kills", "power_cut", name, ("POTHOOK_KILLS", count))
        }
    };
    let args = [
        "test",
        "-p",
        "pothook-tests",
        "--test",
        target,
        "--",
        "--nocapture",
        name,
    ];
    Step::new(format!("{} {title} from seed {seed}", count.1), "cargo")
        .args(args)
        .env(count.0, count.1.to_string())
        .env("POTHOOK_SEED", seed.to_string())
        .run()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_and_seeds_are_read() {
        let schedules = |count, seed| {
            let what = What::Schedules(count);
            Some(Asked { what, seed })
        };
        assert_eq!(asked(&[]), schedules(20_000, 1));
        assert_eq!(asked(&["3000"]), schedules(3_000, 1));
        assert_eq!(asked(&["--seed", "7"]), schedules(20_000, 7));
        assert_eq!(asked(&["5", "--seed", "7"]), schedules(5, 7));
        let what = What::Kills(200);
        assert_eq!(
            asked(&["--kill", "200", "--seed", "2"]),
            Some(Asked { what, seed: 2 })
        );
        for bad in [
            &["many"][..],
            &["5", "6"],
            &["--seed"],
            &["--kill"],
            &["5", "--seed", "x"],
        ] {
            assert_eq!(asked(bad), None, "{bad:?}");
        }
    }
}
