//! Pieces → lines of writing, each with its baseline and the height of its short letters.

use crate::pieces::{BoxPx, Piece};
use crate::ruling::Level;
use crate::stats;

/// A line of writing. Rows are level rows (see [`Level`]), in pixels.
#[derive(Debug, Clone)]
pub(crate) struct TextLine {
    /// Its ink.
    pub pieces: Vec<Piece>,
    /// Row of the baseline at column `middle`.
    pub base: f64,
    /// Rows down for each column to the right.
    pub slope: f64,
    /// The column that `base` is given for.
    pub middle: f64,
    /// Height of its short letters.
    pub x_height: f64,
}

impl TextLine {
    /// Level row of the baseline at a column.
    pub(crate) fn base_at(&self, x: f64) -> f64 {
        self.base + self.slope * (x - self.middle)
    }
}

/// Ink counted by strips of the sheet's width and level rows.
struct Counts {
    strips: Vec<Vec<f64>>,
    strip: f64,
    rows: usize,
    middle: f64,
}

impl Counts {
    fn new(pieces: &[Piece], level: &Level, size: (u32, u32), px_per_mm: f64) -> Self {
        let strip = 3.0 * px_per_mm;
        let n = (f64::from(size.0) / strip).ceil() as usize + 1;
        let rows = size.1 as usize;
        let mut strips = vec![vec![0.0; rows]; n];
        for run in pieces.iter().flat_map(|p| &p.runs) {
            let x = f64::from(run.x0 + run.x1) / 2.0;
            let row = level.row(x, f64::from(run.y) + 0.5);
            if row >= 0.0 && (row as usize) < rows {
                strips[(x / strip) as usize][row as usize] += f64::from(run.x1 - run.x0);
            }
        }
        Self {
            strips,
            strip,
            rows,
            middle: f64::from(size.0) / 2.0,
        }
    }

    /// Ink of every row between two rows, once lines of the given slope are made level.
    fn profile(&self, slope: f64, first: isize, last: isize) -> Vec<f64> {
        let mut out = vec![0.0; (last - first).max(0) as usize];
        for (i, strip) in self.strips.iter().enumerate() {
            let x = (i as f64 + 0.5) * self.strip - self.middle;
            let shift = (slope * x).round() as isize;
            for (k, cell) in out.iter_mut().enumerate() {
                let row = first + k as isize + shift;
                if row >= 0 && (row as usize) < self.rows {
                    *cell += strip[row as usize];
                }
            }
        }
        out
    }

    /// The slope within reach of `about` that makes the profile sharpest.
    fn sharpest(&self, about: f64, reach: f64, step: f64, rows: (isize, isize)) -> f64 {
        let steps = (reach / step).round() as i32;
        let mut best = (f64::MIN, about);
        for k in -steps..=steps {
            let slope = about + f64::from(k) * step;
            let score: f64 = self
                .profile(slope, rows.0, rows.1)
                .iter()
                .map(|v| v * v)
                .sum();
            // Among equals the flattest: a page without writing has no slope.
            let score = score * (1.0 - 0.02 * (k.abs() as f64 / steps.max(1) as f64));
            if score > best.0 {
                best = (score, slope);
            }
        }
        best.1
    }
}

/// Finds the lines of writing, top to bottom. `pitch` is the distance of written lines in pixels
/// where the ruling gives it; in each of the places `told`, pixels of the sheet, stands one line.
#[tracing::instrument(level = "trace", name = "lines", skip_all)]
pub(crate) fn find(
    pieces: Vec<Piece>,
    level: &Level,
    size: (u32, u32),
    px_per_mm: f64,
    pitch: Option<f64>,
    told: &[BoxPx],
) -> Vec<TextLine> {
    if pieces.is_empty() {
        return Vec::new();
    }
    let counts = Counts::new(&pieces, level, size, px_per_mm);
    let all = (0, counts.rows as isize);
    let rough = counts.sharpest(0.0, 0.09, 0.005, all);
    let slope = counts.sharpest(rough, 0.005, 0.001, all);
    let profile = counts.profile(slope, all.0, all.1);
    let Some(distance) = pitch.or_else(|| line_distance(&profile, px_per_mm)) else {
        return Vec::new();
    };
    let told = told
        .iter()
        .map(|place| Told::of(place, level, size, slope, counts.middle));
    let told: Vec<Told> = told.collect();
    let mut lines: Vec<TextLine> = centres(&profile, distance, px_per_mm)
        .into_iter()
        .filter(|centre| !told.iter().any(|line| line.covers(*centre)))
        .filter_map(|centre| zone(&counts, slope, centre, distance, None))
        .collect();
    let heights: Vec<f64> = lines.iter().map(|l| l.x_height).collect();
    if let Some(usual) = stats::median(&heights) {
        for line in &mut lines {
            if !(0.8..1.25).contains(&(line.x_height / usual)) {
                let centre = line.base - line.x_height / 2.0;
                let again = zone(&counts, slope, centre as usize, distance, Some(usual));
                *line = again.unwrap_or(line.clone());
            }
        }
    }
    // A line that was squeezed in is seldom as high as the others.
    lines.extend(told.iter().filter_map(|line| {
        // Its edges lie within the place or hardly beyond it.
        let reach = distance.min(1.6 * (line.bottom - line.top));
        zone(&counts, slope, line.centre(), reach, None)
    }));
    share_out(pieces, &mut lines, level);
    lines.retain(|line| is_writing(line, px_per_mm));
    lines.sort_by(|a, b| a.base.total_cmp(&b.base));
    lines
}

/// Rows between which one line of writing stands, at the middle of the sheet and made level.
struct Told {
    top: f64,
    bottom: f64,
}

impl Told {
    fn of(place: &BoxPx, level: &Level, size: (u32, u32), slope: f64, middle: f64) -> Self {
        let x = f64::from(place.x0 + place.x1.min(size.0)) / 2.0;
        let row = |y: u32| {
            let row = level.row(x, f64::from(y.min(size.1))) - slope * (x - middle);
            row.clamp(0.0, f64::from(size.1))
        };
        Self {
            top: row(place.y0),
            bottom: row(place.y1),
        }
    }

    /// The middle of a line's writing is near that of its short letters.
    fn centre(&self) -> usize {
        ((self.top + self.bottom) / 2.0) as usize
    }

    fn covers(&self, row: usize) -> bool {
        (self.top..=self.bottom).contains(&(row as f64))
    }
}

/// The distance at which the profile is most like itself.
fn line_distance(profile: &[f64], px_per_mm: f64) -> Option<f64> {
    let soft = stats::smooth(profile, 0.5 * px_per_mm);
    let first = soft.iter().position(|v| *v > 0.0)?;
    let last = soft.iter().rposition(|v| *v > 0.0)?;
    // A line of one word must count beside a full one.
    let high = soft.iter().copied().fold(0.0, f64::max);
    let inked: Vec<f64> = soft[first..=last]
        .iter()
        .map(|v| (v / high).min(0.3).sqrt())
        .collect();
    let mean = stats::mean(&inked)?;
    let centred: Vec<f64> = inked.iter().map(|v| v - mean).collect();
    let power: f64 = centred.iter().map(|v| v * v).sum();
    let mut best: Option<(f64, usize)> = None;
    let reach = ((30.0 * px_per_mm) as usize).min(centred.len() * 2 / 3);
    let alike: Vec<f64> = (0..reach)
        .map(|lag| {
            let sum: f64 = centred[lag..]
                .iter()
                .zip(&centred)
                .map(|(a, b)| a * b)
                .sum();
            sum / power.max(1.0) * (centred.len() as f64 / (centred.len() - lag) as f64).sqrt()
        })
        .collect();
    let near = |lag: usize| {
        let (from, to) = (lag - lag / 14, (lag + lag / 14).min(alike.len() - 1));
        alike[from..=to].iter().copied().fold(f64::MIN, f64::max)
    };
    for lag in (5.0 * px_per_mm) as usize..reach.saturating_sub(1) {
        let peak = alike[lag] >= alike[lag - 1] && alike[lag] >= alike[lag + 1];
        // What repeats once repeats twice; the two edges of large letters do not.
        let again = 2 * lag >= reach || near(2 * lag) > 0.05;
        // A multiple of the distance is nearly as good, and where every second line is short it is
        // better: the first good one is wanted.
        if peak && again && alike[lag] > 0.15 && best.is_none_or(|(v, _)| alike[lag] > 3.0 * v) {
            best = Some((alike[lag], lag));
        }
    }
    Some(best.map_or((last - first + 1) as f64 * 1.5, |(_, lag)| lag as f64))
}

/// Rows of the middles of lines: the highest places of the profile, one for each line.
fn centres(profile: &[f64], distance: f64, px_per_mm: f64) -> Vec<usize> {
    let soft = stats::smooth(profile, (0.11 * distance).max(0.3 * px_per_mm));
    let mut peaks: Vec<usize> = (1..soft.len().saturating_sub(1))
        .filter(|&i| soft[i] > 0.0 && soft[i] >= soft[i - 1] && soft[i] > soft[i + 1])
        .collect();
    peaks.sort_by(|a, b| soft[*b].total_cmp(&soft[*a]).then(a.cmp(b)));
    let Some(&highest) = peaks.first() else {
        return Vec::new();
    };
    let floor = 0.02 * soft[highest];
    let mut kept: Vec<usize> = Vec::new();
    for peak in peaks {
        let apart = kept
            .iter()
            .all(|k| k.abs_diff(peak) as f64 > 0.6 * distance);
        if soft[peak] > floor && apart {
            kept.push(peak);
        }
    }
    kept.sort_unstable();
    kept
}

/// The zone of short letters about a line's middle: where the profile rises and falls most.
fn zone(
    counts: &Counts,
    slope: f64,
    centre: usize,
    distance: f64,
    usual: Option<f64>,
) -> Option<TextLine> {
    let reach = (0.5 * distance) as isize;
    let (first, last) = (centre as isize - reach, centre as isize + reach);
    let slope = counts.sharpest(slope, 0.014, 0.002, (first, last));
    let profile = counts.profile(slope, first, last);
    if profile.len() < 12 {
        return None;
    }
    let soft = stats::smooth(&profile, (0.012 * distance).max(1.0));
    let step = ((0.03 * distance) as usize).max(2);
    let rise = |k: usize| soft[k + step] - soft[k - step];
    let centre_at = reach as usize;
    let within = |k: usize| k >= step && k + step < soft.len();
    let (mut top, mut base) = ((f64::MIN, 0), (f64::MIN, 0));
    match usual {
        None => {
            for k in (step..=centre_at).filter(|k| within(*k)) {
                if rise(k) > top.0 {
                    top = (rise(k), k);
                }
            }
            for k in (centre_at..soft.len()).filter(|k| within(*k)) {
                if -rise(k) > base.0 {
                    base = (-rise(k), k);
                }
            }
        }
        Some(height) => {
            // A short line has too little ink for both edges: the usual height holds them together.
            let height = height as usize;
            for k in (step..soft.len()).filter(|k| within(*k) && within(k + height)) {
                let score = rise(k) - rise(k + height);
                if score > top.0 {
                    top = (score, k);
                    base = (score, k + height);
                }
            }
        }
    }
    (base.1 > top.1).then(|| TextLine {
        pieces: Vec::new(),
        base: first as f64 + base.1 as f64 + 0.5,
        slope,
        middle: counts.middle,
        x_height: (base.1 - top.1) as f64,
    })
}

/// Gives every piece to the line whose zone of short letters it shares most rows with, or else to
/// the nearest. A piece that fills the zones of two lines is parted between them.
fn share_out(pieces: Vec<Piece>, lines: &mut [TextLine], level: &Level) {
    let mut given: Vec<Vec<Piece>> = vec![Vec::new(); lines.len()];
    for piece in pieces {
        let b = piece.bounds();
        let x = f64::from(b.x0 + b.x1) / 2.0;
        let (top, bottom) = (level.row(x, f64::from(b.y0)), level.row(x, f64::from(b.y1)));
        let shared: Vec<f64> = lines
            .iter()
            .map(|l| {
                let base = l.base_at(x);
                (bottom.min(base) - top.max(base - l.x_height)) / l.x_height
            })
            .collect();
        let filled: Vec<usize> = (0..lines.len()).filter(|&i| shared[i] > 0.6).collect();
        if filled.len() > 1 {
            let (between, above) = (&filled[1..], &*lines);
            let parts = piece.part(filled.len(), |run| {
                move |px| {
                    let px = f64::from(px);
                    let row = level.row(px, f64::from(run.y) + 0.5);
                    let past = |i: &&usize| row > border(&above[**i - 1], &above[**i], px);
                    between.iter().filter(past).count()
                }
            });
            for (part, i) in parts.into_iter().zip(filled) {
                if !part.runs.is_empty() {
                    given[i].push(part);
                }
            }
        } else if let Some(best) = (0..lines.len()).max_by(|a, b| shared[*a].total_cmp(&shared[*b]))
            && shared[best] > -1.3
        {
            given[best].push(piece);
        }
    }
    for (line, pieces) in lines.iter_mut().zip(given) {
        line.pieces = pieces;
    }
}

/// Level row half-way between the zones of two neighbouring lines.
fn border(above: &TextLine, below: &TextLine, x: f64) -> f64 {
    (above.base_at(x) + below.base_at(x) - below.x_height) / 2.0
}

/// Whether there is enough of a line to be writing.
fn is_writing(line: &TextLine, px_per_mm: f64) -> bool {
    let tall_enough = line
        .pieces
        .iter()
        .map(Piece::bounds)
        .filter(|b| b.height() > 0.5 * line.x_height);
    let width: f64 = tall_enough.map(|b| b.width()).sum();
    width > 0.3 * line.x_height && line.x_height > 0.8 * px_per_mm
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_that_are_short_every_second_time_are_each_counted() {
        // Twelve lines 13 mm apart at 10 px a millimetre, bodies 4 mm high, every second a word.
        let mut profile = vec![0.0; 1900];
        for line in 0..12 {
            let ink = if line % 2 == 0 { 300.0 } else { 25.0 };
            for (row, cell) in profile[100 + 130 * line..][..40].iter_mut().enumerate() {
                // The rows at which bodies begin and end hold most ink.
                *cell = ink * if (6..34).contains(&row) { 0.6 } else { 1.0 };
            }
        }
        let distance = line_distance(&profile, 10.0).expect("lines");
        assert!((distance - 130.0).abs() < 5.0, "{distance}");
    }
}
