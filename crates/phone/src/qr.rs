//! The address as a picture.

use app::units::Problem;
use qrcode::render::{svg, unicode::Dense1x2};
use qrcode::{EcLevel, QrCode};

use crate::problem;

/// Points that the picture is at least wide.
const SMALLEST: u32 = 280;

fn code(text: &str) -> Result<QrCode, Problem> {
    QrCode::with_error_correction_level(text, EcLevel::M).map_err(|_| problem::no_picture())
}

pub(crate) fn svg(text: &str) -> Result<String, Problem> {
    let code = code(text)?;
    let mut picture = code.render::<svg::Color<'_>>();
    Ok(picture.min_dimensions(SMALLEST, SMALLEST).build())
}

/// Two modules a character. A full block is light, as letters are on a dark terminal.
pub(crate) fn text(text: &str) -> Result<String, Problem> {
    let code = code(text)?;
    let mut picture = code.render::<Dense1x2>();
    let picture = picture.dark_color(Dense1x2::Light);
    Ok(picture.light_color(Dense1x2::Dark).build())
}

#[cfg(test)]
mod tests {
    use super::*;
    use qrcode::Color;

    /// Read back module by module; ISO/IEC 18004 asks for four light ones all round.
    #[test]
    fn the_characters_are_the_modules_with_a_quiet_zone() {
        let wanted = "http://192.168.1.20:40213/#ELcaCzLbTP55NMjmGO9dPwxDGUVzWkQJPYAHFAi5RsM";
        let code = code(wanted).unwrap();
        let width = code.width();
        let text = text(wanted).unwrap();
        let rows: Vec<Vec<char>> = text.lines().map(|line| line.chars().collect()).collect();
        let light = |x: usize, y: usize| match (rows[y / 2][x], y % 2) {
            ('\u{2588}', _) | ('\u{2580}', 0) | ('\u{2584}', 1) => true,
            (' ', _) | ('\u{2580}', 1) | ('\u{2584}', 0) => false,
            other => panic!("{other:?}"),
        };
        let modules = code.to_colors();
        for y in 0..width + 8 {
            for x in 0..width + 8 {
                let inside = (4..width + 4).contains(&x) && (4..width + 4).contains(&y);
                let wanted = !inside || modules[(y - 4) * width + x - 4] == Color::Light;
                assert_eq!(light(x, y), wanted, "module {x}, {y}");
            }
        }
    }
}
