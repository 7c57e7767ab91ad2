//! Printed lines → rows that follow them.

use super::Rule;

/// Columns from one known bend of a line to the next: lines bend slowly, and few numbers stay near
/// the processor.
const STEP: usize = 8;

/// The sheet's own rows: undoes the bend that the lines show, so that a printed line is level.
#[derive(Debug, Clone)]
pub(crate) struct Level {
    /// Rows of the lines at the sheet's middle column.
    middles: Vec<f64>,
    /// Their rows at every so many columns, column by column.
    rows: Vec<f32>,
}

impl Level {
    /// Takes the bend of every line from its own middle; without lines nothing is bent.
    pub(crate) fn new(rules: &[Rule]) -> Self {
        let rules: Vec<&Rule> = rules.iter().filter(|r| !r.rows.is_empty()).collect();
        let width = rules.iter().map(|r| r.rows.len()).min().unwrap_or(0);
        let columns = (0..width).step_by(STEP);
        Self {
            middles: rules.iter().map(|r| r.middle()).collect(),
            rows: columns
                .flat_map(|x| rules.iter().map(move |r| r.rows[x]))
                .collect(),
        }
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

    /// How far a printed line leans here: rows down for each column.
    pub(crate) fn slope(&self, x: f64, y: f64) -> f64 {
        const REACH: f64 = 60.0;
        (self.bend(x + REACH, y) - self.bend(x - REACH, y)) / (2.0 * REACH)
    }

    fn bend(&self, x: f64, y: f64) -> f64 {
        let lines = self.middles.len();
        if lines == 0 {
            return 0.0;
        }
        let column = (x.max(0.0) as usize / STEP).min(self.rows.len() / lines - 1);
        let rows = &self.rows[column * lines..(column + 1) * lines];
        let bend = |i: usize| f64::from(rows[i]) - self.middles[i];
        let after = rows.partition_point(|row| f64::from(*row) < y);
        if after == 0 {
            return bend(0);
        }
        if after == lines {
            return bend(after - 1);
        }
        let (above, below) = (f64::from(rows[after - 1]), f64::from(rows[after]));
        let t = ((y - above) / (below - above).max(1.0)).clamp(0.0, 1.0);
        bend(after - 1) * (1.0 - t) + bend(after) * t
    }
}
