//! Is a page's pace told from the minutes that an adult gives, and only then?

use app::App;
use app::api::{Figure, Nothing, OfPage, OfPupil, SetMinutes};
use app::units::{MeasureName, WhyNot};
use pothook_tests::{KnownPage, kept_page, tutor};

fn pace(desk: &App, of: OfPage) -> Figure {
    let figures = desk.page(of).unwrap().figures;
    let pace = figures
        .into_iter()
        .find(|one| one.name == MeasureName::Pace);
    pace.expect("every measure is there, taken or not")
}

fn give(desk: &App, of: OfPage, minutes: Option<u16>) -> Result<Nothing, app::units::Problem> {
    desk.set_minutes(SetMinutes {
        pupil: of.pupil,
        page: of.page,
        minutes,
    })
}

#[test]
fn letters_over_the_minutes_that_an_adult_gave() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    let untimed = pace(&desk, of);
    assert_eq!(untimed.value, None);
    assert_eq!(untimed.because, Some(WhyNot::NotTimed));
    assert_eq!(untimed.aspect, None);

    give(&desk, of, Some(4)).unwrap();
    let text = known.text.clone().unwrap().concat();
    let letters = text.chars().filter(|c| c.is_alphabetic()).count() as f64;
    let timed = pace(&desk, of);
    let (value, se) = (timed.value.unwrap(), timed.se.unwrap());
    println!("{letters} letters in 4 minutes: {value:.1} ± {se:.1} a minute");
    assert!((value - letters / 4.0).abs() < 1.96 * se, "{value} ± {se}");
    assert!(se < 0.15 * value, "{value} ± {se}");

    let view = desk.page(of).unwrap();
    assert_eq!(view.record.minutes, Some(4));
    assert_eq!(view.record.readings.len(), 2, "the first is kept");
    let OfPage { pupil, .. } = of;
    let charts = desk.progress(OfPupil { pupil }).unwrap().charts;
    let charted: Vec<_> = charts.iter().filter(|one| one.aspect.is_none()).collect();
    assert_eq!(charted.len(), 1);
    assert_eq!(charted[0].points.len(), 1);

    give(&desk, of, None).unwrap();
    assert_eq!(pace(&desk, of).because, Some(WhyNot::NotTimed));
}

#[test]
fn minutes_that_nobody_writes_for_are_refused_and_nothing_changes() {
    let folder = tempfile::tempdir().unwrap();
    let desk = tutor(&folder.path().join("t"));
    let (known, photo) = KnownPage::ordinary();
    let of = kept_page(&desk, &known, &photo).unwrap();
    for wrong in [0, 241, u16::MAX] {
        let refused = give(&desk, of, Some(wrong)).unwrap_err();
        assert_eq!(refused.code, "minutes-out-of-range");
    }
    let view = desk.page(of).unwrap();
    assert_eq!((view.record.minutes, view.record.readings.len()), (None, 1));
}
