//! The page's and the panel's types as TypeScript, made from these.

use ts_rs::{Config, TS};

use crate::ask::*;
use crate::{Ended, Reachable, Shown, Stage, Standing, Wanted};

/// What the screens know already.
const KNOWN: [&str; 11] = [
    "Aspect",
    "Day",
    "Figure",
    "MeasureName",
    "Moment",
    "PageId",
    "Problem",
    "PupilId",
    "Task",
    "TaskId",
    "Verdict",
];

fn typescript() -> String {
    let config = Config::default();
    let mut text = String::from(
        "// Made from the Rust types by `cargo xtask bindings`; do not edit by hand.\n\n",
    );
    text += &format!(
        "import type {{\n  {},\n}} from '../bridge/types';\n\n",
        KNOWN.join(",\n  ")
    );
    macro_rules! declare {
        ($($name:ty),*) => {$(
            text += &<$name>::docs().unwrap_or_default();
            text += &format!("export {}\n\n", <$name>::decl(&config));
        )*};
    }
    declare!(
        Answer,
        Ask,
        Asked,
        Ended,
        FocusOutcome,
        Greeted,
        Kept,
        Looked,
        MeasureVerdict,
        Nothing,
        Outcome,
        Pulse,
        Reachable,
        Shown,
        Stage,
        Standing,
        Wanted,
        Week
    );
    text += "/** What each question is answered by. */\nexport interface Answers {\n";
    macro_rules! answers {
        ($($ask:literal => $answer:ty),*) => {$(
            text += &format!("  {}: {};\n", $ask, <$answer>::name(&config));
        )*};
    }
    answers!(
        "greet" => Greeted, "look" => Nothing, "week" => Week, "photo" => Looked, "keep" => Kept,
        "drop" => Nothing, "result" => Outcome
    );
    text + "}\n"
}

/// The committed file is the one that the types make; asked to, it is written anew.
#[test]
fn bindings_are_up_to_date() {
    let file = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../ui/src/phone/types.ts");
    let made = typescript();
    if std::env::var_os("POTHOOK_WRITE_BINDINGS").is_some() {
        std::fs::write(&file, &made).unwrap();
    }
    let committed = std::fs::read_to_string(&file).unwrap_or_default();
    assert!(
        committed == made,
        "run `cargo xtask bindings` and commit {}",
        file.display()
    );
}
