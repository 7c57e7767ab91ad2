//! Commands about letter models, and about what people put right.

use std::fs;
use std::path::Path;

use app::App;
use app::api::{ExportAmendments, TextFile};
use app::letters::{letters_file, read_letters};
use app::units::{LetterModel, Problem};

use crate::args;
use crate::cases::find_pupil;
use crate::failure::{Failure, unreadable, unwritable};

/// The letter model that was named, or that of the file.
pub(crate) fn model(wanted: &args::Letters) -> Result<LetterModel, Problem> {
    let Some(file) = &wanted.letters else {
        return Ok(wanted.model.clone());
    };
    // Too long a file is refused by its length, before it is read.
    const LARGEST: u64 = 1 << 20;
    let size = fs::metadata(file).map_err(|error| unreadable(file, &error))?;
    if size.len() > LARGEST {
        return Err(Problem::new(
            "letters-too-large",
            format!("{} is larger than any letter model.", file.display()),
            "Choose a letter model's file.",
        ));
    }
    let text = fs::read_to_string(file).map_err(|error| unreadable(file, &error))?;
    read_letters(&text)
}

/// Saves a letter model to be changed with an editor.
pub(crate) fn save(wanted: &args::SaveLetters) -> Result<(), Failure> {
    write(&wanted.file, letters_file(&wanted.model)?)
}

/// Saves what was put right about letters.
pub(crate) fn export(app: &App, wanted: &args::ExportCorrections) -> Result<(), Failure> {
    let pupils = wanted.pupil.iter().map(|asked| find_pupil(app, asked));
    let pupils = pupils.collect::<Result<_, _>>()?;
    write(
        &wanted.file,
        app.export_amendments(ExportAmendments { pupils })?,
    )
}

fn write(path: &Path, file: TextFile) -> Result<(), Failure> {
    fs::write(path, file.text).map_err(|error| unwritable(path, &error))?;
    Ok(())
}
