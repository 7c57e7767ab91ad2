//! Names of papers and rulings as a manifest writes them.

use app::units::{Mm, Paper, Ruling};

/// The sheet of a manifest's `page_format`.
pub(crate) fn format(name: &str) -> Option<Paper> {
    match name {
        "A4" => Some(Paper::A4),
        "A5" => Some(Paper::A5),
        "Letter" => Some(Paper::UsLetter),
        _ => None,
    }
}

/// The ruling of a manifest's `ruling` and `pitch_mm`: `plain`; `squaresN` with squares of N mm;
/// `four-A-B-C` with bands of A, B and C mm; anything else has single lines at the pitch.
pub(crate) fn ruling(name: &str, pitch: Option<f64>) -> Ruling {
    let Some(pitch) = pitch.filter(|pitch| pitch.is_finite() && *pitch > 1.0) else {
        return Ruling::Plain;
    };
    if let Some(side) = name
        .strip_prefix("squares")
        .and_then(|side| side.parse::<f64>().ok())
    {
        let every = (pitch / side).round().clamp(1.0, 2.0) as u8;
        return Ruling::Squares {
            side: Mm(side),
            every,
        };
    }
    if let Some(bands) = name.strip_prefix("four-") {
        let inner = bands.split('-').nth(1).and_then(|inner| inner.parse().ok());
        return Ruling::FourLine {
            pitch: Mm(pitch),
            inner: Mm(inner.unwrap_or(pitch / 4.0)),
        };
    }
    if name == "seyes" {
        return Ruling::FourLine {
            pitch: Mm(pitch),
            inner: Mm(pitch / 4.0),
        };
    }
    Ruling::Lines { pitch: Mm(pitch) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn manifest_rulings() {
        assert_eq!(ruling("plain", None), Ruling::Plain);
        assert_eq!(
            ruling("feint8", Some(8.0)),
            Ruling::Lines { pitch: Mm(8.0) }
        );
        assert_eq!(
            ruling("squares5", Some(10.0)),
            Ruling::Squares {
                side: Mm(5.0),
                every: 2
            }
        );
        assert_eq!(
            ruling("four-3.5-4-3.5", Some(14.0)),
            Ruling::FourLine {
                pitch: Mm(14.0),
                inner: Mm(4.0)
            }
        );
    }
}
