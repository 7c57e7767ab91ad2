//! A flat page → a reading: runs the stages in their order and rounds what they give.

use units::{
    Correction, CorrectionKind, Degrees, Expectation, Fitness, Frame, LetterModel, Line, Measure,
    MeasureName, Mm, Outcome, PointMm, Ratio, Reading, Ruling, RulingFound, ScaleSource, WhyNot,
};

use crate::Page;
use crate::aspects::{self, Evidence};
use crate::ink::{self, Ink};
use crate::letters::{self, Glyph, Hand, LineLetters, WordInk};
use crate::lines::{self, TextLine};
use crate::maths::{atan, hypot};
use crate::pieces::{self, BoxPx, Piece};
use crate::ruling::{self, Level, Pitch, Print, Rule, Rulings};
use crate::stats::{self, Curve, round};
use crate::text::{self, Shapes};
use crate::words::{self, Along, Blob, Struck};

/// Name and version of the engine, as kept with every reading.
pub const ENGINE: &str = "pothook-metrics/0.1.0";

/// The ruling's repeat distance and the scale may differ by this much before they are held to be
/// of different papers.
const AGREE: f64 = 0.04;

/// Everything that was found on a page, in pixels.
pub(crate) struct Found {
    pub evened: image::GrayImage,
    pub rulings: Rulings,
    pub level: Level,
    pub ink: Ink,
    pub pieces: Vec<Piece>,
    pub pitch: Option<Pitch>,
    /// Whether the pitch is the expected one.
    pub agrees: bool,
    pub lines: Vec<TextLine>,
    /// Level row of the printed line under each line of writing.
    pub rules: Vec<Option<f64>>,
    pub lean: f64,
    pub blobs: Vec<Vec<Blob>>,
    pub words: Vec<WordInk>,
    pub glyphs: Vec<Glyph>,
    pub corrections: Vec<(CorrectionKind, BoxPx)>,
    pub text_known: bool,
}

/// Reads a page: every measure, or why it was not taken. Never fails.
#[tracing::instrument(level = "trace", name = "read", skip_all)]
pub fn read_page(page: &Page, expect: &Expectation, fitness: Fitness) -> Reading {
    let found = find(page, expect);
    let frame = scaled_frame(page, expect, &found);
    let mm = 1.0 / frame.px_per_mm;
    let evidence = Evidence {
        ink: &found.ink,
        level: &found.level,
        lines: &found.lines,
        rules: &found.rules,
        words: &found.words,
        glyphs: &found.glyphs,
        corrections: &found.corrections,
        lean: found.lean,
        mm,
        scale_se: frame.scale_se.0,
        text_known: found.text_known,
    };
    Reading {
        engine: ENGINE.to_string(),
        fitness,
        ruling: ruling_found(page, expect, &found, mm),
        lines: report_lines(&evidence),
        words: found.words.iter().map(|w| report_word(w, mm)).collect(),
        letters: found
            .glyphs
            .iter()
            .map(|g| report_letter(&evidence, g))
            .collect(),
        corrections: found
            .corrections
            .iter()
            .map(|(kind, b)| Correction {
                kind: *kind,
                bounds: box_mm(*b, mm),
            })
            .collect(),
        measures: in_order(aspects::all(&evidence)),
        frame,
    }
}

/// Runs every stage up to letters.
pub(crate) fn find(page: &Page, expect: &Expectation) -> Found {
    let px_per_mm = page.frame.px_per_mm;
    let evened = ink::even(&page.grey, px_per_mm);
    let rulings = ruling::find(&evened, px_per_mm, print(expect, px_per_mm));
    let (pitch, agrees) = pitch_of(&rulings, expect, px_per_mm);
    let level = Level::new(&rulings.across);
    let ink = ink::find(&evened, &rulings, px_per_mm);
    let pieces = pieces::writing(&ink.mask, px_per_mm);
    let written = match (agrees, expect.ruling.line_pitch(), pitch) {
        (true, Some(wanted), Some(p)) => Some(p.px * wanted.0 / printed_pitch(expect)),
        _ => None,
    };
    let lines = lines::find(
        pieces.clone(),
        &level,
        page.grey.dimensions(),
        px_per_mm,
        written,
    );
    let rules = rules_under(&lines, &rulings, written);
    let mut found = Found {
        evened,
        rulings,
        level,
        ink,
        pieces,
        pitch,
        agrees,
        rules,
        lines,
        lean: 0.0,
        blobs: Vec::new(),
        words: Vec::new(),
        glyphs: Vec::new(),
        corrections: Vec::new(),
        text_known: false,
    };
    read_lines(&mut found, expect);
    found
}

/// Distance, in millimetres, after which the printed lines repeat.
fn printed_pitch(expect: &Expectation) -> f64 {
    match expect.ruling {
        Ruling::Squares { side, .. } => side.0,
        other => other.line_pitch().map_or(0.0, |p| p.0),
    }
}

/// What is expected to be printed, in pixels.
fn print(expect: &Expectation, px_per_mm: f64) -> Print {
    let across = printed_pitch(expect) * px_per_mm;
    let squares = matches!(expect.ruling, Ruling::Squares { .. });
    Print {
        across: (across > 0.0).then_some(across),
        down: squares.then_some(across),
    }
}

/// The repeat distance of the printed lines, and whether it is the expected one.
fn pitch_of(rulings: &Rulings, expect: &Expectation, px_per_mm: f64) -> (Option<Pitch>, bool) {
    let rows: Vec<f64> = rulings.across.iter().map(Rule::middle).collect();
    if rows.len() < 3 {
        return (None, false);
    }
    let wanted = printed_pitch(expect) * px_per_mm;
    if wanted > 0.0
        && let Some(pitch) = ruling::fit_pitch(&rows, wanted)
        && (pitch.px / wanted - 1.0).abs() <= AGREE
    {
        return (Some(pitch), true);
    }
    (ruling::find_pitch(&rows, px_per_mm), false)
}

/// The level row of the printed line that each line of writing stands on. Lines of writing agree
/// on which of several lines in a group that is.
fn rules_under(lines: &[TextLine], rulings: &Rulings, pitch: Option<f64>) -> Vec<Option<f64>> {
    let rows: Vec<f64> = rulings.across.iter().map(|r| r.middle()).collect();
    let Some(pitch) = pitch.filter(|_| !rows.is_empty()) else {
        return vec![None; lines.len()];
    };
    let away = |row: f64, phase: f64| {
        let turns = (row - phase) / pitch;
        ((turns - turns.round()) * pitch).abs()
    };
    let misfit = |phase: f64| -> f64 {
        let each: Vec<f64> = lines.iter().map(|l| away(l.base, phase)).collect();
        stats::median(&each).unwrap_or(0.0)
    };
    let phase = rows
        .iter()
        .copied()
        .min_by(|a, b| misfit(*a).total_cmp(&misfit(*b)));
    let Some(phase) = phase else {
        return vec![None; lines.len()];
    };
    lines
        .iter()
        .map(|line| {
            let near = rows
                .iter()
                .copied()
                .filter(|r| away(*r, phase) < 0.06 * pitch)
                .min_by(|a, b| (a - line.base).abs().total_cmp(&(b - line.base).abs()))?;
            ((near - line.base).abs() < 0.6 * pitch).then_some(near)
        })
        .collect()
}

/// Blobs, crossings-out, words and letters of every line.
#[tracing::instrument(level = "trace", name = "words and letters", skip_all)]
fn read_lines(found: &mut Found, expect: &Expectation) {
    found.lean = words::usual_lean(&found.lines, &found.level);
    let mut shapes = Shapes::general();
    let mut read: Vec<LineLetters> = Vec::new();
    let joined = expect.model == LetterModel::Joined;
    for round in 0..3 {
        let along = |line| Along {
            line,
            level: &found.level,
            lean: found.lean,
        };
        found.blobs = found
            .lines
            .iter()
            .map(|l| words::blobs(along(l), found.ink.pen))
            .collect();
        let widths: Vec<f64> = found
            .lines
            .iter()
            .zip(&found.blobs)
            .map(|(l, b)| letters::written_width(b, l.x_height))
            .collect();
        let texts = match &expect.text {
            Some(text) => text::match_lines(text, &widths),
            None => vec![None; widths.len()],
        };
        found.text_known = texts.iter().any(Option::is_some);
        let gaps: Vec<f64> = found
            .lines
            .iter()
            .zip(&found.blobs)
            .flat_map(|(l, b)| letters::gaps(along(l), b))
            .collect();
        let spaces: usize = texts
            .iter()
            .flatten()
            .map(|t| t.iter().filter(|c| **c == ' ').count())
            .sum();
        let known = texts.iter().all(Option::is_some).then_some(spaces);
        let hand = Hand {
            ink: &found.ink,
            shapes: &shapes,
            limit: words::word_gap_limit(&gaps, known),
            joined,
        };
        read = found
            .lines
            .iter()
            .zip(&found.blobs)
            .zip(&texts)
            .enumerate()
            .map(|(i, ((line, blobs), text))| match text {
                Some(text) => letters::with_text(i, along(line), blobs, text, hand),
                None => letters::by_shape(i, along(line), blobs, hand),
            })
            .collect();
        if round < 2 {
            let x_heights: Vec<f64> = found.lines.iter().map(|l| l.x_height).collect();
            letters::learn(&mut shapes, &read, &x_heights);
            settle(&mut found.lines, &read, &found.level);
        }
    }
    for line in read {
        let before = found.words.len();
        found.words.extend(line.words);
        found.glyphs.extend(line.glyphs.into_iter().map(|mut g| {
            g.word += before;
            g
        }));
    }
    found.corrections = corrections(&found.words, &found.glyphs);
}

/// Moves every line's baseline and height to where its letters are.
fn settle(lines: &mut [TextLine], read: &[LineLetters], level: &Level) {
    let mut heights_of_page = Vec::new();
    for (line, letters) in lines.iter_mut().zip(read) {
        let sure: Vec<&Glyph> = letters
            .glyphs
            .iter()
            .filter(|g| g.confidence >= 0.4)
            .collect();
        let feet: Vec<(f64, f64)> = sure
            .iter()
            .filter(|g| aspects::stands(g))
            .map(|g| {
                let foot = level.row(g.edges.bottom.0, g.edges.bottom.1);
                ((g.edges.left + g.edges.right) / 2.0, foot)
            })
            .collect();
        if feet.len() >= 4
            && let Some((slope, rest)) = stats::theil_sen(&feet)
            && slope.abs() < 0.1
        {
            line.slope = slope;
            line.base = rest + slope * line.middle;
        }
        let heights: Vec<f64> = sure
            .iter()
            .filter(|g| g.class == units::LetterClass::Short)
            .map(|g| g.edges.bottom.1 - g.edges.top.1)
            .collect();
        if let Some(height) = stats::median(&heights).filter(|_| heights.len() >= 4) {
            line.x_height = height;
            heights_of_page.push(height);
        }
    }
    // A line with few letters takes the page's height rather than a chance one.
    if let Some(usual) = stats::median(&heights_of_page) {
        for line in lines {
            if !(0.75..1.33).contains(&(line.x_height / usual)) {
                line.x_height = usual;
            }
        }
    }
}

/// Corrections, top to bottom and left to right.
fn corrections(words: &[WordInk], glyphs: &[Glyph]) -> Vec<(CorrectionKind, BoxPx)> {
    let struck = words.iter().filter_map(|word| {
        let kind = match word.struck? {
            Struck::Once => CorrectionKind::StruckOnce,
            Struck::ManyTimes => CorrectionKind::StruckManyTimes,
            Struck::Bracketed => CorrectionKind::Bracketed,
        };
        Some((word.line, kind, word.piece.bounds()))
    });
    let over = letters::written_over(glyphs).into_iter().map(|i| {
        let bounds = glyphs[i].piece.bounds();
        (glyphs[i].line, CorrectionKind::WrittenOver, bounds)
    });
    let mut all: Vec<(usize, CorrectionKind, BoxPx)> = struck.chain(over).collect();
    all.sort_by_key(|(line, _, b)| (*line, b.x0, b.y0));
    all.into_iter().map(|(_, kind, b)| (kind, b)).collect()
}

/// The frame with the scale that the ruling gives, where it is the better one.
fn scaled_frame(page: &Page, expect: &Expectation, found: &Found) -> Frame {
    let mut frame = page.frame.clone();
    let (Some(pitch), true) = (found.pitch, found.agrees) else {
        return frame;
    };
    if frame.scale_source == ScaleSource::Sheet {
        return frame;
    }
    let factor = printed_pitch(expect) * frame.px_per_mm / pitch.px;
    frame.px_per_mm /= factor;
    frame.width = frame.width * factor;
    frame.height = frame.height * factor;
    frame.scale_source = ScaleSource::Ruling;
    // Printed rulings keep their pitch to a few parts in a thousand.
    frame.scale_se = Ratio(round(hypot(pitch.se / pitch.px, 0.0015), 5));
    frame.px_per_mm = round(frame.px_per_mm, 6);
    frame.width = Mm(round(frame.width.0, 3));
    frame.height = Mm(round(frame.height.0, 3));
    frame
}

fn ruling_found(page: &Page, expect: &Expectation, found: &Found, mm: f64) -> Option<RulingFound> {
    let pitch = found.pitch?;
    let width = f64::from(page.grey.width());
    let written = if found.agrees {
        pitch.px * expect.ruling.line_pitch()?.0 / printed_pitch(expect)
    } else {
        pitch.px
    };
    let phase = found.rules.iter().flatten().next().copied();
    let rules = found
        .rulings
        .across
        .iter()
        .filter(|r| {
            phase.is_none_or(|p| {
                let turns = (r.middle() - p) / written;
                (turns - turns.round()).abs() < 0.06
            })
        })
        .map(|r| {
            let point = |x: f64, y: f64| PointMm {
                x: Mm(round(x * mm, 2)),
                y: Mm(round(y * mm, 2)),
            };
            (point(0.0, r.at(0.0)), point(width, r.at(width)))
        })
        .collect();
    Some(RulingFound {
        pitch: Mm(round(written * mm, 3)),
        rules,
    })
}

fn box_mm(b: BoxPx, mm: f64) -> units::BoxMm {
    let at = |v: u32| Mm(round(f64::from(v) * mm, 2));
    units::BoxMm {
        x0: at(b.x0),
        y0: at(b.y0),
        x1: at(b.x1),
        y1: at(b.y1),
    }
}

fn rounded_box(b: units::BoxMm) -> units::BoxMm {
    units::BoxMm {
        x0: Mm(round(b.x0.0, 2)),
        y0: Mm(round(b.y0.0, 2)),
        x1: Mm(round(b.x1.0, 2)),
        y1: Mm(round(b.y1.0, 2)),
    }
}

fn report_lines(evidence: &Evidence<'_>) -> Vec<Line> {
    let fits = aspects::baseline::fits(evidence);
    evidence
        .lines
        .iter()
        .enumerate()
        .map(|(index, line)| {
            let bounds = Piece::union(
                evidence
                    .words
                    .iter()
                    .filter(|w| w.line == index)
                    .map(|w| &w.piece),
            );
            let bounds = if bounds.runs.is_empty() {
                Piece::union(line.pieces.iter()).bounds()
            } else {
                bounds.bounds()
            };
            let fit = fits.iter().find(|f| f.line == index);
            let curve = fit.and_then(|f| {
                let feet: Vec<(f64, f64)> = f.feet.iter().map(|p| (p.0, p.1)).collect();
                Curve::fit(&feet, 3)
            });
            let (first, last) = (f64::from(bounds.x0), f64::from(bounds.x1));
            let baseline = (0..=6)
                .map(|k| {
                    let x = first + (last - first) * f64::from(k) / 6.0;
                    let row = curve.map_or(line.base_at(x), |c| c.at(x));
                    PointMm {
                        x: Mm(round(x * evidence.mm, 2)),
                        y: Mm(round(evidence.level.on_sheet(x, row) * evidence.mm, 2)),
                    }
                })
                .collect();
            Line {
                bounds: box_mm(bounds, evidence.mm),
                baseline,
                x_height: Some(Mm(round(line.x_height * evidence.mm, 3))),
                drift: fit.map(|f| Degrees(round(-atan(f.slope).to_degrees(), 3))),
            }
        })
        .collect()
}

fn report_word(word: &WordInk, mm: f64) -> units::Word {
    units::Word {
        line: word.line,
        bounds: box_mm(word.piece.bounds(), mm),
        text: word.text.clone(),
        struck: word.struck.is_some(),
    }
}

fn report_letter(evidence: &Evidence<'_>, glyph: &Glyph) -> units::Letter {
    units::Letter {
        line: glyph.line,
        word: glyph.word,
        bounds: rounded_box(evidence.place(glyph)),
        class: glyph.class,
        char: glyph.ch,
        confidence: Ratio(round(glyph.confidence, 3)),
        slant: aspects::slant::stem(evidence, glyph).map(|s| Degrees(round(s.lean, 2))),
    }
}

/// Every measure once, in the fixed order, rounded.
fn in_order(named: Vec<aspects::Named>) -> Vec<Measure> {
    MeasureName::ALL
        .iter()
        .map(|name| {
            let outcome = named
                .iter()
                .find(|(n, _)| n == name)
                .map_or(aspects::missing(WhyNot::TooFewLetters), |(_, o)| o.clone());
            Measure {
                name: *name,
                outcome: rounded(outcome),
            }
        })
        .collect()
}

fn rounded(outcome: Outcome) -> Outcome {
    match outcome {
        Outcome::Measured {
            value,
            se,
            spread,
            n,
            places,
        } => Outcome::Measured {
            value: round(value, 4),
            se: round(se, 4).max(0.0001),
            spread: spread.map(|s| round(s, 4)),
            n,
            places: places.into_iter().map(rounded_box).collect(),
        },
        missing => missing,
    }
}
