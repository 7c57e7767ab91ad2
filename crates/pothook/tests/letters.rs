//! Letter models as files, and corrections handed on, from the command line.

use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use serde_json::Value;

fn pothook(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_pothook"))
        .env(
            "POTHOOK_KEY_FILE",
            concat!(env!("CARGO_TARGET_TMPDIR"), "/key"),
        )
        .args(arguments)
        .stdin(Stdio::null())
        .output()
        .expect("the program runs")
}

fn done(arguments: &[&str]) -> String {
    let output = pothook(arguments);
    assert!(output.status.success(), "{arguments:?}: {output:?}");
    String::from_utf8(output.stdout).unwrap()
}

/// The code of a command that fails with a sentence.
fn refused(arguments: &[&str]) -> String {
    let output = pothook(arguments);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(1), "{arguments:?}: {said}");
    let code = said.trim().rsplit_once('[').expect("a code").1;
    code.trim_end_matches(']').to_owned()
}

fn add_wren(data: &str) -> [&str; 8] {
    [
        "--data",
        data,
        "add-pupil",
        "Wren",
        "--year",
        "3",
        "--hand",
        "left",
    ]
}

fn page() -> String {
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/pages/a5-lines8-uneven.jpg");
    page.to_str().unwrap().to_owned()
}

#[test]
fn a_saved_model_is_changed_and_measured_by() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("letters.json");
    let file = file.to_str().unwrap();
    for (name, joined_on) in [("unjoined", 0), ("joined", 16), ("joined-throughout", 26)] {
        done(&["letters", name, file]);
        let saved: Value = serde_json::from_str(&fs::read_to_string(file).unwrap()).unwrap();
        assert_eq!(saved["format"], "pothook letter model");
        let letters = saved["letters"].as_array().unwrap().iter();
        let joined = letters.filter(|form| form["exit"] != "none").count();
        assert_eq!(joined, joined_on, "{name}");
    }
    let measured = |model: &[&str]| {
        let page = page();
        let mut arguments = vec![
            "measure", &page, "--paper", "a5", "--ruling", "lines:8", "--json",
        ];
        arguments.extend(model);
        // A page that is unfit is measured all the same.
        let output = pothook(&arguments);
        let text = String::from_utf8(output.stdout).unwrap();
        serde_json::from_str::<Value>(&text).unwrap_or_else(|error| panic!("{error}: {text}"))
    };
    let by_file = measured(&["--letters", file]);
    assert_eq!(by_file, measured(&["--model", "joined-throughout"]));
    let letter = &by_file["letters"][0];
    for key in ["reads_as", "faults", "foot_px", "body_mm"] {
        assert!(letter.get(key).is_some(), "{key} is missing");
    }
    assert_eq!(by_file["text_fit"], Value::Null, "no text was given");
    for name in ["tall_clear", "well_formed", "joins_made"] {
        assert!(by_file["measures"].get(name).is_some(), "{name} is missing");
    }
}

#[test]
fn a_model_is_named_or_given_as_a_file_and_wrong_files_are_told_of() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (own, data) = (at("own.json"), at("data"));
    done(&["letters", "joined", &own]);
    let both = pothook(&["measure", &page(), "--model", "joined", "--letters", &own]);
    assert_eq!(both.status.code(), Some(2), "one or the other");

    let measure = |file: &str| refused(&["measure", &page(), "--letters", file]);
    assert_eq!(measure(&at("none.json")), "file-gone");
    fs::write(at("words.json"), "curly, please").unwrap();
    assert_eq!(measure(&at("words.json")), "letters-unreadable");
    fs::write(at("long.json"), " ".repeat(2 << 20)).unwrap();
    assert_eq!(measure(&at("long.json")), "letters-too-large");
    fs::write(at("longish.json"), " ".repeat(1 << 17)).unwrap();
    assert_eq!(measure(&at("longish.json")), "letters-too-large");
    let text = fs::read_to_string(&own).unwrap();
    fs::write(
        at("new.json"),
        text.replace("\"version\": 1", "\"version\": 3"),
    )
    .unwrap();
    assert_eq!(measure(&at("new.json")), "letters-newer");
    fs::write(at("two.json"), text.replacen("\"one\"", "\"two\"", 2)).unwrap();
    assert_eq!(measure(&at("two.json")), "letters-unsound");

    done(&["--data", &data, "settle", "tutor", "Study"]);
    let add = add_wren(&data);
    done(&[&add[..], &["--letters", &own]].concat());
    let wrong = at("two.json");
    assert_eq!(
        refused(&[&add[..], &["--letters", &wrong]].concat()),
        "letters-unsound"
    );
    assert_eq!(done(&["--data", &data, "pupils"]).lines().count(), 2);
}

#[test]
fn corrections_are_saved_for_named_pupils_only() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (data, file) = (at("data"), at("corrections.json"));
    done(&["--data", &data, "settle", "tutor", "Study"]);
    done(&add_wren(&data));
    let export = |pupil: &[&str]| {
        let mut arguments = vec!["--data", &*data, "export-corrections"];
        arguments.extend(pupil);
        arguments.push(&file);
        pothook(&arguments)
    };
    assert_eq!(export(&[]).status.code(), Some(2), "nobody is named");
    assert!(!Path::new(&file).exists());
    assert_eq!(export(&["--pupil", "Linnet"]).status.code(), Some(1));
    assert!(!Path::new(&file).exists());
    assert!(export(&["--pupil", "Wren"]).status.success());
    let saved: Value = serde_json::from_str(&fs::read_to_string(&file).unwrap()).unwrap();
    assert_eq!(saved["format"], "pothook corrections");
    assert_eq!(saved["items"], Value::Array(vec![]));
}
