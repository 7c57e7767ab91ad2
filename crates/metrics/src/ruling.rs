//! Even light → the ruling: every printed line followed across the sheet, and lifted out.

use image::{GrayImage, Luma, imageops};

use crate::ink::PAPER;
use crate::stats::{self, Curve};

/// A printed line followed across the sheet. For upright lines the words *row* and *column* change
/// places.
#[derive(Debug, Clone)]
pub(crate) struct Rule {
    /// Row, in pixels, for every column; a whole number is the upper edge of a pixel.
    pub rows: Vec<f32>,
}

impl Rule {
    /// Its row at a column.
    pub(crate) fn at(&self, x: f64) -> f64 {
        let last = self.rows.len().saturating_sub(1);
        f64::from(self.rows[(x.max(0.0) as usize).min(last)])
    }
}

/// All that is printed on the sheet.
#[derive(Debug, Clone, Default)]
pub(crate) struct Rulings {
    /// Lines across, top to bottom.
    pub across: Vec<Rule>,
    /// Lines down (squares, margin), left to right.
    pub down: Vec<Rule>,
    /// Reach of a line to both sides of its middle, in pixels, blur included.
    pub half: f64,
}

/// Half the thickness, in millimetres, within which a printed line and its blur lie.
const HALF_MM: f64 = 0.34;
/// Width of the strips in which lines are looked for.
const STRIP_MM: f64 = 6.0;
/// Share of the sheet on which a line must be seen.
const LEAST_SEEN: f64 = 0.4;

/// Finds the lines printed across and down the sheet.
pub(crate) fn find(evened: &GrayImage, px_per_mm: f64) -> Rulings {
    let turned = transpose(evened);
    Rulings {
        across: follow(evened, px_per_mm),
        down: follow(&turned, px_per_mm),
        half: HALF_MM * px_per_mm,
    }
}

fn transpose(grey: &GrayImage) -> GrayImage {
    imageops::flip_horizontal(&imageops::rotate90(grey))
}

/// A place in one strip that is darker than above and below along the whole strip.
#[derive(Debug, Clone, Copy)]
struct Peak {
    row: f64,
    dark: f64,
}

/// Peaks strung together from strip to strip.
#[derive(Debug, Clone)]
struct Chain {
    points: Vec<(f64, f64)>,
    strips: Vec<usize>,
}

impl Chain {
    fn ahead(&self, x: f64) -> f64 {
        let n = self.points.len();
        let last = self.points[n - 1];
        if n < 4 {
            return last.1;
        }
        let tail = &self.points[n.saturating_sub(6)..];
        stats::least_squares(tail).map_or(last.1, |(slope, rest)| slope * x + rest)
    }
}

fn follow(grey: &GrayImage, px_per_mm: f64) -> Vec<Rule> {
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    let strip = (STRIP_MM * px_per_mm) as usize;
    if strip < 12 || w < 4 * strip || h < strip {
        return Vec::new();
    }
    let starts: Vec<usize> = (0..=w - strip).step_by(strip / 2).collect();
    let mut open: Vec<Chain> = Vec::new();
    let mut closed: Vec<Chain> = Vec::new();
    for (index, &start) in starts.iter().enumerate() {
        let middle = (start + strip / 2) as f64;
        let peaks = strip_peaks(grey, start, strip, px_per_mm);
        string(&mut open, &peaks, index, middle, px_per_mm);
        let (going, ended) = open
            .into_iter()
            .partition(|c: &Chain| index - c.strips[c.strips.len() - 1] < 8);
        open = going;
        closed.extend(ended);
    }
    closed.extend(open);
    rules_from(join_ends(closed, px_per_mm), starts.len(), w, px_per_mm)
}

/// How much darker each row of a strip is than the rows above and below, as most of its columns
/// have it: writing darkens few columns of a row, a printed line darkens them all.
fn strip_peaks(grey: &GrayImage, start: usize, strip: usize, px_per_mm: f64) -> Vec<Peak> {
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    let raw = grey.as_raw();
    let away = (0.5 * px_per_mm).round().max(2.0) as usize;
    let columns: Vec<usize> = (0..24).map(|i| start + i * strip / 24).collect();
    let mut dark = vec![0.0f64; h];
    let mut values = [0i32; 24];
    for (y, cell) in dark.iter_mut().enumerate().take(h - away).skip(away) {
        for (value, &x) in values.iter_mut().zip(&columns) {
            let side = raw[(y - away) * w + x].min(raw[(y + away) * w + x]);
            *value = i32::from(side.min(PAPER + 8)) - i32::from(raw[y * w + x]);
        }
        values.sort_unstable();
        *cell = values[6..15].iter().sum::<i32>() as f64 / 9.0;
    }
    let noise = stats::mad(&dark[away..h - away]).unwrap_or(0.0);
    let floor = (4.0 * noise).max(2.5);
    let reach = away.max(2);
    let mut peaks = Vec::new();
    for y in reach..h - reach {
        let around = &dark[y - reach..=y + reach];
        if dark[y] < floor || around[..reach].iter().any(|v| *v >= dark[y]) {
            continue;
        }
        if around[reach + 1..].iter().any(|v| *v > dark[y]) {
            continue;
        }
        let (mut weight, mut sum) = (0.0, 0.0);
        for (k, v) in around.iter().enumerate() {
            let v = (v - 0.25 * dark[y]).max(0.0);
            weight += v;
            sum += v * (y - reach + k) as f64;
        }
        peaks.push(Peak {
            row: sum / weight + 0.5,
            dark: dark[y],
        });
    }
    peaks
}

fn string(open: &mut Vec<Chain>, peaks: &[Peak], index: usize, middle: f64, px_per_mm: f64) {
    let mut taken = vec![false; open.len()];
    let known = open.len();
    for peak in peaks {
        let nearest = (0..known)
            .filter(|&i| !taken[i])
            .map(|i| {
                let missed = (index - open[i].strips[open[i].strips.len() - 1]) as f64;
                let off = (open[i].ahead(middle) - peak.row).abs();
                (i, off, (0.25 + 0.05 * missed) * px_per_mm)
            })
            .filter(|&(_, off, limit)| off < limit)
            .min_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((i, ..)) = nearest {
            taken[i] = true;
            open[i].points.push((middle, peak.row));
            open[i].strips.push(index);
        } else if peak.dark > 0.0 {
            open.push(Chain {
                points: vec![(middle, peak.row)],
                strips: vec![index],
            });
        }
    }
}

/// Puts a chain behind another that it carries on.
fn join_ends(mut chains: Vec<Chain>, px_per_mm: f64) -> Vec<Chain> {
    chains.retain(|c| c.points.len() >= 4);
    chains.sort_by(|a, b| {
        (a.strips[0], a.points[0].1)
            .partial_cmp(&(b.strips[0], b.points[0].1))
            .unwrap_or(core::cmp::Ordering::Equal)
    });
    let mut joined: Vec<Chain> = Vec::new();
    for chain in chains {
        let (x, y) = chain.points[0];
        let before = joined
            .iter_mut()
            .filter(|c| c.points[c.points.len() - 1].0 < x)
            .map(|c| {
                let away = (c.ahead(x) - y).abs();
                (c, away)
            })
            .filter(|(_, away)| *away < 0.6 * px_per_mm)
            .min_by(|a, b| a.1.total_cmp(&b.1));
        match before {
            Some((c, _)) => {
                c.points.extend(chain.points);
                c.strips.extend(chain.strips);
            }
            None => joined.push(chain),
        }
    }
    joined
}

fn rules_from(chains: Vec<Chain>, strips: usize, width: usize, px_per_mm: f64) -> Vec<Rule> {
    let mut rules: Vec<Rule> = chains
        .into_iter()
        .filter(|c| c.points.len() as f64 >= LEAST_SEEN * strips as f64)
        .filter_map(|c| {
            let rows = smooth_rows(&c.points, width, 0.25 * px_per_mm)?;
            Some(Rule { rows })
        })
        .collect();
    let middle = width as f64 / 2.0;
    rules.sort_by(|a, b| a.at(middle).total_cmp(&b.at(middle)));
    rules.dedup_by(|b, a| (b.at(middle) - a.at(middle)).abs() < 0.6 * px_per_mm);
    rules
}

/// The row for every column: a smooth curve through the points, moved by what its neighbourhood is
/// off it (a lens or a crease bends more finely than the curve can), and carried on straight beyond
/// the ends.
fn smooth_rows(points: &[(f64, f64)], width: usize, stray: f64) -> Option<Vec<f32>> {
    let curve = Curve::fit(points, 4)?;
    let off: Vec<(f64, f64)> = points
        .iter()
        .map(|p| (p.0, p.1 - curve.at(p.0)))
        .filter(|p| p.1.abs() < stray)
        .collect();
    let near = |i: usize| {
        let around: Vec<f64> = off[i.saturating_sub(2)..(i + 3).min(off.len())]
            .iter()
            .map(|p| p.1)
            .collect();
        stats::mean(&around).unwrap_or(0.0)
    };
    let moved: Vec<(f64, f64)> = (0..off.len()).map(|i| (off[i].0, near(i))).collect();
    let (first, last) = (points[0].0, points[points.len() - 1].0);
    let tangent = |x: f64| (curve.at(x + 10.0) - curve.at(x - 10.0)) / 20.0;
    let rows = (0..width).map(|x| {
        let x = x as f64 + 0.5;
        let inside = x.clamp(first, last);
        let row = curve.at(inside) + between(&moved, inside) + tangent(inside) * (x - inside);
        row as f32
    });
    Some(rows.collect())
}

/// Linear interpolation; the ends are carried on level.
fn between(points: &[(f64, f64)], x: f64) -> f64 {
    let after = points.partition_point(|p| p.0 < x);
    match (
        after.checked_sub(1).and_then(|i| points.get(i)),
        points.get(after),
    ) {
        (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (x - a.0) / (b.0 - a.0).max(1e-9),
        (Some(end), None) | (None, Some(end)) => end.1,
        (None, None) => 0.0,
    }
}

/// The distance after which a set of line positions repeats.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pitch {
    /// Pixels from one line to the next of its kind.
    pub px: f64,
    /// Standard error of that.
    pub se: f64,
}

/// Fits the repeat distance to positions, starting from a distance that is roughly right.
pub(crate) fn fit_pitch(positions: &[f64], about: f64) -> Option<Pitch> {
    let mut pitch = about;
    let mut spans = Vec::new();
    let longest = positions.last()? - positions.first()?;
    let mut most = 1.0;
    loop {
        spans.clear();
        for (i, a) in positions.iter().enumerate() {
            for b in &positions[i + 1..] {
                let times = ((b - a) / pitch).round();
                let off = ((b - a) - times * pitch).abs();
                let allowed = if most > 1.0 { 0.045 } else { 0.06 };
                if times >= 1.0 && times <= most && off < allowed * about {
                    spans.push((times, b - a));
                }
            }
        }
        if spans.is_empty() {
            return None;
        }
        let square: f64 = spans.iter().map(|s| s.0 * s.0).sum();
        pitch = spans.iter().map(|s| s.0 * s.1).sum::<f64>() / square;
        if most * pitch > longest {
            break;
        }
        most *= 2.0;
    }
    let rest: Vec<f64> = spans.iter().map(|s| s.1 - s.0 * pitch).collect();
    let spread = stats::mad(&rest).unwrap_or(0.0).max(0.05);
    // Pairs share their ends: only as many of them are independent as there are lines.
    let span = spans.iter().map(|s| s.0).fold(1.0, f64::max);
    let lines = positions.len() as f64;
    Some(Pitch {
        px: pitch,
        se: spread / (span * (lines / 6.0).max(1.0).sqrt()),
    })
}

/// Finds the repeat distance where none is known: the shortest distance, within what paper is
/// ruled with, that carries nearly every line onto another.
pub(crate) fn find_pitch(positions: &[f64], px_per_mm: f64) -> Option<Pitch> {
    if positions.len() < 4 {
        return None;
    }
    let mut tried: Vec<f64> = Vec::new();
    for (i, a) in positions.iter().enumerate() {
        for b in &positions[i + 1..] {
            let gap = b - a;
            let fits = (1.5 * px_per_mm..=24.0 * px_per_mm).contains(&gap);
            if fits && tried.iter().all(|t| (t - gap).abs() > 0.2 * px_per_mm) {
                tried.push(gap);
            }
        }
    }
    tried.sort_by(f64::total_cmp);
    let carried = |gap: f64| {
        let near = |y: f64| positions.iter().any(|p| (p - y).abs() < 0.25 * px_per_mm);
        let end = positions[positions.len() - 1];
        let able: Vec<&f64> = positions
            .iter()
            .filter(|p| **p + gap <= end + 1.0)
            .collect();
        let hits = able.iter().filter(|p| near(**p + gap)).count();
        (able.len() >= 2).then(|| hits as f64 / able.len() as f64)
    };
    let about = tried
        .into_iter()
        .find(|gap| carried(*gap).is_some_and(|s| s >= 0.85))?;
    fit_pitch(positions, about)
}

/// The sheet's own rows: undoes the bend that the lines show, so that a printed line is level.
#[derive(Debug, Clone)]
pub(crate) struct Level {
    bends: Vec<(f64, Vec<f32>)>,
}

impl Level {
    /// Takes the bend of every line from its own middle; without lines nothing is bent.
    pub(crate) fn new(rules: &[Rule]) -> Self {
        let bends = rules
            .iter()
            .filter(|r| !r.rows.is_empty())
            .map(|r| {
                let middle = r.rows[r.rows.len() / 2];
                (
                    f64::from(middle),
                    r.rows.iter().map(|y| y - middle).collect(),
                )
            })
            .collect();
        Self { bends }
    }

    /// The row, as it is at the sheet's middle column, of a place on the sheet.
    pub(crate) fn row(&self, x: f64, y: f64) -> f64 {
        y - self.bend(x, y)
    }

    /// The row on the sheet of a level row.
    pub(crate) fn on_sheet(&self, x: f64, level: f64) -> f64 {
        // The bend changes slowly, so that two steps are enough.
        let once = level + self.bend(x, level);
        level + self.bend(x, once)
    }

    fn bend(&self, x: f64, y: f64) -> f64 {
        let Some(first) = self.bends.first() else {
            return 0.0;
        };
        let column = (x.max(0.0) as usize).min(first.1.len() - 1);
        let here = |i: usize| f64::from(self.bends[i].1[column]);
        let after = self
            .bends
            .partition_point(|(middle, bend)| middle + f64::from(bend[column]) < y);
        if after == 0 {
            return here(0);
        }
        if after == self.bends.len() {
            return here(after - 1);
        }
        let (above, below) = (
            self.bends[after - 1].0 + here(after - 1),
            self.bends[after].0 + here(after),
        );
        let t = ((y - above) / (below - above).max(1.0)).clamp(0.0, 1.0);
        here(after - 1) * (1.0 - t) + here(after) * t
    }
}

/// Gives the paper its brightness back under printed lines, leaving the ink that crosses them.
pub(crate) fn lift(evened: &GrayImage, rulings: &Rulings, ink: f64) -> GrayImage {
    let mut out = evened.clone();
    for rule in &rulings.across {
        lift_one(&mut out, rule, rulings.half, ink);
    }
    if !rulings.down.is_empty() {
        let mut turned = transpose(&out);
        for rule in &rulings.down {
            lift_one(&mut turned, rule, rulings.half, ink);
        }
        out = transpose(&turned);
    }
    out
}

/// Half-pixel steps of a line's cross-section, to both sides.
const STEPS: usize = 2 * 2 * 8 + 1;

fn lift_one(grey: &mut GrayImage, rule: &Rule, half: f64, ink: f64) {
    let w = grey.width() as usize;
    let window = (half * 30.0) as usize;
    let starts: Vec<usize> = (0..w).step_by(window.max(1)).collect();
    // All sections are taken before any of the line is lifted: they overlap.
    let sections: Vec<[f64; STEPS]> = starts
        .iter()
        .map(|&start| cross_section(grey, rule, start..(start + window).min(w), half))
        .collect();
    for (&start, dark) in starts.iter().zip(&sections) {
        for x in start..(start + window).min(w) {
            lift_column(grey, x, f64::from(rule.rows[x]), half, dark, ink);
        }
    }
}

/// How much darker than its paper the line is, in half-pixel steps from its middle; as most of the
/// columns have it.
fn cross_section(
    grey: &GrayImage,
    rule: &Rule,
    columns: core::ops::Range<usize>,
    half: f64,
) -> [f64; STEPS] {
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    // A wider stretch than the one lifted gives a steadier figure.
    let wide = columns.start.saturating_sub(columns.len())..(columns.end + columns.len()).min(w);
    let raw = grey.as_raw();
    let mut found: Vec<Vec<f64>> = vec![Vec::new(); STEPS];
    let mut paper = Vec::new();
    for x in wide {
        let middle = f64::from(rule.rows[x]);
        let first = (middle - half - 4.0).max(0.0) as usize;
        for y in first..((middle + half + 4.0).max(0.0) as usize).min(h) {
            let off = y as f64 + 0.5 - middle;
            let value = f64::from(raw[y * w + x]);
            if off.abs() <= half {
                let step = (off * 2.0).round() as isize + (STEPS / 2) as isize;
                if let Some(cell) = found.get_mut(step.max(0) as usize) {
                    cell.push(value);
                }
            } else if off.abs() > half + 1.0 {
                paper.push(value);
            }
        }
    }
    let paper = stats::quantile(&paper, 0.6).unwrap_or(f64::from(PAPER));
    let mut out = [0.0; STEPS];
    for (cell, values) in out.iter_mut().zip(&found) {
        *cell = stats::quantile(values, 0.55).map_or(0.0, |v| (paper - v).max(0.0));
    }
    out
}

fn lift_column(
    grey: &mut GrayImage,
    x: usize,
    middle: f64,
    half: f64,
    dark: &[f64; STEPS],
    ink: f64,
) {
    let h = grey.height() as usize;
    let first = (middle - half).max(0.0) as usize;
    for y in first..((middle + half + 1.0).max(0.0) as usize).min(h) {
        let off = y as f64 + 0.5 - middle;
        if off.abs() > half {
            continue;
        }
        let place = (off * 2.0 + (STEPS / 2) as f64).clamp(0.0, (STEPS - 1) as f64);
        let low = (place as usize).min(STEPS - 2);
        let t = place - low as f64;
        let missing = dark[low] * (1.0 - t) + dark[low + 1] * t;
        let pixel = grey.get_pixel_mut(x as u32, y as u32);
        let value = f64::from(pixel[0]);
        // Ink hides as much of the line as it covers of the paper.
        let printed = f64::from(PAPER) - missing;
        let covered = ((printed - value) / (printed - ink).max(25.0)).clamp(0.0, 1.0);
        let lifted = value + missing * (1.0 - covered);
        *pixel = Luma([(lifted.min(value.max(f64::from(PAPER))) + 0.5) as u8]);
    }
}

/// 255 on and beside printed lines.
pub(crate) fn cover(size: (u32, u32), rulings: &Rulings) -> GrayImage {
    let mut out = GrayImage::new(size.0, size.1);
    let reach = rulings.half + 1.0;
    for rule in &rulings.across {
        for (x, &row) in rule.rows.iter().enumerate().take(size.0 as usize) {
            band(row, reach, size.1).for_each(|y| out.put_pixel(x as u32, y, Luma([255])));
        }
    }
    for rule in &rulings.down {
        for (y, &column) in rule.rows.iter().enumerate().take(size.1 as usize) {
            band(column, reach, size.0).for_each(|x| out.put_pixel(x, y as u32, Luma([255])));
        }
    }
    out
}

fn band(middle: f32, reach: f64, end: u32) -> core::ops::Range<u32> {
    let middle = f64::from(middle);
    let first = (middle - reach).max(0.0) as u32;
    first..((middle + reach).max(0.0) as u32).min(end)
}

/// Takes away what is left of lines in the mask: runs no thicker than a line, lying on it, with
/// nothing above or below. What crosses a line is thicker and stays whole.
pub(crate) fn erase_rests(mask: &mut GrayImage, rulings: &Rulings) {
    for rule in &rulings.across {
        for (x, &row) in rule.rows.iter().enumerate() {
            erase_at(mask, x, f64::from(row), rulings.half, false);
        }
    }
    for rule in &rulings.down {
        for (y, &column) in rule.rows.iter().enumerate() {
            erase_at(mask, y, f64::from(column), rulings.half, true);
        }
    }
}

fn erase_at(mask: &mut GrayImage, along: usize, middle: f64, half: f64, upright: bool) {
    let end = if upright { mask.width() } else { mask.height() };
    let first = (middle - half).max(0.0) as u32;
    let last = ((middle + half).max(0.0) as u32).min(end.saturating_sub(1));
    let pixel = |at: u32| {
        if upright {
            (at, along as u32)
        } else {
            (along as u32, at)
        }
    };
    let ink = |mask: &GrayImage, at: u32| {
        let (x, y) = pixel(at);
        mask.get_pixel(x, y)[0] > 0
    };
    if first >= last || last + 1 >= end {
        return;
    }
    let crossed = (first > 0 && ink(mask, first - 1) && ink(mask, first))
        || (ink(mask, last) && ink(mask, last + 1));
    let thick = (first..=last).filter(|&at| ink(mask, at)).count();
    // The foot of a letter may lie along a line: what is as thick as a stroke is left.
    if crossed || thick as f64 > 0.5 * half {
        return;
    }
    for at in first..=last {
        let (x, y) = pixel(at);
        mask.put_pixel(x, y, Luma([0]));
    }
}
