//! The invented practice: made once, shown in the terminal.

use std::fs;
use std::path::{Path, PathBuf};

use crate::failure::Failure;
use crate::place;
use crate::step::Step;

/// Where the practice lies.
fn out() -> PathBuf {
    place::root().join("demo/out")
}

/// The tutor's data folder.
pub fn tutor() -> PathBuf {
    out().join("tutor")
}

/// A parent's data folder.
pub fn parent() -> PathBuf {
    out().join("parent")
}

/// The file with the key of both.
pub fn key_file() -> PathBuf {
    out().join("key")
}

/// Makes the practice, unless it is there and no older than the program that makes it.
pub fn ready() -> Result<(), Failure> {
    let stamp = out().join("made");
    let program = place::built("demo");
    if is_newer(&stamp, &program) {
        println!("\nThe practice in demo/out is up to date.");
        return Ok(());
    }
    let unwritable = |error: std::io::Error| {
        Failure::new(
            format!("{} could not be written: {error}.", out().display()),
            "Make room on the disk, or close the program that uses the folder; then run this again.",
        )
    };
    if out().exists() {
        println!("\nThe practice in demo/out is older than the program; it is made anew.");
        fs::remove_dir_all(out()).map_err(unwritable)?;
    }
    fs::create_dir_all(out()).map_err(unwritable)?;
    Step::new("making the invented practice", program)
        .args(["practice", "--out"])
        .args([out()])
        .run()?;
    fs::write(stamp, "").map_err(unwritable)
}

fn is_newer(stamp: &Path, program: &Path) -> bool {
    let changed = |path: &Path| fs::metadata(path).and_then(|file| file.modified()).ok();
    matches!((changed(stamp), changed(program)), (Some(made), Some(built)) if made >= built)
}

/// Prints the readings and the progress of the first pupil.
pub fn show() -> Result<(), Failure> {
    let list = pothook("pupils", &["pupils"]).output()?;
    println!("\n== the practice\n{list}");
    let Some(pupil) = first_id(&list) else {
        return Err(Failure::new(
            "The practice holds no pupil.",
            "Delete demo/out and run this again.",
        ));
    };
    pothook("one pupil: the pages", &["pages", pupil]).run()?;
    pothook("the newest page's reading", &["page", pupil, "newest"]).run()?;
    pothook("the progress", &["progress", pupil]).run()
}

fn pothook(title: &str, args: &[&str]) -> Step {
    Step::new(title, place::built("pothook"))
        .env("POTHOOK_KEY_FILE", key_file())
        .args(["--data"])
        .args([tutor()])
        .args(args)
}

/// The first pupil's id in a printed list: 32 hexadecimal digits.
fn first_id(list: &str) -> Option<&str> {
    list.split(|c: char| !c.is_ascii_alphanumeric())
        .find(|word| word.len() == 32 && word.bytes().all(|byte| byte.is_ascii_hexdigit()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_id_of_a_list_is_found() {
        let id = "0123456789abcdef0123456789abcdef";
        assert_eq!(first_id(&format!("Pupils\n  {id}  A.  Y3\n")), Some(id));
        assert_eq!(first_id("No pupils yet.\n"), None);
    }
}
