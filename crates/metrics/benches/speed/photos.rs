//! The photographs: one drawn page, taken by cameras with more and more pixels.

use std::path::{Path, PathBuf};

use demo::exif::Exif;
use demo::{Fonts, sets};
use units::Expectation;

/// A photograph and what a user knows of its page.
pub struct Photograph {
    /// Millions of pixels.
    pub megapixels: f64,
    /// The file.
    pub jpeg: Vec<u8>,
    /// Paper, ruling and text.
    pub expect: Expectation,
}

/// Width and height of cameras of about 4, 8, 12 and 24 megapixels.
const CAMERAS: [(u32, u32); 4] = [(1728, 2304), (2448, 3264), USUAL_CAMERA, (4240, 5656)];
const USUAL_CAMERA: (u32, u32) = (3024, 4032);

/// Which of [`draw`]'s photographs the limits are set for.
pub const USUAL: usize = 2;
/// Which one is the usual page as a phone stores it.
pub const TURNED: usize = CAMERAS.len();

/// Draws them, smallest first, and the usual one again as a phone stores it: turned by a quarter.
pub fn draw() -> Result<Vec<Photograph>, String> {
    let fonts = Fonts::load(&Fonts::folder()).map_err(|e| e.to_string())?;
    let page = sets::large_pages()
        .into_iter()
        .find(|page| page.id == "a4-lines8-even")
        .ok_or("the even page on lines is gone")?;
    let upright = CAMERAS.iter().map(|&camera| (camera, false));
    upright
        .chain([(USUAL_CAMERA, true)])
        .map(|((width, height), turned)| {
            let mut spec = page.spec.clone();
            (spec.camera.width, spec.camera.height) = (width, height);
            spec.camera.exif = turned.then_some(Exif {
                orientation: 6,
                position: false,
            });
            let drawn = spec.draw(&fonts);
            Ok(Photograph {
                megapixels: f64::from(width) * f64::from(height) / 1e6,
                jpeg: drawn.jpeg,
                expect: Expectation {
                    paper: spec.sheet.paper,
                    ruling: spec.sheet.ruling,
                    model: spec.model(),
                    text: Some(drawn.text),
                    minutes: None,
                    amendments: Vec::new(),
                },
            })
        })
        .collect()
}

/// Where this writes: photographs for other programs, and the table.
pub fn folder() -> Result<PathBuf, String> {
    let target = std::env::var_os("CARGO_TARGET_DIR").map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("../../target"),
        |dir| {
            Path::new(env!("CARGO_MANIFEST_DIR"))
                .join("../..")
                .join(dir)
        },
    );
    let folder = target.join("bench");
    std::fs::create_dir_all(&folder).map_err(|e| format!("{}: {e}", folder.display()))?;
    Ok(folder)
}
