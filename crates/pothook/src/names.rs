//! Words of the command line for the records' choices, both ways.

use std::str::FromStr;

use app::units::{
    Amendment, Aspect, BoxMm, CorrectionKind, FaultKind, Hand, JoinVerdict, LetterModel, Mm, Paper,
    PointMm, Role, Ruling, TaskKind, Unit, WhyNot,
};

fn choose<T: Copy>(text: &str, choices: &[(&str, T)]) -> Result<T, String> {
    choices
        .iter()
        .find(|(name, _)| *name == text)
        .map(|(_, value)| *value)
        .ok_or_else(|| {
            let names: Vec<_> = choices.iter().map(|(name, _)| *name).collect();
            format!("choose one of {}", names.join(", "))
        })
}

fn name_of<T: Copy + PartialEq>(value: T, choices: &[(&'static str, T)]) -> &'static str {
    choices
        .iter()
        .find(|(_, other)| *other == value)
        .map_or("?", |(name, _)| name)
}

const PAPERS: &[(&str, Paper)] = &[
    ("a4", Paper::A4),
    ("a5", Paper::A5),
    ("us-letter", Paper::UsLetter),
];
/// Makes a letter model to start from.
type Start = fn() -> LetterModel;
const MODELS: &[(&str, Start)] = &[
    ("unjoined", LetterModel::unjoined),
    ("joined", LetterModel::part_joined),
    ("joined-throughout", LetterModel::joined),
];
const ROLES: &[(&str, Role)] = &[("tutor", Role::Tutor), ("parent", Role::Parent)];
const HANDS: &[(&str, Hand)] = &[("left", Hand::Left), ("right", Hand::Right)];
const KINDS: &[(&str, TaskKind)] = &[
    ("copied", TaskKind::Copied),
    ("dictated", TaskKind::Dictated),
    ("own-words", TaskKind::OwnWords),
];
const ASPECTS: &[(&str, Aspect)] = &[
    ("baseline", Aspect::Baseline),
    ("x-height", Aspect::XHeight),
    ("reach", Aspect::Reach),
    ("form", Aspect::Form),
    ("joins", Aspect::Joins),
    ("gaps", Aspect::Gaps),
    ("slant", Aspect::Slant),
    ("corrections", Aspect::Corrections),
];

pub(crate) fn paper(text: &str) -> Result<Paper, String> {
    choose(text, PAPERS)
}

pub(crate) fn model(text: &str) -> Result<LetterModel, String> {
    choose(text, MODELS).map(|model| model())
}

pub(crate) fn role(text: &str) -> Result<Role, String> {
    choose(text, ROLES)
}

pub(crate) fn hand(text: &str) -> Result<Hand, String> {
    choose(text, HANDS)
}

pub(crate) fn kind(text: &str) -> Result<TaskKind, String> {
    choose(text, KINDS)
}

pub(crate) fn aspect(text: &str) -> Result<Aspect, String> {
    choose(text, ASPECTS)
}

pub(crate) fn hand_name(hand: Hand) -> &'static str {
    name_of(hand, HANDS)
}

pub(crate) fn role_name(role: Role) -> &'static str {
    name_of(role, ROLES)
}

pub(crate) fn kind_name(kind: TaskKind) -> &'static str {
    name_of(kind, KINDS)
}

pub(crate) fn aspect_name(aspect: Aspect) -> &'static str {
    name_of(aspect, ASPECTS)
}

pub(crate) fn unit_name(unit: Unit) -> &'static str {
    match unit {
        Unit::Mm => "mm",
        Unit::Degrees => "°",
        Unit::Ratio => "×",
        Unit::Share => "share",
        Unit::OWidths => "o",
        Unit::PercentPer100Mm => "% per 100 mm",
        Unit::Per100Words => "per 100 words",
        Unit::LettersPerMinute => "letters/min",
    }
}

pub(crate) fn reason(why: WhyNot) -> &'static str {
    match why {
        WhyNot::NoRuling => "there is no ruling to hold it against",
        WhyNot::TooFewLetters => "there are too few letters of the kind needed",
        WhyNot::TooFewWords => "there are too few words",
        WhyNot::LinesTooShort => "no line is long enough",
        WhyNot::NoO => "no o was found to measure by",
        WhyNot::LettersNotApart => "the letters could not be told apart",
        WhyNot::NeedsText => "the text of the page is needed",
        WhyNot::NotTimed => "nobody timed the page",
        WhyNot::TextDoesNotFit => "the text is not that of this page",
        WhyNot::NoJoins => "the letter model joins no letters",
    }
}

/// A fault's name in a result.
pub(crate) fn fault_name(fault: FaultKind) -> &'static str {
    match fault {
        FaultKind::Open => "open",
        FaultKind::EyeClosed => "eye_closed",
        FaultKind::Reversed => "reversed",
        FaultKind::Apart => "apart",
        FaultKind::NoDot => "no_dot",
        FaultKind::NoBar => "no_bar",
        FaultKind::NotTall => "not_tall",
        FaultKind::NotBelow => "not_below",
        FaultKind::HighBowl => "high_bowl",
        FaultKind::ReadsAsOther => "reads_as_other",
    }
}

/// A fault in words.
pub(crate) fn fault_words(fault: FaultKind) -> &'static str {
    match fault {
        FaultKind::Open => "bowl left open",
        FaultKind::EyeClosed => "no eye",
        FaultKind::Reversed => "turned round",
        FaultKind::Apart => "in two parts",
        FaultKind::NoDot => "no dot",
        FaultKind::NoBar => "no bar",
        FaultKind::NotTall => "not taller than the short letters",
        FaultKind::NotBelow => "tail not below the line",
        FaultKind::HighBowl => "bowl too high",
        FaultKind::ReadsAsOther => "reads as another letter",
    }
}

/// What a person put right, in words.
pub(crate) fn amendment_words(amendment: &Amendment) -> String {
    match *amendment {
        Amendment::Letter { letter, bounds, .. } => match bounds {
            Some(_) => format!("{letter}: its ink is elsewhere"),
            None => format!("{letter}: no ink is this letter"),
        },
        Amendment::Fault {
            letter,
            fault,
            there,
            ..
        } => format!(
            "{letter}: {}{}",
            if there { "" } else { "not so: " },
            fault_words(fault)
        ),
        Amendment::Reads {
            letter, as_meant, ..
        } => match as_meant {
            true => format!("{letter}: reads as {letter}"),
            false => format!("{letter}: does not read as {letter}"),
        },
        Amendment::Join {
            letter, verdict, ..
        } => {
            let how = match verdict {
                JoinVerdict::Joined => "joined on",
                JoinVerdict::Missing => "not joined on",
                JoinVerdict::WrongHeight => "joined on at the wrong height",
            };
            format!("{letter}: {how}")
        }
        Amendment::Correction { kind, .. } => match kind {
            None => "no correction here".to_owned(),
            Some(CorrectionKind::StruckOnce) => "a correction: struck once".to_owned(),
            Some(CorrectionKind::StruckManyTimes) => "a correction: struck many times".to_owned(),
            Some(CorrectionKind::WrittenOver) => "a correction: written over".to_owned(),
            Some(CorrectionKind::Bracketed) => "a correction: in brackets".to_owned(),
        },
        Amendment::NotWriting { .. } => "no writing here".to_owned(),
        Amendment::Line { .. } => "a line of writing here".to_owned(),
    }
}

/// A ruling: `plain`, `lines:8`, `squares:5`, `squares:5x2`, `four-line:12/4` (mm).
pub(crate) fn ruling(text: &str) -> Result<Ruling, String> {
    const SHAPES: &str = "write plain, lines:8, squares:5, squares:5x2 or four-line:12/4";
    let length = |text: &str| match f64::from_str(text) {
        Ok(mm) if (1.0..=60.0).contains(&mm) => Ok(Mm(mm)),
        _ => Err("a ruling is 1 to 60 mm wide".to_owned()),
    };
    match text.split_once(':') {
        None if text == "plain" => Ok(Ruling::Plain),
        Some(("lines", pitch)) => Ok(Ruling::Lines {
            pitch: length(pitch)?,
        }),
        Some(("squares", side)) => {
            let (side, every) = side.split_once('x').unwrap_or((side, "1"));
            let every = choose(every, &[("1", 1), ("2", 2)])?;
            Ok(Ruling::Squares {
                side: length(side)?,
                every,
            })
        }
        Some(("four-line", pitch)) => {
            let (pitch, inner) = pitch.split_once('/').ok_or(SHAPES)?;
            Ok(Ruling::FourLine {
                pitch: length(pitch)?,
                inner: length(inner)?,
            })
        }
        _ => Err(SHAPES.to_owned()),
    }
}

fn numbers<const N: usize>(text: &str, shape: &str) -> Result<[f64; N], String> {
    let parts: Result<Vec<f64>, _> = text.split(',').map(|part| part.trim().parse()).collect();
    let numbers: [f64; N] = parts
        .ok()
        .and_then(|parts| parts.try_into().ok())
        .ok_or(format!("write {shape} in mm"))?;
    if numbers.iter().all(|mm| (0.0..=500.0).contains(mm)) {
        Ok(numbers)
    } else {
        Err("a place on a page is 0 to 500 mm from its corner".to_owned())
    }
}

pub(crate) fn point(text: &str) -> Result<PointMm, String> {
    let [x, y] = numbers(text, "x,y")?;
    Ok(PointMm { x: Mm(x), y: Mm(y) })
}

pub(crate) fn bounds(text: &str) -> Result<BoxMm, String> {
    let [x0, y0, x1, y1] = numbers(text, "x0,y0,x1,y1")?;
    if x0 < x1 && y0 < y1 {
        Ok(BoxMm {
            x0: Mm(x0),
            y0: Mm(y0),
            x1: Mm(x1),
            y1: Mm(y1),
        })
    } else {
        Err("a box has its top left corner first".to_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rulings_are_read_and_nonsense_is_not() {
        assert_eq!(ruling("lines:8.73"), Ok(Ruling::Lines { pitch: Mm(8.73) }));
        assert_eq!(
            ruling("squares:5x2"),
            Ok(Ruling::Squares {
                side: Mm(5.0),
                every: 2
            })
        );
        assert_eq!(
            ruling("four-line:12/4"),
            Ok(Ruling::FourLine {
                pitch: Mm(12.0),
                inner: Mm(4.0)
            })
        );
        for wrong in [
            "",
            "lines",
            "lines:0",
            "lines:x",
            "lines:NaN",
            "squares:5x9",
            "four-line:9",
        ] {
            assert!(ruling(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn every_aspect_has_a_name_that_leads_back() {
        for known in Aspect::ALL {
            assert_eq!(aspect(aspect_name(known)), Ok(known));
        }
    }
}
