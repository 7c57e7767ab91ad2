//! Letter models: those to start from, and one as a file.

use casefile::{LettersRefused, MAX_LETTERS_BYTES};
use units::{LetterModel, LetterModelFault, Problem};

use crate::App;
use crate::api::{
    LetterModelRead, LetterModels, Nothing, ReadLetterModel, TextFile, WriteLetterModel,
};

impl App {
    /// The letter models that a tutor starts from.
    ///
    /// # Errors
    /// None.
    pub fn letter_models(&self, _: Nothing) -> Result<LetterModels, Problem> {
        Ok(LetterModels {
            models: LetterModel::to_start_from().into(),
        })
    }

    /// A letter model as a file.
    ///
    /// # Errors
    /// The model is one that no school could teach.
    pub fn write_letter_model(&self, input: WriteLetterModel) -> Result<TextFile, Problem> {
        letters_file(&input.model)
    }

    /// A letter model from a file's text.
    ///
    /// # Errors
    /// As [`read_letters`].
    pub fn read_letter_model(&self, input: ReadLetterModel) -> Result<LetterModelRead, Problem> {
        let model = read_letters(&input.text)?;
        Ok(LetterModelRead { model })
    }
}

/// A letter model as a file. Needs no data folder.
///
/// # Errors
/// The model is one that no school could teach.
pub fn letters_file(model: &LetterModel) -> Result<TextFile, Problem> {
    model.check().map_err(unsound)?;
    Ok(TextFile {
        name: format!("{}.json", file_stem(&model.name)),
        text: casefile::letters_text(model, true) + "\n",
    })
}

/// The letter model in a file's text. Needs no data folder.
///
/// # Errors
/// The text is too large, is no letter model, is of a newer version, or its model is one that no
/// school could teach.
pub fn read_letters(text: &str) -> Result<LetterModel, Problem> {
    // Some editors put a byte order mark before what they save.
    let text = text.trim_start_matches('\u{feff}');
    casefile::read_letters(text).map_err(refused)
}

fn refused(why: LettersRefused) -> Problem {
    match why {
        LettersRefused::TooLarge => Problem::new(
            "letters-too-large",
            "This file is larger than any letter model.",
            format!(
                "Choose a letter model's file, of at most {} KB.",
                MAX_LETTERS_BYTES / 1024
            ),
        ),
        LettersRefused::Other(what) => Problem::new(
            "letters-unreadable",
            format!("This file is no letter model that can be read ({what})."),
            "Choose a file that was saved here as a letter model, or save a new one and change that.",
        ),
        LettersRefused::UnknownVersion(version) => Problem::new(
            "letters-newer",
            format!("This letter model is of version {version}, which this program does not know."),
            "Update the program on this device.",
        ),
        LettersRefused::Fault(fault) => unsound(fault),
    }
}

/// What is wrong with a letter model, letter by name.
pub(crate) fn unsound(fault: LetterModelFault) -> Problem {
    let (message, what_to_do) = match fault {
        LetterModelFault::Name => (
            "The letter model has no name, or one that is too long.".to_owned(),
            format!(
                "Give it a name of at most {} characters.",
                LetterModel::MOST_NAME_CHARS
            ),
        ),
        LetterModelFault::Letters => (
            "The letter model does not have the letters a to z, each once and in this order."
                .to_owned(),
            "Start again from one of the models here, or put the letters in order.".to_owned(),
        ),
        LetterModelFault::Reach(letter) => (
            format!("The height or depth of the letter {letter} does not go with its kind."),
            format!(
                "A short letter rises 1 x-height and stands on the line. A tall one rises more \
                 than 1; of these only f may fall below the line. A letter with a tail falls below \
                 it. None reaches beyond {} x-heights.",
                LetterModel::MOST_REACH
            ),
        ),
        LetterModelFault::Joins(letter) => (
            format!("The joins of the letter {letter} do not fit together."),
            format!(
                "Say where {letter} is left and which letters it is joined to, a to z, each once; \
                 or that it is not joined on, and then to none."
            ),
        ),
        LetterModelFault::Storeys(letter) => (
            format!("The letter {letter} cannot have two storeys."),
            "Only a and g are taught with one or with two.".to_owned(),
        ),
    };
    Problem::new("letters-unsound", message, what_to_do)
}

/// A name that every file system takes: small letters and digits, hyphens between them.
fn file_stem(name: &str) -> String {
    let words = name.split(|c: char| !c.is_alphanumeric());
    let words: Vec<String> = words
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect();
    let stem: String = words.join("-").chars().take(40).collect();
    match stem.is_empty() {
        true => "letters".to_owned(),
        false => format!("letters-{stem}"),
    }
}

#[cfg(test)]
mod tests {
    use units::{Exit, Ratio, Storeys};

    use super::*;

    fn spoiled(spoil: impl Fn(&mut LetterModel)) -> Problem {
        let mut model = LetterModel::part_joined();
        spoil(&mut model);
        letters_file(&model).unwrap_err()
    }

    #[test]
    fn each_fault_names_its_letter_in_a_sentence_of_its_own() {
        let reach = spoiled(|model| model.letters[3].above = Ratio(0.5));
        assert!(reach.message.contains("letter d"), "{reach}");
        let joins = spoiled(|model| model.letters[14].exit = Exit::None);
        assert!(joins.message.contains("letter o"), "{joins}");
        let storeys = spoiled(|model| model.letters[1].storeys = Storeys::Two);
        assert!(storeys.message.contains("letter b"), "{storeys}");
        let name = spoiled(|model| model.name.clear());
        let letters = spoiled(|model| model.letters.swap(4, 5));
        let all = [reach, joins, storeys, name, letters];
        for problem in &all {
            assert_eq!(problem.code, "letters-unsound");
            assert!(!problem.what_to_do.is_empty());
        }
        let mut messages: Vec<_> = all.iter().map(|problem| &problem.message).collect();
        messages.sort_unstable();
        messages.dedup();
        assert_eq!(messages.len(), all.len());
    }

    #[test]
    fn a_file_comes_back_whatever_the_editor_put_before_it() {
        let mut model = LetterModel::joined();
        model.name = "Year 3, Mr. O / looped".into();
        let file = letters_file(&model).unwrap();
        assert_eq!(file.name, "letters-year-3-mr-o-looped.json");
        assert_eq!(read_letters(&file.text), Ok(model.clone()));
        assert_eq!(read_letters(&format!("\u{feff}{}", file.text)), Ok(model));
    }

    #[test]
    fn a_name_of_signs_alone_still_gives_a_file_a_name() {
        let mut model = LetterModel::unjoined();
        model.name = "../\\*".into();
        assert_eq!(letters_file(&model).unwrap().name, "letters.json");
        model.name = "é".repeat(60);
        assert_eq!(letters_file(&model).unwrap().name.chars().count(), 53);
    }

    #[test]
    fn other_files_are_refused_by_their_own_code() {
        let code = |text: &str| read_letters(text).unwrap_err().code;
        assert_eq!(code("a shopping list"), "letters-unreadable");
        assert_eq!(code(&" ".repeat(1 << 17)), "letters-too-large");
        let file = letters_file(&LetterModel::joined()).unwrap().text;
        let newer = file.replacen("\"version\": 1", "\"version\": 7", 1);
        assert_eq!(code(&newer), "letters-newer");
        let turned = file.replacen("\"letter\": \"q\"", "\"letter\": \"k\"", 1);
        assert_eq!(code(&turned), "letters-unsound");
    }
}
