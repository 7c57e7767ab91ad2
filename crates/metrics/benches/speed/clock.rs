//! The clock: processor time of a piece of work, and of every stage within it.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use cpu_time::ProcessTime;
use tracing::span::{Attributes, Id, Record};
use tracing::{Event, Metadata, Subscriber};

use crate::photos::Photograph;
use crate::whole;

/// Rounds that a figure is the median of.
pub const ROUNDS: usize = 10;

/// Processor seconds that the work takes.
pub fn seconds<T>(work: impl FnOnce() -> T) -> f64 {
    let started = ProcessTime::now();
    let done = std::hint::black_box(work());
    let spent = started.elapsed().as_secs_f64();
    drop(done);
    spent
}

/// The middle of several figures.
pub fn median(mut figures: Vec<f64>) -> f64 {
    figures.sort_by(f64::total_cmp);
    let n = figures.len();
    (figures[(n - 1) / 2] + figures[n / 2]) / 2.0
}

/// Medians of all these works, which take turns; the first round warms up and does not count.
pub fn in_turn(works: &mut [(&str, &mut dyn FnMut() -> f64)]) -> Vec<f64> {
    let mut figures = vec![Vec::with_capacity(ROUNDS); works.len()];
    for round in 0..=ROUNDS {
        for ((name, work), figures) in works.iter_mut().zip(&mut figures) {
            eprint!("\r\x1b[Kround {round} of {ROUNDS}: {name}");
            let spent = work();
            if round > 0 {
                figures.push(spent);
            }
        }
    }
    eprint!("\r\x1b[K");
    figures.into_iter().map(median).collect()
}

/// The time of each stage of a whole reading, for every photograph, as a table.
pub fn stages(photos: &[Photograph]) -> String {
    let mut out = String::new();
    for photo in photos {
        let rounds: Vec<Spent> = (0..=ROUNDS)
            .map(|_| Stopwatch::over(|| whole::read(photo)))
            .skip(1)
            .collect();
        let _ = writeln!(out, "\n{:.1} megapixels", photo.megapixels);
        // The order of the first round: a stage follows the one it is part of.
        let order = &rounds[0].order;
        for path in order {
            let each = rounds.iter().filter_map(|r| r.time.get(path));
            let (time, calls): (Vec<f64>, Vec<u32>) = each.copied().unzip();
            let depth = 2 * path.len();
            let name = path.last().copied().unwrap_or_default();
            let (time, calls) = (1e3 * median(time), calls[0]);
            let times = if calls > 1 {
                format!("  in {calls} calls")
            } else {
                String::new()
            };
            let _ = writeln!(
                out,
                "{:depth$}{name:<w$}{time:9.1} ms{times}",
                "",
                w = 34 - depth
            );
        }
    }
    out
}

/// Processor seconds of some stages of the work, wherever they are called, and of one that they are part of.
pub fn of_stages<T>(work: impl FnOnce() -> T, some: &[&str], whole: &str) -> (f64, f64) {
    let spent = Stopwatch::over(work);
    let of = |wanted: &dyn Fn(&str) -> bool| -> f64 {
        let those = spent.time.iter();
        let those = those.filter(|(path, _)| path.last().is_some_and(|name| wanted(name)));
        those.map(|(_, (time, _))| time).sum()
    };
    (of(&|name| some.contains(&name)), of(&|name| name == whole))
}

type Path = Vec<&'static str>;

/// Time and number of calls by stage.
#[derive(Default)]
struct Spent {
    order: Vec<Path>,
    time: BTreeMap<Path, (f64, u32)>,
}

/// Listens to the spans of one thread.
#[derive(Clone, Default)]
struct Stopwatch(Arc<Mutex<State>>);

#[derive(Default)]
struct State {
    names: Vec<&'static str>,
    open: Vec<(&'static str, ProcessTime)>,
    spent: Spent,
}

impl Stopwatch {
    fn over<T>(work: impl FnOnce() -> T) -> Spent {
        let watch = Self::default();
        let done = tracing::subscriber::with_default(watch.clone(), work);
        drop(done);
        std::mem::take(&mut watch.0.lock().expect("one thread").spent)
    }
}

impl Subscriber for Stopwatch {
    fn enabled(&self, metadata: &Metadata<'_>) -> bool {
        metadata.is_span() && metadata.target().starts_with("metrics")
    }

    fn new_span(&self, span: &Attributes<'_>) -> Id {
        let mut state = self.0.lock().expect("one thread");
        state.names.push(span.metadata().name());
        Id::from_u64(state.names.len() as u64)
    }

    fn enter(&self, span: &Id) {
        let mut state = self.0.lock().expect("one thread");
        let name = state.names[span.into_u64() as usize - 1];
        let mut path: Path = state.open.iter().map(|(name, _)| *name).collect();
        path.push(name);
        if !state.spent.order.contains(&path) {
            state.spent.order.push(path);
        }
        state.open.push((name, ProcessTime::now()));
    }

    fn exit(&self, _: &Id) {
        let mut state = self.0.lock().expect("one thread");
        let path: Path = state.open.iter().map(|(name, _)| *name).collect();
        if let Some((_, began)) = state.open.pop() {
            let spent: Duration = began.elapsed();
            let entry = state.spent.time.entry(path).or_default();
            entry.0 += spent.as_secs_f64();
            entry.1 += 1;
        }
    }

    fn record(&self, _: &Id, _: &Record<'_>) {}
    fn record_follows_from(&self, _: &Id, _: &Id) {}
    fn event(&self, _: &Event<'_>) {}
}
