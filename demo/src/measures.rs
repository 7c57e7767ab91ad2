//! The true measures of a writing. Formulas: `tests/pages/README.md`.

use std::collections::BTreeMap;

use units::{LetterClass, LetterModel, MeasureName};

use crate::outline::{bounds, crossings, extent};
use crate::paper::Sheet;
use crate::stats::{self, mean, median, rms, sd, theil_sen};
use crate::truth::round;
use crate::writing::{Writing, WrittenLetter, white_between};

/// Letters further than this from the rule, in x-heights of the page, do not stand on it.
const ON_LINE_WITHIN: f64 = 0.15;

const SHORT: &str = "aceimnorsuvwxz";
const TALL: &str = "bdfhklt";
const TAIL: &str = "gjpqy";
/// Letters that stand on the baseline.
const STANDING: &str = "abcdehiklmnorstuvwxz";

/// The height class of a character.
pub fn class(char: char) -> LetterClass {
    if SHORT.contains(char) {
        LetterClass::Short
    } else if TALL.contains(char) {
        LetterClass::Tall
    } else if TAIL.contains(char) {
        LetterClass::Tail
    } else {
        LetterClass::Other
    }
}

/// Measures of which a drawn page has no truth: how well a typeface forms and joins its letters is a
/// matter of opinion, and no sheet of paper tells how long the writing took.
pub const UNTOLD: [MeasureName; 4] = [
    MeasureName::TallClear,
    MeasureName::WellFormed,
    MeasureName::JoinsMade,
    MeasureName::Pace,
];

/// Every measure of a writing that the drawing tells.
pub fn of(
    writing: &Writing,
    sheet: &Sheet,
    model: &LetterModel,
) -> BTreeMap<&'static str, Option<f64>> {
    let all = 0..writing.lines.len();
    let short: Vec<f64> = all
        .clone()
        .flat_map(|line| heights(writing, line))
        .map(|(_, height)| height)
        .collect();
    let x_height = mean(&short);
    let fits: Vec<(usize, stats::Fit)> = all
        .clone()
        .filter_map(|line| Some((line, line_fit(writing, line)?)))
        .collect();
    let drift: Vec<f64> = fits
        .iter()
        .map(|(_, fit)| libm::atan(-fit.slope).to_degrees())
        .collect();
    let residuals: Vec<f64> = fits
        .iter()
        .flat_map(|(line, fit)| {
            let off = |(x, y): (f64, f64)| y - fit.at(x);
            bottoms(writing, *line).into_iter().map(off)
        })
        .collect();
    let above: Vec<f64> = all
        .clone()
        .flat_map(|line| {
            bottoms(writing, line)
                .into_iter()
                .map(move |point| (line, point))
        })
        .filter(|_| !sheet.rules().is_empty())
        .map(|(line, (_, bottom))| writing.lines[line].rule - bottom)
        .collect();
    let within = ON_LINE_WITHIN * x_height.unwrap_or(0.0);
    let on = above.iter().filter(|off| off.abs() <= within).count();
    let leans = leans(writing);
    let o_width = o_width(writing, model);
    let (inside, apart) = gaps(writing, model, o_width);
    let words = writing.words.len();
    let value = |name: MeasureName| match name {
        MeasureName::Drift => median(&drift),
        MeasureName::Wander => rms(&residuals),
        MeasureName::Offset => median(&above),
        MeasureName::OnLine => (!above.is_empty()).then(|| on as f64 / above.len() as f64),
        MeasureName::XHeight => x_height,
        MeasureName::XHeightCv => Some(sd(&short)? / x_height?),
        MeasureName::Growth => growth(writing),
        MeasureName::AscenderRatio => Some(reach(writing, "bdhkl")? / x_height?),
        MeasureName::DescenderRatio => Some(reach(writing, TAIL)? / x_height?),
        MeasureName::LetterGap => mean(&inside),
        MeasureName::LetterGapCv => Some(sd(&inside)? / mean(&inside)?),
        MeasureName::WordGap => mean(&apart),
        MeasureName::WordGapCv => Some(sd(&apart)? / mean(&apart)?),
        MeasureName::OWidth => o_width,
        MeasureName::Slant => mean(&leans),
        MeasureName::SlantSd => sd(&leans),
        MeasureName::Corrections => {
            (words > 0).then(|| writing.corrections.len() as f64 / words as f64 * 100.0)
        }
        // What the drawing does not tell: see UNTOLD.
        MeasureName::TallClear
        | MeasureName::WellFormed
        | MeasureName::JoinsMade
        | MeasureName::Pace => None,
    };
    let told = MeasureName::ALL
        .iter()
        .filter(|name| !UNTOLD.contains(name));
    told.map(|name| (name.text(), value(*name).map(|value| round(value, 4))))
        .collect()
}

/// Letters that the measures rest on: none that a correction lies on.
fn counted(writing: &Writing) -> impl Iterator<Item = &WrittenLetter> {
    writing.letters.iter().filter(|letter| !letter.corrected)
}

/// Middle and bottom of the ink of letters that stand on the baseline, mm.
fn bottoms(writing: &Writing, line: usize) -> Vec<(f64, f64)> {
    counted(writing)
        .filter(|letter| letter.line == line && letter.standard && STANDING.contains(letter.char))
        .filter_map(|letter| bounds(&letter.body))
        .map(|found| ((found.x0.0 + found.x1.0) / 2.0, found.y1.0))
        .collect()
}

/// The line through the feet of one line of writing; `None` where it is short.
pub fn line_fit(writing: &Writing, line: usize) -> Option<stats::Fit> {
    let points = bottoms(writing, line);
    let reach = points.last()?.0 - points.first()?.0;
    (points.len() >= 5 && reach > 20.0).then(|| theil_sen(&points))?
}

/// Ink heights of the short letters with their middles, line by line, mm.
fn heights(writing: &Writing, line: usize) -> Vec<(f64, f64)> {
    counted(writing)
        .filter(|letter| letter.line == line && letter.standard && SHORT.contains(letter.char))
        .filter_map(|letter| bounds(&letter.body))
        .map(|found| ((found.x0.0 + found.x1.0) / 2.0, found.y1.0 - found.y0.0))
        .collect()
}

/// Mean over long lines of the change of x-height, per cent for each 100 mm.
fn growth(writing: &Writing) -> Option<f64> {
    let changes: Vec<f64> = (0..writing.lines.len())
        .map(|line| heights(writing, line))
        .filter(|points| points.len() >= 8)
        .filter(|points| points[points.len() - 1].0 - points[0].0 > 40.0)
        .filter_map(|points| {
            let sizes: Vec<f64> = points.iter().map(|(_, height)| *height).collect();
            Some(stats::least_squares(&points)?.slope * 100.0 / mean(&sizes)? * 100.0)
        })
        .collect();
    mean(&changes)
}

/// Median reach of letters above (tall) or below (tails) the place where they were set, mm.
fn reach(writing: &Writing, letters: &str) -> Option<f64> {
    let found: Vec<f64> = counted(writing)
        .filter(|letter| letters.contains(letter.char))
        .filter_map(|letter| {
            let ink = bounds(&letter.body)?;
            Some(match class(letter.char) {
                LetterClass::Tail => ink.y1.0 - letter.base,
                _ => letter.base - ink.y0.0,
            })
        })
        .collect();
    median(&found)
}

/// Lean of the stems of b d h l p outside the x-zone, degrees.
fn leans(writing: &Writing) -> Vec<f64> {
    counted(writing).filter_map(lean).collect()
}

/// Lean of one letter's stem: the middle of its ink, row by row, above the short letters (below
/// the baseline for p), without the rounded end.
fn lean(letter: &WrittenLetter) -> Option<f64> {
    const ROWS: usize = 40;
    let ink = bounds(&letter.body)?;
    let height = letter.x_height;
    let (from, to) = match letter.char {
        'b' | 'd' | 'h' | 'l' => (ink.y0.0, letter.base - height * 1.08),
        'p' => (letter.base + height * 0.08, ink.y1.0),
        _ => return None,
    };
    if to - from < 0.25 * height {
        return None;
    }
    let end = (0.1 * height).min((to - from) / 5.0);
    let (from, to) = if letter.char == 'p' {
        (from, to - end)
    } else {
        (from + end, to)
    };
    let middles: Vec<(f64, f64)> = (0..ROWS)
        .filter_map(|row| {
            let y = from + (to - from) * (row as f64 + 0.5) / ROWS as f64;
            let (left, right) = extent(&letter.body, y)?;
            Some((y, (left + right) / 2.0))
        })
        .collect();
    Some(libm::atan(-stats::least_squares(&middles)?.slope).to_degrees())
}

/// Median width of the o. A joined o is taken at the rows of its own hollow, where no join is.
fn o_width(writing: &Writing, model: &LetterModel) -> Option<f64> {
    let found: Vec<f64> = counted(writing)
        .filter(|letter| letter.char == 'o')
        .filter_map(|letter| match model.is_joined() {
            false => {
                let ink = bounds(&letter.body)?;
                Some(ink.x1.0 - ink.x0.0)
            }
            true => ring_width(letter),
        })
        .collect();
    median(&found)
}

/// Width of a joined o's ring: the widest of the rows in which its ink is two plain strokes.
fn ring_width(letter: &WrittenLetter) -> Option<f64> {
    const ROWS: usize = 30;
    (0..ROWS)
        .filter_map(|row| {
            let share = 0.2 + 0.5 * row as f64 / ROWS as f64;
            let row = crossings(&letter.body, letter.base - letter.x_height * share);
            (row.len() == 4).then(|| row[3] - row[0])
        })
        .max_by(f64::total_cmp)
}

/// White between neighbouring small letters of a word, and between neighbouring words, in o
/// widths.
fn gaps(writing: &Writing, model: &LetterModel, o_width: Option<f64>) -> (Vec<f64>, Vec<f64>) {
    let Some(o_width) = o_width else {
        return (Vec::new(), Vec::new());
    };
    let (mut inside, mut apart) = (Vec::new(), Vec::new());
    for pair in writing.letters.windows(2) {
        let [left, right] = pair else { continue };
        let usable = left.line == right.line
            && !left.corrected
            && !right.corrected
            && left.char.is_alphabetic()
            && right.char.is_alphabetic();
        let Some(white) = white_between(left, right).filter(|_| usable) else {
            continue;
        };
        if left.word != right.word {
            apart.push(white / o_width);
        } else if !model.is_joined() && left.char.is_lowercase() && right.char.is_lowercase() {
            inside.push(white / o_width);
        }
    }
    (inside, apart)
}
