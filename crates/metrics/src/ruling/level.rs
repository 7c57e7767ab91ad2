//! Printed lines → rows that follow them.

use super::Rule;

/// Columns from one known bend of a line to the next: lines bend slowly, and few numbers stay near
/// the processor.
const STEP: usize = 8;

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
                    r.rows.iter().step_by(STEP).map(|y| y - middle).collect(),
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

    /// How far a printed line leans here: rows down for each column.
    pub(crate) fn slope(&self, x: f64, y: f64) -> f64 {
        const REACH: f64 = 60.0;
        (self.bend(x + REACH, y) - self.bend(x - REACH, y)) / (2.0 * REACH)
    }

    fn bend(&self, x: f64, y: f64) -> f64 {
        let Some(first) = self.bends.first() else {
            return 0.0;
        };
        let column = (x.max(0.0) as usize / STEP).min(first.1.len() - 1);
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
