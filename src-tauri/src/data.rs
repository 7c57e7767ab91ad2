//! Where this device's data lies.

use std::path::PathBuf;

use app::units::Problem;
use tauri::{AppHandle, Manager};

/// The folder named on the command line (`--data DIR`), or the system's own place for it.
pub(crate) fn folder(window: &AppHandle) -> Result<PathBuf, Problem> {
    if let Some(folder) = named(std::env::args()) {
        return Ok(folder);
    }
    window.path().app_data_dir().map_err(|error| {
        Problem::new(
            "no-data-folder",
            format!("The system names no folder for this program's data ({error})."),
            "Start the program with --data and a folder.",
        )
    })
}

/// The key file named on the command line (`--key-file FILE`) or by the environment.
pub(crate) fn key_file() -> Option<PathBuf> {
    let mut arguments = std::env::args().skip_while(|argument| argument != "--key-file");
    let typed = arguments.nth(1).map(PathBuf::from);
    typed.or_else(|| std::env::var_os("POTHOOK_KEY_FILE").map(PathBuf::from))
}

fn named(arguments: impl Iterator<Item = String>) -> Option<PathBuf> {
    let mut arguments = arguments.skip_while(|argument| argument != "--data");
    arguments.nth(1).map(PathBuf::from)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_folder_follows_its_option() {
        let typed = |words: &[&str]| {
            named(
                words
                    .iter()
                    .map(|&word| word.to_owned())
                    .collect::<Vec<_>>()
                    .into_iter(),
            )
        };
        assert_eq!(
            typed(&["pothook-desktop", "--data", "here"]),
            Some(PathBuf::from("here"))
        );
        assert_eq!(typed(&["pothook-desktop", "--data"]), None);
        assert_eq!(typed(&["pothook-desktop"]), None);
    }
}
