//! `cargo xtask bench`: how long reading a page takes, as ratios.

use crate::failure::Failure;
use crate::setup;
use crate::step::Step;

/// Where the packages to compare with are named.
const PEERS: &str = "crates/metrics/benches/speed/requirements.txt";

/// Builds for speed, and compares with decoding and with other libraries. `stages` shows instead
/// where the time of a reading goes.
pub fn run(stages: bool) -> Result<(), Failure> {
    setup::system::ready(setup::BUILD)?;
    setup::npm::ready("demo/fonts")?;
    let bench = ["bench", "-p", "metrics", "--bench", "speed", "--"];
    if stages {
        return Step::cargo(&[&bench[..], &["--stages"]].concat()).run();
    }
    let python = setup::python::ready("peers", PEERS)?;
    let bench = Step::cargo(&[&bench[..], &["--peers"]].concat());
    bench.args([python]).run()
}
