//! Letter shapes: outlines from open-licence fonts, scaled so that short letters are 1 high.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use rustybuzz::ttf_parser::{GlyphId, OutlineBuilder};
use units::LetterModel;

use crate::outline::{Outline, Point, bounds};

/// The kinds of letter shapes that the demo's writers have.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Shapes {
    /// Upright, open, unjoined.
    Open,
    /// The same with a finer point.
    OpenFine,
    /// Wide and even, unjoined.
    Wide,
    /// Quick and uneven, unjoined.
    Quick,
    /// Round and even, unjoined.
    Round,
    /// The same with a finer point.
    RoundFine,
    /// Joined, with loops.
    Looped,
    /// Joined here and there, leaning.
    Loose,
}

impl Shapes {
    /// All of them.
    pub const ALL: [Self; 8] = [
        Self::Open,
        Self::OpenFine,
        Self::Wide,
        Self::Quick,
        Self::Round,
        Self::RoundFine,
        Self::Looped,
        Self::Loose,
    ];

    /// Whether the letters are joined.
    pub fn joined(self) -> bool {
        matches!(self, Self::Looped | Self::Loose)
    }

    /// The letters that are taught to who writes so.
    pub fn model(self) -> LetterModel {
        match self.joined() {
            true => LetterModel::part_joined(),
            false => LetterModel::unjoined(),
        }
    }

    fn file(self) -> &'static str {
        match self {
            Self::Open => "mali/400Regular/Mali_400Regular.ttf",
            Self::OpenFine => "mali/300Light/Mali_300Light.ttf",
            Self::Wide => "short-stack/400Regular/ShortStack_400Regular.ttf",
            Self::Quick => "indie-flower/400Regular/IndieFlower_400Regular.ttf",
            Self::Round => "playpen-sans/400Regular/PlaypenSans_400Regular.ttf",
            Self::RoundFine => "playpen-sans/300Light/PlaypenSans_300Light.ttf",
            Self::Looped => "borel/400Regular/Borel_400Regular.ttf",
            Self::Loose => "cedarville-cursive/400Regular/CedarvilleCursive_400Regular.ttf",
        }
    }
}

/// Why letter shapes could not be had.
#[derive(Debug, thiserror::Error)]
pub enum FontError {
    /// The font file is not there.
    #[error("the font {path} cannot be read ({source}); run `npm ci` in demo/fonts")]
    Missing {
        /// Where it was looked for.
        path: PathBuf,
        /// What the file system said.
        source: std::io::Error,
    },
    /// The file is not a font, or lacks the Latin letters.
    #[error("the font {path} has no usable Latin letters")]
    Unusable {
        /// The file.
        path: PathBuf,
    },
}

/// One shaped letter: y up from the baseline, in heights of a short letter.
#[derive(Debug, Clone)]
pub struct Glyph {
    /// The character.
    pub char: char,
    /// Its outline, from its own origin.
    pub outline: Outline,
    /// How far the next letter's origin lies to the right.
    pub advance: f64,
}

struct Face {
    data: Vec<u8>,
    /// Font units in the height of a short letter.
    short: f64,
}

/// All letter shapes, ready to be written with.
pub struct Fonts(BTreeMap<Shapes, Face>);

impl Fonts {
    /// Loads every font below `node_modules` of a folder prepared with `npm ci`.
    pub fn load(folder: &Path) -> Result<Self, FontError> {
        let below = folder.join("node_modules/@expo-google-fonts");
        let mut faces = BTreeMap::new();
        for shapes in Shapes::ALL {
            let path = below.join(shapes.file());
            let data = std::fs::read(&path).map_err(|source| FontError::Missing {
                path: path.clone(),
                source,
            })?;
            let short = short_height(&data).ok_or(FontError::Unusable { path })?;
            faces.insert(shapes, Face { data, short });
        }
        Ok(Self(faces))
    }

    /// The folder of this package's own fonts.
    pub fn folder() -> PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR")).join("fonts")
    }

    /// Shapes one word as a whole, so that joins and alternates come out as the font means them.
    pub fn shape(&self, shapes: Shapes, word: &str) -> Vec<Glyph> {
        let face = &self.0[&shapes];
        let Some(font) = rustybuzz::Face::from_slice(&face.data, 0) else {
            return Vec::new();
        };
        let mut buffer = rustybuzz::UnicodeBuffer::new();
        buffer.push_str(word);
        // A ligature would leave two letters in one outline, without a truth for either.
        let features = [
            rustybuzz::Feature::new(rustybuzz::ttf_parser::Tag::from_bytes(b"liga"), 0, ..),
            rustybuzz::Feature::new(rustybuzz::ttf_parser::Tag::from_bytes(b"dlig"), 0, ..),
        ];
        let shaped = rustybuzz::shape(&font, &features, buffer);
        shaped
            .glyph_infos()
            .iter()
            .zip(shaped.glyph_positions())
            .map(|(info, place)| Glyph {
                char: word[info.cluster as usize..].chars().next().unwrap_or(' '),
                outline: flatten(
                    &font,
                    GlyphId(info.glyph_id as u16),
                    (f64::from(place.x_offset), f64::from(place.y_offset)),
                    1.0 / face.short,
                ),
                advance: f64::from(place.x_advance) / face.short,
            })
            .collect()
    }
}

/// Median ink height of the short letters, in font units.
fn short_height(data: &[u8]) -> Option<f64> {
    let font = rustybuzz::Face::from_slice(data, 0)?;
    let mut heights: Vec<f64> = "acemnorsuvwxz"
        .chars()
        .filter_map(|letter| font.glyph_bounding_box(font.glyph_index(letter)?))
        .map(|found| f64::from(found.height()))
        .collect();
    heights.sort_by(f64::total_cmp);
    heights.get(heights.len() / 2).copied()
}

fn flatten(
    font: &rustybuzz::Face<'_>,
    glyph: GlyphId,
    (dx, dy): (f64, f64),
    scale: f64,
) -> Outline {
    let mut pen = Pen::default();
    font.outline_glyph(glyph, &mut pen);
    for point in pen.done.iter_mut().flatten() {
        point.x = (point.x + dx) * scale;
        point.y = (point.y + dy) * scale;
    }
    pen.done.retain(|contour| contour.len() > 2);
    pen.done
}

/// Collects an outline as polylines. Steps are fixed, so that the same font gives the same points.
#[derive(Default)]
struct Pen {
    done: Outline,
}

const STEPS: u32 = 8;

impl Pen {
    fn last(&self) -> Point {
        self.done
            .last()
            .and_then(|contour| contour.last())
            .copied()
            .unwrap_or(Point { x: 0.0, y: 0.0 })
    }

    fn push(&mut self, x: f64, y: f64) {
        if let Some(contour) = self.done.last_mut() {
            contour.push(Point { x, y });
        }
    }
}

impl OutlineBuilder for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.done.push(Vec::new());
        self.push(f64::from(x), f64::from(y));
    }

    fn line_to(&mut self, x: f32, y: f32) {
        // Long straight strokes get points in between: a warp bends them like the rest.
        let from = self.last();
        for step in 1..=STEPS {
            let t = f64::from(step) / f64::from(STEPS);
            self.push(
                from.x + (f64::from(x) - from.x) * t,
                from.y + (f64::from(y) - from.y) * t,
            );
        }
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let from = self.last();
        for step in 1..=STEPS {
            let t = f64::from(step) / f64::from(STEPS);
            let at = |a: f64, b: f32, c: f32| {
                let (b, c) = (f64::from(b), f64::from(c));
                (1.0 - t) * (1.0 - t) * a + 2.0 * t * (1.0 - t) * b + t * t * c
            };
            self.push(at(from.x, x1, x), at(from.y, y1, y));
        }
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let from = self.last();
        for step in 1..=STEPS {
            let t = f64::from(step) / f64::from(STEPS);
            let at = |a: f64, b: f32, c: f32, d: f32| {
                let (b, c, d) = (f64::from(b), f64::from(c), f64::from(d));
                let s = 1.0 - t;
                s * s * s * a + 3.0 * s * s * t * b + 3.0 * s * t * t * c + t * t * t * d
            };
            self.push(at(from.x, x1, x2, x), at(from.y, y1, y2, y));
        }
    }

    fn close(&mut self) {}
}

/// Splits an outline into the letter's body and the dots above the short letters.
pub fn split_dots(char: char, outline: &[Vec<Point>]) -> (Outline, Outline) {
    if !matches!(char, 'i' | 'j') {
        return (outline.to_vec(), Vec::new());
    }
    outline.iter().cloned().partition(|contour| {
        bounds(std::slice::from_ref(contour)).is_none_or(|found| found.y0.0 < 0.95)
    })
}
