//! A letter model as text: the file that one tutor hands to another, and the form in which the books
//! keep a model that is none of those to start from.

use serde::{Deserialize, Serialize};
use units::{LetterForm, LetterModel, LetterModelFault};

/// Most bytes of a letter model's text: 64 KiB. One that is laid out well takes about 7 KB.
pub const MAX_LETTERS_BYTES: usize = 1 << 16;

const FORMAT: &str = "pothook letter model";
const VERSION: u64 = 1;

/// Why a text is no letter model.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LettersRefused {
    /// Beyond [`MAX_LETTERS_BYTES`].
    #[error("the text is too large")]
    TooLarge,
    /// The text is that of something else, or is damaged.
    #[error("the text is no letter model: {0}")]
    Other(String),
    /// Of a version that this program does not know.
    #[error("version {0} of letter models is not known")]
    UnknownVersion(u64),
    /// No school could teach it.
    #[error("the letter model is not sound: {0:?}")]
    Fault(LetterModelFault),
}

/// What every version says of itself.
#[derive(Deserialize)]
struct Head {
    format: String,
    version: u64,
}

#[derive(Serialize)]
struct Written<'a> {
    format: &'a str,
    version: u64,
    name: &'a str,
    letters: &'a [LetterForm],
}

/// The text of a model: one line, or laid out for people.
pub fn letters_text(model: &LetterModel, laid_out: bool) -> String {
    let written = Written {
        format: FORMAT,
        version: VERSION,
        name: &model.name,
        letters: &model.letters,
    };
    let text = match laid_out {
        true => serde_json::to_string_pretty(&written),
        false => serde_json::to_string(&written),
    };
    text.expect("a letter model is plain data")
}

/// The model of a text.
///
/// # Errors
/// The text is too large, no letter model, of an unknown version, or its model is not sound.
pub fn read_letters(text: &str) -> Result<LetterModel, LettersRefused> {
    if text.len() > MAX_LETTERS_BYTES {
        return Err(LettersRefused::TooLarge);
    }
    let other = |error: serde_json::Error| LettersRefused::Other(error.to_string());
    let head: Head = serde_json::from_str(text).map_err(other)?;
    if head.format != FORMAT {
        return Err(LettersRefused::Other(format!("it is a {:?}", head.format)));
    }
    if head.version != VERSION {
        return Err(LettersRefused::UnknownVersion(head.version));
    }
    let model: LetterModel = serde_json::from_str(text).map_err(other)?;
    model.check().map_err(LettersRefused::Fault)?;
    Ok(model)
}

#[cfg(test)]
mod tests {
    use units::Ratio;

    use super::*;

    fn own() -> LetterModel {
        let mut model = LetterModel::joined();
        model.name = "Lower \"school\", größer".into();
        model.letters[5].below = Ratio(0.55);
        model
    }

    #[test]
    fn what_is_written_is_read_again() {
        for model in LetterModel::to_start_from().into_iter().chain([own()]) {
            for laid_out in [false, true] {
                let text = letters_text(&model, laid_out);
                assert!(text.len() < MAX_LETTERS_BYTES / 8);
                assert_eq!(read_letters(&text), Ok(model.clone()));
            }
        }
    }

    #[test]
    fn the_text_says_what_it_is() {
        let value: serde_json::Value = serde_json::from_str(&letters_text(&own(), true)).unwrap();
        assert_eq!(value["format"], "pothook letter model");
        assert_eq!(value["version"], 1);
        assert_eq!(value["letters"].as_array().map(Vec::len), Some(26));
        let f = &value["letters"][5];
        assert_eq!(f["letter"], "f");
        assert_eq!(f["class"], "tall");
        assert_eq!(f["joinsTo"], "abcdefghijklmnopqrstuvwxyz");
        assert_eq!(f["below"], 0.55);
    }

    #[test]
    fn other_texts_are_refused_each_for_its_own_reason() {
        let spoiled = |from: &str, to: &str| {
            let text = letters_text(&own(), false);
            assert!(text.contains(from), "{from}");
            read_letters(&text.replacen(from, to, 1))
        };
        use LettersRefused as Refused;
        assert!(matches!(read_letters(""), Err(Refused::Other(_))));
        assert!(matches!(read_letters("[]"), Err(Refused::Other(_))));
        assert!(matches!(
            spoiled("pothook letter model", "something else"),
            Err(Refused::Other(_))
        ));
        assert_eq!(
            spoiled("\"version\":1", "\"version\":2"),
            Err(Refused::UnknownVersion(2))
        );
        assert!(matches!(
            spoiled("\"exit\":\"bottom\"", "\"exit\":\"sideways\""),
            Err(Refused::Other(_))
        ));
        assert_eq!(
            spoiled("\"letter\":\"b\"", "\"letter\":\"c\""),
            Err(Refused::Fault(LetterModelFault::Letters))
        );
        assert_eq!(
            spoiled("\"below\":0.55", "\"below\":1e300"),
            Err(Refused::Fault(LetterModelFault::Reach('f')))
        );
        let large = format!("{}{}", letters_text(&own(), false), " ".repeat(1 << 16));
        assert_eq!(read_letters(&large), Err(Refused::TooLarge));
    }

    #[test]
    fn cut_texts_never_pass() {
        let text = letters_text(&own(), false);
        for length in (0..text.len()).filter(|length| text.is_char_boundary(*length)) {
            assert!(read_letters(&text[..length]).is_err());
        }
    }
}
