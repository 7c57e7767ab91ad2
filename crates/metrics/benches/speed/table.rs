//! The table of ratios.

use std::fmt;

use crate::photos;

/// What a ratio should be, and what it may never be.
#[derive(Debug, Clone, Copy, Default)]
pub struct Limit {
    goal: Option<f64>,
    most: Option<f64>,
}

impl Limit {
    /// Shown only.
    pub fn none() -> Self {
        Self::default()
    }

    /// Should be at most this; never more, unless another limit is set.
    pub fn goal(goal: f64) -> Self {
        Self {
            goal: Some(goal),
            most: Some(goal),
        }
    }

    /// May miss its goal up to this.
    pub fn never_above(self, most: f64) -> Self {
        Self {
            most: Some(most),
            ..self
        }
    }
}

#[derive(Debug, Clone, PartialEq)]
struct Row {
    what: String,
    figure: String,
    against: String,
    ratio: f64,
    limit: String,
    verdict: &'static str,
}

/// Rows in the order they were measured.
#[derive(Debug, Default)]
pub struct Table {
    rows: Vec<Row>,
}

impl Table {
    /// A time and what it is held against, both in seconds.
    pub fn ratio(&mut self, what: &str, time: f64, against: &str, other: f64, limit: Limit) {
        let figure = format!("{:.1} ms", 1e3 * time);
        self.add(what, figure, against, time / other, limit);
    }

    /// Memory in megabytes, beside a limit that may be binding.
    pub fn memory(&mut self, what: &str, megabytes: f64, most: f64, binding: bool) {
        let limit = if binding {
            Limit::goal(1.0)
        } else {
            Limit::none()
        };
        let against = format!("{most:.0} MB");
        let figure = format!("{megabytes:.0} MB");
        self.add(what, figure, &against, megabytes / most, limit);
    }

    fn add(&mut self, what: &str, figure: String, against: &str, ratio: f64, limit: Limit) {
        let verdict = match (limit.goal, limit.most) {
            (Some(goal), _) if ratio <= goal => "yes",
            (_, Some(most)) if ratio <= most => "goal missed",
            (_, Some(_)) => "over",
            _ => "",
        };
        let limit = match (limit.goal, limit.most) {
            (Some(goal), Some(most)) if most > goal => format!("≤ {goal} (never > {most})"),
            (Some(goal), _) => format!("≤ {goal}"),
            _ => String::new(),
        };
        self.rows.push(Row {
            what: what.to_owned(),
            figure,
            against: against.to_owned(),
            ratio,
            limit,
            verdict,
        });
    }

    /// Whether no limit is broken.
    pub fn holds(&self) -> bool {
        self.rows.iter().all(|row| row.verdict != "over")
    }

    /// Writes the table beside what else the benchmark leaves.
    pub fn write(&self) -> Result<(), String> {
        let file = photos::folder()?.join("speed.txt");
        std::fs::write(&file, self.to_string()).map_err(|e| format!("{}: {e}", file.display()))
    }
}

impl fmt::Display for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "{:<50} {:>10}  {:<44} {:>6}  {:<20} holds",
            "one thread, median of 10", "measured", "against", "ratio", "limit"
        )?;
        for row in &self.rows {
            let ratio = format!("{:.2}", row.ratio);
            writeln!(
                f,
                "{:<50} {:>10}  {:<44} {:>6}  {:<20} {}",
                row.what, row.figure, row.against, ratio, row.limit, row.verdict
            )?;
        }
        Ok(())
    }
}
