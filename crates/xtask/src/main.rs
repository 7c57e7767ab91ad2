//! Every chore of the project: `cargo xtask CHORE`.
//!
//! **May not know:** any other crate of the workspace. It starts programs and reads files.

mod bench;
mod bindings;
mod demo;
mod failure;
mod fuzz;
mod lint;
mod place;
mod product;
mod setup;
mod simulate;
mod step;
mod tally;
mod test;
mod tidy;
mod wasm;

use std::process::ExitCode;

const USAGE: &str = "\
cargo xtask CHORE

  demo [--once]   set up, build, make the invented practice and open both devices on it;
                  without a display, or with --once, in the browser, with pictures of the screens;
                  --once ends after the pictures
  test            set up, build and run every test, the real window and the browser included
  lint            form, warnings, types, generated files and tidy
  bench [--stages]
                  how long reading a page takes, as ratios to decoding and to other libraries;
                  --stages shows where the time goes
  bindings        write the screens' types anew from the Rust types
  tidy            the rules that the project sets itself, from its own files
  wasm            the measuring crate gives the same bytes in WebAssembly; shows its time
  fuzz [MINUTES]  bytes from nowhere into decoding, finding and reading, for ten minutes or so many;
                  for 0 only what is kept
  simulate [N] [--kill N] [--seed S]
                  N schedules (20,000) of invented practices in which everything goes wrong, or N real
                  programs killed at any moment, drawn from the seed S (1)
  setup           only the set-up";

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    let done = match args[..] {
        ["demo"] => demo::run(false),
        ["demo", "--once"] => demo::run(true),
        ["test"] => test::run(),
        ["lint"] => lint::run(),
        ["bench"] => bench::run(false),
        ["bench", "--stages"] => bench::run(true),
        ["bindings"] => bindings::write(),
        ["tidy"] => tidy::run(),
        ["fuzz"] => fuzz::run(10, None),
        ["fuzz", minutes] if minutes.parse::<u16>().is_ok() => {
            fuzz::run(minutes.parse().unwrap_or(10), None)
        }
        ["fuzz", minutes, way] if minutes.parse::<u16>().is_ok() => {
            fuzz::run(minutes.parse().unwrap_or(10), Some(way))
        }
        ["wasm"] => wasm::run(),
        ["setup"] => setup::run(),
        ["simulate", ref rest @ ..] => match simulate::asked(rest) {
            Some(asked) => simulate::run(&asked),
            None => return usage(),
        },
        _ => return usage(),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("\n{failure}");
            ExitCode::FAILURE
        }
    }
}

fn usage() -> ExitCode {
    eprintln!("{USAGE}");
    ExitCode::from(2)
}
