//! Work that is done in a second process, so that it can be killed.

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdout, Command, Stdio};

use store::{Store, Write as Step};

use crate::folder::open_all_at_once;
use crate::ground::open;

const TASK: &str = "STORE_TEST_TASK";
const FOLDER: &str = "STORE_TEST_FOLDER";

/// A process that opened the folder and works on it until killed. Each line that begins with
/// `done ` tells of something finished.
pub fn start(task: &str, folder: &Path) -> (Child, BufReader<ChildStdout>) {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args([
            "--exact",
            "child::second_process",
            "--ignored",
            "--nocapture",
        ])
        .env(TASK, task)
        .env(FOLDER, folder)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let out = BufReader::new(child.stdout.take().unwrap());
    (child, out)
}

/// The number in the next `done` line; `None` at the end of the output.
pub fn next_done(out: &mut impl BufRead) -> Option<u64> {
    let mut line = String::new();
    while out.read_line(&mut line).ok()? > 0 {
        let done = line.trim_end().strip_prefix("done ");
        // A line that was cut by the kill was not finished.
        if let Some(number) = done.filter(|_| line.ends_with('\n')) {
            return number.parse().ok();
        }
        line.clear();
    }
    None
}

fn done(number: u64) {
    let mut out = std::io::stdout().lock();
    write!(out, "\ndone {number}\n").unwrap();
    out.flush().unwrap();
}

#[test]
#[ignore = "run by other tests in a process of its own"]
fn second_process() {
    let (Ok(task), Ok(folder)) = (std::env::var(TASK), std::env::var(FOLDER)) else {
        panic!("run by other tests only");
    };
    let folder = Path::new(&folder);
    match task.as_str() {
        "hold" => {
            let _held = open(folder);
            loop {
                done(0);
                std::thread::sleep(std::time::Duration::from_secs(1));
            }
        }
        "open" => done(open_all_at_once(folder)),
        "write" => write_until_killed(&open(folder)),
        other => panic!("no such task: {other}"),
    }
}

fn write_until_killed(store: &Store) {
    let last = store.setting("last").unwrap();
    let last = last.map_or(0, |bytes| u64::from_le_bytes(bytes.try_into().unwrap()));
    for number in last + 1.. {
        store.transaction(page(number)).unwrap();
        done(number);
    }
}

/// The writes of one made-up page: two changes, a photograph and a setting.
pub fn page(number: u64) -> Vec<Step> {
    let change = |doc: &[u8]| Step::Change {
        doc: doc.to_vec(),
        seq: number,
        bytes: filling(number, 700),
    };
    vec![
        change(b"home"),
        Step::Blob(photo(number)),
        change(b"tutor"),
        Step::Setting {
            name: "last".into(),
            bytes: number.to_le_bytes().to_vec(),
        },
    ]
}

pub fn photo(number: u64) -> Vec<u8> {
    filling(
        number ^ 0xABCD_0000,
        20_000 + (number as usize * 7_919) % 60_000,
    )
}

/// Bytes that do not repeat, from a seed (SplitMix64).
pub fn filling(seed: u64, length: usize) -> Vec<u8> {
    let mut state = seed;
    let mut bytes = Vec::with_capacity(length + 8);
    while bytes.len() < length {
        bytes.extend(next(&mut state).to_le_bytes());
    }
    bytes.truncate(length);
    bytes
}

pub fn next(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let mut word = *state;
    word = (word ^ (word >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    word = (word ^ (word >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    word ^ (word >> 31)
}
