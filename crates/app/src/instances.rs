//! A letter or a word through the weeks: every place where the pages have it.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use units::{BoxMm, Letter, Mm, PageRecord, Problem, Reading, Word};

use crate::App;
use crate::api::{FindLetters, Instance, LettersFound, LettersOfPage};
use crate::crops::around;
use crate::pupils::count;

/// Most instances of one page.
const MOST_OF_PAGE: usize = 12;
/// Most letters and words that are offered for choosing.
const MOST_OFTEN: usize = 40;
/// Most letters among them: as many as the alphabet has.
const MOST_LETTERS: usize = 26;
/// Fewest letters of a word that is offered.
const SHORTEST_WORD: usize = 3;
/// Most characters that are looked for.
const LONGEST: usize = 60;

/// What is looked for.
enum Wanted<'a> {
    /// Nothing yet.
    Nothing,
    Letter(char),
    Word(&'a str),
}

impl App {
    /// Every instance of a letter or a word on a pupil's pages, and what the pages have most. An empty
    /// text finds nothing, but tells what there is.
    ///
    /// # Errors
    /// There is no such pupil on this device, the text is too long, or the disk cannot be read.
    pub fn find_letters(&self, input: FindLetters) -> Result<LettersFound, Problem> {
        let text = input.text.trim();
        if text.chars().count() > LONGEST {
            return Err(Problem::new(
                "text-too-long",
                "This is too long for a letter or a word.",
                format!("Ask for one letter, or for one word of at most {LONGEST} characters."),
            ));
        }
        let wanted = wanted(text);
        let books = self.books(input.pupil)?;
        let mut pages = Vec::new();
        let mut often = Often::default();
        for page in &books.pages {
            let Some(reading) = self.newest_reading(input.pupil, page)? else {
                continue;
            };
            often.add(&reading);
            // Without its picture a page has nothing to show yet.
            if self.has_blob(input.pupil, page.picture)? {
                pages.extend(of_page(page, &reading, &wanted));
            }
        }
        Ok(LettersFound {
            text: text.to_owned(),
            pages,
            often: often.most(),
        })
    }
}

fn wanted(text: &str) -> Wanted<'_> {
    let mut chars = text.chars();
    match (chars.next(), chars.next()) {
        (Some(one), None) => Wanted::Letter(one),
        _ => match bare(text) {
            "" => Wanted::Nothing,
            word => Wanted::Word(word),
        },
    }
}

/// A word without what stands before and after it.
fn bare(word: &str) -> &str {
    word.trim_matches(|c: char| !c.is_alphanumeric())
}

fn of_page(page: &PageRecord, reading: &Reading, wanted: &Wanted<'_>) -> Option<LettersOfPage> {
    let heights = XHeights::of(reading);
    let show = |at: BoxMm, line, faults, sure| {
        let crop = around(page.picture, &reading.frame, &at, heights.of_line(line))?;
        Some(Instance {
            at,
            crop,
            faults,
            sure,
        })
    };
    let (found, all): (Vec<Instance>, usize) = match wanted {
        Wanted::Nothing => return None,
        Wanted::Letter(letter) => {
            let all = reading.letters.iter();
            let all = all.filter(|one| one.char == Some(*letter) && is_ink(one));
            let show = |one: &Letter| {
                let faults = one.faults.iter().map(|fault| fault.kind).collect();
                show(with_dot(one), one.line, faults, one.is_sure())
            };
            let first = all.clone().take(MOST_OF_PAGE);
            (first.filter_map(show).collect(), all.count())
        }
        Wanted::Word(text) => {
            let all = reading.words.iter().enumerate();
            let all = all.filter(|(_, word)| word.text.as_deref().map(bare) == Some(*text));
            let show = |(at, word): (usize, &Word)| {
                let mut letters = reading.letters.iter().filter(|one| one.word == at);
                let sure = letters.clone().next().is_some() && letters.all(Letter::is_sure);
                show(word.bounds, word.line, Vec::new(), sure)
            };
            let first = all.clone().take(MOST_OF_PAGE);
            (first.filter_map(show).collect(), all.count())
        }
    };
    (!found.is_empty()).then_some(LettersOfPage {
        page: page.id,
        written_on: page.written_on,
        kind: page.kind,
        found,
        more: count(all.saturating_sub(MOST_OF_PAGE)),
    })
}

/// Whether there is ink for a letter: a person may have said that there is none.
pub(crate) fn is_ink(letter: &Letter) -> bool {
    !letter.by_hand || letter.confidence.0 > 0.0
}

/// All ink of a letter.
pub(crate) fn with_dot(letter: &Letter) -> BoxMm {
    letter.dot.iter().fold(letter.bounds, BoxMm::union)
}

/// The x-heights of a page's lines.
pub(crate) struct XHeights {
    lines: Vec<Option<Mm>>,
    usual: Mm,
}

impl XHeights {
    pub(crate) fn of(reading: &Reading) -> Self {
        /// A common size of handwriting, where no line of the page tells.
        const USUAL: Mm = Mm(2.5);
        let lines: Vec<Option<Mm>> = reading.lines.iter().map(|line| line.x_height).collect();
        let mut known: Vec<f64> = lines.iter().flatten().map(|height| height.0).collect();
        known.sort_by(f64::total_cmp);
        let usual = known.get(known.len() / 2).map_or(USUAL, |mm| Mm(*mm));
        Self { lines, usual }
    }

    /// That of a line; the middle of the others where it has none of its own.
    pub(crate) fn of_line(&self, line: usize) -> Mm {
        let own = self.lines.get(line).copied().flatten();
        own.unwrap_or(self.usual)
    }
}

/// How often the pages have each letter and each word.
#[derive(Default)]
struct Often {
    letters: BTreeMap<String, usize>,
    words: BTreeMap<String, usize>,
}

impl Often {
    fn add(&mut self, reading: &Reading) {
        let letters = reading.letters.iter().filter(|letter| is_ink(letter));
        let letters = letters.filter_map(|letter| letter.char);
        for letter in letters.filter(|letter| letter.is_alphabetic()) {
            *self.letters.entry(letter.to_string()).or_default() += 1;
        }
        let words = reading.words.iter().filter_map(|word| word.text.as_deref());
        for word in words.map(bare) {
            if word.chars().filter(|c| c.is_alphabetic()).count() >= SHORTEST_WORD {
                *self.words.entry(word.to_owned()).or_default() += 1;
            }
        }
    }

    /// The letters, then the words, each most first; those as often as each other by the alphabet.
    fn most(self) -> Vec<String> {
        let by_count = |counted: BTreeMap<String, usize>| {
            let mut counted: Vec<_> = counted.into_iter().collect();
            counted.sort_by_key(|(_, count)| Reverse(*count));
            counted.into_iter().map(|(text, _)| text)
        };
        by_count(self.letters)
            .take(MOST_LETTERS)
            .chain(by_count(self.words))
            .take(MOST_OFTEN)
            .collect()
    }
}
