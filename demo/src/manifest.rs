//! A folder of drawn pages: photographs, truth, and the manifest of what a user would know.
//! Layout: `tests/pages/README.md`.

use std::fs;
use std::io;
use std::path::Path;

use serde::{Deserialize, Serialize};
use units::{Expectation, LetterModel, Mm, Paper, Ruling};

use crate::font::Fonts;
use crate::page::{Drawn, PageSpec};
use crate::sets::NamedPage;

/// What a user would know of one page.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// Name of the page.
    pub id: String,
    /// Pages of the same group are photographs of one sheet.
    pub group: String,
    /// File of the photograph, from the manifest's folder.
    pub image: String,
    /// `A4` or `A5`.
    pub page_format: String,
    /// Width and height of the sheet, mm.
    pub page_size_mm: [f64; 2],
    /// `plain`, `lines`, `squares5` (side in mm) or `four-4-4-4` (bands in mm).
    pub ruling: String,
    /// Distance of one written line from the next, mm.
    pub pitch_mm: Option<f64>,
    /// The letters that are taught.
    pub model: Taught,
    /// The written lines, without words taken back.
    pub text: Vec<String>,
}

/// One of the letter models to start from, by its name in a manifest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Taught {
    /// Letters stand apart.
    Unjoined,
    /// Letters are joined, some of them apart.
    Joined,
    /// Every letter is joined.
    JoinedThroughout,
}

impl Taught {
    /// The letter model.
    pub fn letters(self) -> LetterModel {
        match self {
            Self::Unjoined => LetterModel::unjoined(),
            Self::Joined => LetterModel::part_joined(),
            Self::JoinedThroughout => LetterModel::joined(),
        }
    }
}

/// All pages of a folder.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Manifest {
    /// Version of the layout.
    pub version: u32,
    /// The pages.
    pub pages: Vec<Entry>,
}

impl Entry {
    /// What a user would tell of the page before it is measured; `None` where its ruling has no
    /// name of ours.
    pub fn expectation(&self) -> Option<Expectation> {
        Some(Expectation {
            paper: PAPERS
                .into_iter()
                .find(|paper| format_name(*paper) == self.page_format)?,
            ruling: named_ruling(&self.ruling, self.pitch_mm.map(Mm))?,
            model: self.model.letters(),
            text: Some(self.text.clone()),
            minutes: None,
            amendments: Vec::new(),
        })
    }
}

const PAPERS: [Paper; 3] = [Paper::A4, Paper::A5, Paper::UsLetter];

fn format_name(paper: Paper) -> &'static str {
    match paper {
        Paper::A4 => "A4",
        Paper::A5 => "A5",
        Paper::UsLetter => "Letter",
    }
}

fn ruling_name(ruling: Ruling) -> String {
    match ruling {
        Ruling::Plain => "plain".to_owned(),
        Ruling::Lines { .. } => "lines".to_owned(),
        Ruling::Squares { side, .. } => format!("squares{}", side.0),
        Ruling::FourLine { inner, .. } => format!("four-{0}-{0}-{0}", inner.0),
    }
}

/// The ruling of a name that [`ruling_name`] gives.
fn named_ruling(name: &str, pitch: Option<Mm>) -> Option<Ruling> {
    match (name, pitch) {
        ("plain", None) => Some(Ruling::Plain),
        ("lines", Some(pitch)) => Some(Ruling::Lines { pitch }),
        (name, Some(pitch)) => {
            if let Some(side) = name.strip_prefix("squares") {
                let side: f64 = side.parse().ok()?;
                Some(Ruling::Squares {
                    side: Mm(side),
                    every: (pitch.0 / side) as u8,
                })
            } else {
                let inner = name.strip_prefix("four-")?.split('-').nth(1)?;
                Some(Ruling::FourLine {
                    pitch,
                    inner: Mm(inner.parse().ok()?),
                })
            }
        }
        _ => None,
    }
}

fn entry(id: &str, spec: &PageSpec, drawn: &Drawn) -> Entry {
    let (width, height) = spec.sheet.size();
    Entry {
        id: id.to_owned(),
        group: id.to_owned(),
        image: format!("{id}.jpg"),
        page_format: format_name(spec.sheet.paper).to_owned(),
        page_size_mm: [width, height],
        ruling: ruling_name(spec.sheet.ruling),
        pitch_mm: spec.sheet.ruling.line_pitch().map(|pitch| pitch.0),
        model: match spec.hand.shapes.joined() {
            true => Taught::Joined,
            false => Taught::Unjoined,
        },
        text: drawn.text.clone(),
    }
}

/// Draws pages into a folder: `ID.jpg`, `ID.truth.json` and `manifest.json`. Says of each what it
/// did through `done`.
pub fn write(
    fonts: &Fonts,
    pages: &[NamedPage],
    folder: &Path,
    mut done: impl FnMut(&str, &Drawn),
) -> io::Result<()> {
    fs::create_dir_all(folder)?;
    let mut entries = Vec::new();
    for page in pages {
        let drawn = page.spec.draw(fonts);
        fs::write(folder.join(format!("{}.jpg", page.id)), &drawn.jpeg)?;
        let truth = serde_json::to_string(&drawn.truth)?;
        fs::write(
            folder.join(format!("{}.truth.json", page.id)),
            by_line(&truth),
        )?;
        entries.push(entry(page.id, &page.spec, &drawn));
        done(page.id, &drawn);
    }
    let manifest = Manifest {
        version: 1,
        pages: entries,
    };
    let text = serde_json::to_string_pretty(&manifest)? + "\n";
    fs::write(folder.join("manifest.json"), text)
}

/// Breaks a compact file between records, so that a change shows where it is.
fn by_line(json: &str) -> String {
    json.replace("},{", "},\n{").replace("],\"", "],\n\"") + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sets;

    #[test]
    fn what_a_manifest_tells_is_what_was_drawn() {
        for page in sets::test_pages().iter().chain(&sets::large_pages()) {
            let spec = &page.spec;
            let ruling = spec.sheet.ruling;
            let named = named_ruling(&ruling_name(ruling), ruling.line_pitch());
            assert_eq!(named, Some(ruling), "{}", page.id);
        }
        assert_eq!(named_ruling("lines", None), None);
        assert_eq!(named_ruling("waves", Some(Mm(8.0))), None);
    }
}
