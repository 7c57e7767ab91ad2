//! Which letter shapes and joins a pupil's school teaches.

use serde::{Deserialize, Serialize};

use crate::{LetterClass, Ratio};

/// Where a letter is left towards the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub enum Exit {
    /// At the baseline: a diagonal join leads up to the next.
    Bottom,
    /// At the top of the short letters: a horizontal join leads across.
    Top,
    /// Not at all: the pen is lifted after it.
    None,
}

/// Stories of a form: an *a* or a *g* is taught as one round part, or with a second one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub enum Storeys {
    /// The round form of handwriting.
    One,
    /// The form of most print.
    Two,
}

/// How one small letter is taught.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct LetterForm {
    /// The letter, a to z.
    pub letter: char,
    /// Its height class.
    pub class: LetterClass,
    /// How far it rises above the baseline, in x-heights; 1 for a short letter.
    pub above: Ratio,
    /// How far it falls below the baseline, in x-heights; 0 where it stands on it.
    pub below: Ratio,
    /// Where it is left.
    pub exit: Exit,
    /// The letters it is joined to; empty where it is not joined on.
    pub joins_to: String,
    /// Whether its tall or low part is a loop.
    pub looped: bool,
    /// One or two storeys; only *a* and *g* have a choice.
    pub storeys: Storeys,
}

/// The letters of one school: every small letter once.
///
/// Classes, reaches, exits and the letters that are left unjoined are common practice, with no single
/// source; they differ from school to school, and a tutor can change each of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct LetterModel {
    /// What the tutor calls it.
    pub name: String,
    /// a to z, in this order.
    pub letters: Vec<LetterForm>,
}

/// What is wrong with a letter model.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LetterModelFault {
    /// It has no name, or one beyond [`LetterModel::MOST_NAME_CHARS`].
    Name,
    /// Its letters are not a to z, each once, in order.
    Letters,
    /// A letter's reach does not go with its class, or no letter reaches so far.
    Reach(char),
    /// A letter is joined to what is no small letter or to one twice, is joined on without an exit, or
    /// has an exit and is joined to none.
    Joins(char),
    /// A letter other than *a* and *g* has two storeys.
    Storeys(char),
}

const ALPHABET: &str = "abcdefghijklmnopqrstuvwxyz";
const TALL: &str = "bdfhklt";
const TAIL: &str = "gjpqy";
/// Letters that leave at the bottom wherever letters are joined.
const BOTTOM: &str = "acdehiklmntu";
/// Letters that leave at the top.
const TOP: &str = "orvw";

impl LetterModel {
    /// Most characters of a name.
    pub const MOST_NAME_CHARS: usize = 60;
    /// The furthest that a letter reaches, in x-heights.
    pub const MOST_REACH: f64 = 5.0;

    /// Letters stand apart.
    pub fn unjoined() -> Self {
        Self::start("Unjoined", |_| (Exit::None, ""))
    }

    /// Letters are joined; b, f, g, j, p, q, s, x, y and z are not joined on, and nothing is joined
    /// to x and z.
    pub fn part_joined() -> Self {
        const TAKES: &str = "abcdefghijklmnopqrstuvwy";
        Self::start("Joined, some letters apart", |c| match c {
            c if BOTTOM.contains(c) => (Exit::Bottom, TAKES),
            c if TOP.contains(c) => (Exit::Top, TAKES),
            _ => (Exit::None, ""),
        })
    }

    /// Every letter is joined on; g, j and y by the loop of their tails.
    pub fn joined() -> Self {
        let mut model = Self::start("Joined throughout", |c| match c {
            c if TOP.contains(c) || "bf".contains(c) => (Exit::Top, ALPHABET),
            _ => (Exit::Bottom, ALPHABET),
        });
        for form in &mut model.letters {
            form.looped = "gjy".contains(form.letter);
        }
        model
    }

    /// The three to start from: unjoined, part joined, joined.
    pub fn to_start_from() -> [Self; 3] {
        [Self::unjoined(), Self::part_joined(), Self::joined()]
    }

    fn start(name: &str, joins: impl Fn(char) -> (Exit, &'static str)) -> Self {
        let letters = ALPHABET.chars().map(|letter| {
            let (class, above, below) = match letter {
                't' => (LetterClass::Tall, 1.4, 0.0),
                c if TALL.contains(c) => (LetterClass::Tall, 1.7, 0.0),
                c if TAIL.contains(c) => (LetterClass::Tail, 1.0, 0.7),
                _ => (LetterClass::Short, 1.0, 0.0),
            };
            let (exit, joins_to) = joins(letter);
            LetterForm {
                letter,
                class,
                above: Ratio(above),
                below: Ratio(below),
                exit,
                joins_to: joins_to.to_owned(),
                looped: false,
                storeys: Storeys::One,
            }
        });
        Self {
            name: name.to_owned(),
            letters: letters.collect(),
        }
    }

    /// How a letter is taught; `None` for what is no small letter.
    pub fn form(&self, letter: char) -> Option<&LetterForm> {
        self.letters.iter().find(|form| form.letter == letter)
    }

    /// Where the first letter is left if it is to be joined to the second; `None` where it is not.
    pub fn join(&self, first: char, second: char) -> Option<Exit> {
        let form = self.form(first)?;
        let joined = form.exit != Exit::None && form.joins_to.contains(second);
        joined.then_some(form.exit)
    }

    /// Whether any letters are joined.
    pub fn is_joined(&self) -> bool {
        self.letters.iter().any(|form| form.exit != Exit::None)
    }

    /// Holds the model against what every model must be.
    ///
    /// # Errors
    /// The first fault found, letter by letter.
    pub fn check(&self) -> Result<(), LetterModelFault> {
        let chars = self.name.chars().count();
        if self.name.trim().is_empty() || chars > Self::MOST_NAME_CHARS {
            return Err(LetterModelFault::Name);
        }
        if !self
            .letters
            .iter()
            .map(|form| form.letter)
            .eq(ALPHABET.chars())
        {
            return Err(LetterModelFault::Letters);
        }
        self.letters.iter().try_for_each(LetterForm::check)
    }
}

impl LetterForm {
    fn check(&self) -> Result<(), LetterModelFault> {
        let (above, below) = (self.above.0, self.below.0);
        let within = |value: f64| (0.0..=LetterModel::MOST_REACH).contains(&value);
        let fits = match self.class {
            LetterClass::Short => above == 1.0 && below == 0.0,
            // An f may also fall below the line.
            LetterClass::Tall => above > 1.0 && (below == 0.0 || self.letter == 'f'),
            LetterClass::Tail => above >= 1.0 && below > 0.0,
            LetterClass::Other => false,
        };
        if !(fits && within(above) && within(below)) {
            return Err(LetterModelFault::Reach(self.letter));
        }
        let mut known = self.joins_to.chars().collect::<Vec<_>>();
        known.sort_unstable();
        let twice = known.windows(2).any(|pair| pair[0] == pair[1]);
        let small = known.iter().all(char::is_ascii_lowercase);
        let apart = self.exit == Exit::None;
        if twice || !small || apart != known.is_empty() {
            return Err(LetterModelFault::Joins(self.letter));
        }
        if self.storeys == Storeys::Two && !"ag".contains(self.letter) {
            return Err(LetterModelFault::Storeys(self.letter));
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_three_to_start_from_are_sound() {
        for model in LetterModel::to_start_from() {
            assert_eq!(model.check(), Ok(()), "{}", model.name);
        }
        let joined = LetterModel::to_start_from().map(|model| model.is_joined());
        assert_eq!(joined, [false, true, true]);
    }

    #[test]
    fn exits_are_those_of_common_practice() {
        // Common practice, no source: diagonal from a c d e h i k l m n t u, horizontal from o r v w,
        // nothing to x and z, and after g no join in many schools.
        let model = LetterModel::part_joined();
        assert_eq!(model.join('a', 'n'), Some(Exit::Bottom));
        assert_eq!(model.join('w', 'e'), Some(Exit::Top));
        assert_eq!(model.join('e', 'x'), None);
        assert_eq!(model.join('g', 'e'), None);
        assert_eq!(LetterModel::joined().join('g', 'e'), Some(Exit::Bottom));
        assert_eq!(LetterModel::unjoined().join('a', 'n'), None);
    }

    #[test]
    fn what_no_school_could_teach_is_named() {
        let spoiled = |spoil: fn(&mut LetterModel)| {
            let mut model = LetterModel::part_joined();
            spoil(&mut model);
            model.check()
        };
        use LetterModelFault as Wrong;
        assert_eq!(spoiled(|m| m.name = " ".into()), Err(Wrong::Name));
        assert_eq!(spoiled(|m| m.letters.swap(0, 1)), Err(Wrong::Letters));
        assert_eq!(
            spoiled(|m| m.letters[0].above = Ratio(1.5)),
            Err(Wrong::Reach('a'))
        );
        assert_eq!(
            spoiled(|m| m.letters[1].above = Ratio(f64::NAN)),
            Err(Wrong::Reach('b'))
        );
        assert_eq!(
            spoiled(|m| m.letters[2].joins_to = "aa".into()),
            Err(Wrong::Joins('c'))
        );
        assert_eq!(
            spoiled(|m| m.letters[2].exit = Exit::None),
            Err(Wrong::Joins('c'))
        );
        assert_eq!(
            spoiled(|m| m.letters[3].storeys = Storeys::Two),
            Err(Wrong::Storeys('d'))
        );
    }
}
