//! Opening the data folder: by a key file, the system's keyring, or a passphrase that is asked for.

use std::io::{BufRead, IsTerminal, Write};
use std::path::{Path, PathBuf};

use app::api::OpenedBy;
use app::units::Problem;
use app::{App, Opener, Opening};

use crate::failure::Failure;

/// The key file that the environment names, for whoever starts the program without a person.
const KEY_FILE: &str = "POTHOOK_KEY_FILE";

pub(crate) fn open(folder: &Path, key_file: Option<&Path>) -> Result<App, Failure> {
    if let Some(file) = named(key_file) {
        return Ok(App::open_with(Opening::with_key_file(folder, &file)?)?);
    }
    match App::opened_with(folder)? {
        Some(OpenedBy::Passphrase) => {
            let text = secret("Passphrase: ")?;
            Ok(App::open(folder, app::passphrase(&text, false)?)?)
        }
        Some(_) => Ok(App::open(folder, Opener::Keyring)?),
        None => match App::open(folder, Opener::Keyring) {
            Err(problem) if problem.code == "no-keyring" => {
                eprintln!("{problem}");
                Ok(App::open(folder, new_passphrase()?)?)
            }
            other => Ok(other?),
        },
    }
}

/// What opens a folder that is made now.
pub(crate) fn opener_of_new(key_file: Option<&Path>) -> Result<Opener, Failure> {
    match named(key_file) {
        Some(file) => Ok(app::key_file(&file)?),
        None => new_passphrase(),
    }
}

fn named(key_file: Option<&Path>) -> Option<PathBuf> {
    let file = key_file.map(Path::to_owned);
    file.or_else(|| std::env::var_os(KEY_FILE).map(PathBuf::from))
}

fn new_passphrase() -> Result<Opener, Failure> {
    let text = secret("New passphrase for the data on this device: ")?;
    Ok(app::passphrase(&twice(text)?, true)?)
}

/// The same text typed once more.
pub(crate) fn twice(text: String) -> Result<String, Failure> {
    if std::io::stdin().is_terminal() && secret("The same once more: ")? != text {
        return Err(Problem::new(
            "passphrases-differ",
            "The two are not the same.",
            "Try again.",
        )
        .into());
    }
    Ok(text)
}

/// What a person types unseen; a line of the input where nobody sits at a terminal.
pub(crate) fn secret(prompt: &str) -> Result<String, Failure> {
    let unread = |error: std::io::Error| {
        Problem::new(
            "no-answer",
            format!("The answer could not be read ({error})."),
            "Run this in a terminal, or hand the answer in.",
        )
    };
    if std::io::stdin().is_terminal() {
        return Ok(rpassword::prompt_password(prompt).map_err(unread)?);
    }
    let mut line = String::new();
    std::io::stdin()
        .lock()
        .read_line(&mut line)
        .map_err(unread)?;
    let _ = std::io::stderr().flush();
    Ok(line.trim_end_matches(['\r', '\n']).to_owned())
}
