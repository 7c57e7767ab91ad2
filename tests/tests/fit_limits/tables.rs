//! Where is the limit of each fault? The tables that answer it.

use units::FitFault;

use crate::row::{fonts, head, row, shots};
use crate::wrong::{Corner, Spot, Wrong};

/// The steps by which one fault grows.
fn steps(fault: FitFault) -> Vec<Wrong> {
    let spot = |radius, adds| Wrong::Glare(Spot { radius, adds });
    let shadow = |soft| [0.5, 0.7, 0.8, 0.9].map(|strength| Wrong::Shadow(strength, soft));
    match fault {
        FitFault::Blur => [0.12, 0.15, 0.18, 0.22, 0.25, 0.28, 0.3, 0.33, 0.4]
            .map(Wrong::Blur)
            .into(),
        FitFault::Shadow => [shadow(0.01), shadow(0.05)].concat(),
        FitFault::Glare => [
            spot(22.0, 60.0),
            spot(22.0, 120.0),
            spot(22.0, 240.0),
            spot(5.0, 320.0),
            spot(9.0, 320.0),
            spot(13.0, 320.0),
            spot(17.0, 320.0),
        ]
        .into(),
        FitFault::TooSmall => [5.0, 4.0, 3.5, 3.25, 3.0, 2.75, 2.5, 2.25]
            .map(Wrong::Scale)
            .into(),
        FitFault::CutOff => [corners_out(true), corners_out(false)].concat(),
        FitFault::TooDark => [0.5, 0.3, 0.2, 0.15, 0.11, 0.08].map(Wrong::Light).into(),
        FitFault::Blank => Vec::new(),
    }
}

fn corners_out(written: bool) -> Vec<Wrong> {
    let corners = [
        (12.0, [0.12, 0.14, 0.16]),
        (20.0, [0.16, 0.19, 0.22]),
        (32.0, [0.2, 0.24, 0.28]),
    ];
    let steps = corners.into_iter().flat_map(|(turn, shares)| {
        shares.map(|share| Corner {
            turn,
            share,
            written,
        })
    });
    steps.map(Wrong::Out).collect()
}

/// Prints the table of one fault.
fn table(fault: FitFault) {
    let fonts = fonts();
    println!("{}", head(fault));
    println!("{}", row(None, fault, &shots(&fonts, None)));
    for wrong in steps(fault) {
        println!("{}", row(Some(&wrong), fault, &shots(&fonts, Some(&wrong))));
    }
}

#[test]
#[ignore = "prints a table"]
fn table_of_blur() {
    table(FitFault::Blur);
}

#[test]
#[ignore = "prints a table"]
fn table_of_shadow() {
    table(FitFault::Shadow);
}

#[test]
#[ignore = "prints a table"]
fn table_of_glare() {
    table(FitFault::Glare);
}

#[test]
#[ignore = "prints a table"]
fn table_of_size() {
    table(FitFault::TooSmall);
}

#[test]
#[ignore = "prints a table"]
fn table_of_cut_off() {
    table(FitFault::CutOff);
}

#[test]
#[ignore = "prints a table"]
fn table_of_darkness() {
    table(FitFault::TooDark);
}
