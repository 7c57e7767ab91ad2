//! `cargo xtask wasm`: the measuring crate on another platform gives the same bytes.

use std::path::{Path, PathBuf};

use crate::failure::Failure;
use crate::setup::system::{self, Need};
use crate::step::Step;
use crate::{place, setup};

const TARGET: &str = "wasm32-unknown-unknown";

/// Debian's compiler that brings the source of the standard library.
const DEBIAN_RUST: &[Need] = &[
    Need::file("/usr/bin/rustc", "rustc-web"),
    Need::file("/usr/bin/cargo", "cargo-web"),
    Need::file(
        "/usr/lib/rustlib/src/rust/library/Cargo.toml",
        "rust-web-src",
    ),
    Need::program("wasm-ld", "lld"),
];

/// Reads the committed pages and a set of large ones natively and in WebAssembly under Node, and
/// compares.
pub fn run() -> Result<(), Failure> {
    setup::ready(&[setup::BUILD])?;
    let module = module()?;
    let folder = place::target().join("wasm");
    let pages = folder.join("pages");
    Step::cargo(&[
        "run",
        "-q",
        "--release",
        "-p",
        "demo",
        "--no-default-features",
        "--",
    ])
    .args(["pages", "--out"])
    .args([&pages])
    .run()?;
    let answers = folder.join("answers");
    Step::cargo(&[
        "run",
        "-q",
        "--release",
        "-p",
        "same-bytes",
        "--example",
        "native",
        "--",
    ])
    .args([&answers, &place::root().join("tests/pages"), &pages])
    .run()?;
    Step::new("the same pages under Node", "node")
        .args([Path::new("tests/same-bytes/compare.mjs"), &module])
        .args([answers.join("all.json")])
        .run()
}

/// Builds the module; says where it is.
fn module() -> Result<PathBuf, Failure> {
    let build = [
        "build",
        "--release",
        "--lib",
        "-p",
        "same-bytes",
        "--target",
        TARGET,
    ];
    let target = place::target().join("wasm");
    let step = if standard_library_is_here() {
        Step::cargo(&build)
    } else {
        println!(
            "\nThe standard library for {TARGET} is not here. Either stop this and run `rustup \
             target add {TARGET}`, or let Debian's compiler build it from source."
        );
        system::ready(DEBIAN_RUST)?;
        // `build-std` is not stable; Debian's compiler takes it when told that it may.
        Step::new("Debian's cargo builds the module", "/usr/bin/cargo")
            .args(build)
            .args(["-Z", "build-std=std,panic_abort"])
            .env("RUSTC", "/usr/bin/rustc")
            .env("RUSTC_BOOTSTRAP", "1")
            .env("CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER", "wasm-ld")
            .without_env("RUSTUP_TOOLCHAIN")
    };
    step.env("CARGO_TARGET_DIR", &target).run()?;
    Ok(target.join(TARGET).join("release/same_bytes.wasm"))
}

fn standard_library_is_here() -> bool {
    let library = Step::new("rustc", "rustc")
        .args(["--print", "target-libdir", "--target", TARGET])
        .output();
    library.is_ok_and(|dir| Path::new(dir.trim()).is_dir())
}
