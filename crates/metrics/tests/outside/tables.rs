//! Fonts of the demo by their own tables (OpenType, ISO/IEC 14496-22): outlines of `glyf`, advances of
//! `hmtx`, heights of `OS/2`, the angle of `post`.

use std::fs;

use demo::outline::{Outline, Point};
use ttf_parser::{Face, OutlineBuilder};

/// A font of the demo, by the path of its file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Font {
    Mali,
    MaliItalic,
    Playpen,
}

impl Font {
    fn file(self) -> &'static str {
        match self {
            Self::Mali => "mali/400Regular/Mali_400Regular.ttf",
            Self::MaliItalic => "mali/400Regular_Italic/Mali_400Regular_Italic.ttf",
            Self::Playpen => "playpen-sans/400Regular/PlaypenSans_400Regular.ttf",
        }
    }

    pub fn tables(self) -> Tables {
        let folder = demo::Fonts::folder().join("node_modules/@expo-google-fonts");
        let data = fs::read(folder.join(self.file()));
        Tables(data.expect("the font is there; `npm ci` in demo/fonts fetches it"))
    }
}

/// What a font's tables say, in font units.
pub struct Tables(Vec<u8>);

impl Tables {
    fn face(&self) -> Face<'_> {
        Face::parse(&self.0, 0).expect("a font")
    }

    /// `OS/2.sxHeight`.
    pub fn x_height(&self) -> f64 {
        f64::from(self.face().x_height().expect("OS/2 gives an x-height"))
    }

    /// Lean by `post.italicAngle`, degrees, + forward (the table counts anticlockwise).
    pub fn lean(&self) -> f64 {
        -f64::from(self.face().italic_angle())
    }

    /// `hmtx`: how far the next letter's origin lies to the right.
    pub fn advance(&self, c: char) -> f64 {
        let face = self.face();
        let glyph = face.glyph_index(c).expect("the letter is in the font");
        f64::from(face.glyph_hor_advance(glyph).expect("hmtx knows it"))
    }

    /// `glyf`: its contours, y up.
    pub fn outline(&self, c: char) -> Outline {
        let face = self.face();
        let glyph = face.glyph_index(c).expect("the letter is in the font");
        let mut pen = Pen::default();
        face.outline_glyph(glyph, &mut pen);
        pen.0
    }
}

/// Contours as polylines, each curve in sixteen steps.
#[derive(Default)]
struct Pen(Outline);

impl Pen {
    fn curve(&mut self, at: impl Fn(f64) -> (f64, f64)) {
        let contour = self.0.last_mut().expect("a contour was begun");
        contour.extend((1..=16).map(|k| {
            let (x, y) = at(f64::from(k) / 16.0);
            Point { x, y }
        }));
    }

    fn last(&self) -> (f64, f64) {
        let point = self.0.last().and_then(|contour| contour.last());
        point.map_or((0.0, 0.0), |p| (p.x, p.y))
    }
}

impl OutlineBuilder for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.0.push(vec![Point {
            x: f64::from(x),
            y: f64::from(y),
        }]);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        let (from, to) = (self.last(), (f64::from(x), f64::from(y)));
        self.curve(|t| (from.0 + (to.0 - from.0) * t, from.1 + (to.1 - from.1) * t));
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let (a, b, c) = (
            self.last(),
            (f64::from(x1), f64::from(y1)),
            (f64::from(x), f64::from(y)),
        );
        let mix = |t: f64, a: f64, b: f64, c: f64| {
            (1.0 - t) * (1.0 - t) * a + 2.0 * t * (1.0 - t) * b + t * t * c
        };
        self.curve(|t| (mix(t, a.0, b.0, c.0), mix(t, a.1, b.1, c.1)));
    }

    fn curve_to(&mut self, _: f32, _: f32, _: f32, _: f32, _: f32, _: f32) {
        panic!("glyf has no cubic curves");
    }

    fn close(&mut self) {}
}
