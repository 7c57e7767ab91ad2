//! Where letters stand, how high their bodies are, and what a dot does to that.

use units::MeasureName;

use crate::pen::{Flaw, Sheet};
use crate::{paired, read, value};

#[test]
fn a_letter_stands_where_it_was_drawn() {
    for drift in [0.0, 0.6] {
        let sheet = Sheet {
            text: vec![
                "a big brown dog begs",
                "half of the boats left",
                "old hats and bad food",
            ],
            drift,
            ..Sheet::default()
        };
        let (written, reading) = (sheet.written(), read(&sheet));
        for (wrote, letter) in paired(&written, &reading) {
            let foot = letter.foot.expect("every letter stands somewhere");
            let [left, _, right, _] = wrote.edges();
            let off = (foot.x.0 - (left + right) / 2.0, foot.y.0 - wrote.foot);
            assert!(off.0.abs() < 0.1 && off.1.abs() < 0.1, "{wrote:?}: {off:?}");
        }
    }
}

#[test]
fn a_body_is_as_high_as_it_was_drawn() {
    for slant in [0.0, 12.0] {
        let sheet = Sheet {
            text: vec![
                "a big brown dog begs",
                "half of the boats left",
                "old hats and bad food",
            ],
            slant,
            ..Sheet::default()
        };
        let (written, reading) = (sheet.written(), read(&sheet));
        for (wrote, letter) in paired(&written, &reading) {
            let body = letter.body.map(|body| body.0);
            match wrote.ch {
                'l' | 't' | 'f' => assert_eq!(body, None, "{wrote:?}"),
                'b' | 'd' | 'h' | 'a' | 'o' => {
                    let body = body.expect("a letter with a body");
                    let off = body - sheet.short_height();
                    assert!(off.abs() < 0.1, "{wrote:?}: {off}");
                }
                _ => {}
            }
        }
    }
}

#[test]
fn a_dot_that_hangs_low_is_no_height() {
    // At 1.2 it touches its letter, at 1.3 a quarter of a millimetre of white is left.
    for low in [1.2, 1.25, 1.3] {
        let sheet = Sheet {
            text: vec![
                "*i did *it *in w*inter",
                "*jam *is *jet l*it",
                "b*ig f*in *jolly tr*ip",
            ],
            flaw: Some(Flaw::LowDot(low)),
            ..Sheet::default()
        };
        let (written, reading) = (sheet.written(), read(&sheet));
        for (wrote, letter) in paired(&written, &reading)
            .into_iter()
            .filter(|p| p.0.flawed)
        {
            let high = wrote.foot - letter.bounds.y0.0;
            let off = high - sheet.short_height();
            assert!(
                letter.dot.is_some() && off.abs() < 0.15,
                "{low}: {wrote:?} {off}"
            );
        }
        let found = value(&reading, MeasureName::XHeight);
        assert!(
            (found - sheet.short_height()).abs() < 0.05,
            "{low}: {found}"
        );
    }
}
