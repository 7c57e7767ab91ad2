//! Do the limits part pages that are measured from pages that are not?

use crate::row::{fonts, measured, row};
use crate::shot::Shot;
use crate::wrong::{Corner, Spot, WRITERS, Wrong};

/// For each fault a step that is still measured, and one that is far from it.
fn just_inside_and_well_beyond() -> [(Wrong, Wrong); 7] {
    let spot = |radius, adds| Wrong::Glare(Spot { radius, adds });
    let corner = |turn, share, written| {
        Wrong::Out(Corner {
            turn,
            share,
            written,
        })
    };
    [
        (Wrong::Blur(0.18), Wrong::Blur(0.33)),
        (Wrong::Shadow(0.5, 0.05), Wrong::Shadow(0.9, 0.01)),
        (spot(5.0, 320.0), spot(22.0, 320.0)),
        (Wrong::Scale(4.0), Wrong::Scale(2.5)),
        // The same corner, with blank paper in it and with writing.
        (corner(32.0, 0.24, false), corner(32.0, 0.24, true)),
        // The sides can be followed still, and hardly any more.
        (corner(12.0, 0.14, false), corner(12.0, 0.16, false)),
        (Wrong::Light(0.2), Wrong::Light(0.08)),
    ]
}

#[test]
fn limits_part_pages_that_are_measured_from_pages_that_are_not() {
    let fonts = fonts();
    let writer = &WRITERS[2];
    for (inside, beyond) in just_inside_and_well_beyond() {
        let taken = [Shot::take(&fonts, writer, Some(&inside), 72)];
        println!("{}", row(Some(&inside), inside.fault(), &taken));
        let refused = taken[0].as_ref().map(Shot::refused);
        assert_eq!(refused, Some(Vec::new()), "{inside} is refused");
        assert!(measured(&taken), "{inside} is measured badly");

        let taken = [Shot::take(&fonts, writer, Some(&beyond), 72)];
        println!("{}", row(Some(&beyond), beyond.fault(), &taken));
        let refused = taken[0].as_ref().map(Shot::refused).unwrap_or_default();
        assert!(
            refused.contains(&beyond.fault()),
            "{beyond} is refused for {refused:?}"
        );
    }
}
