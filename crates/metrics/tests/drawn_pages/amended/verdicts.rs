//! What a person says of faults, joins and corrections.

use units::{Amendment, BoxMm, CorrectionKind, FaultKind, JoinVerdict, MeasureName, Mm};

use super::{bytes, dotless, first, has, marked, read_with, rests_on};
use crate::pen::{Joins, Sheet};
use crate::{read, value};

#[test]
fn a_fault_said_not_to_be_there_goes() {
    let sheet = dotless();
    let before = read(&sheet);
    let at = first(&before, |l| has(l, FaultKind::NoDot));
    let no_fault = Amendment::Fault {
        at: before.letters[at].bounds,
        letter: 'i',
        fault: FaultKind::NoDot,
        there: false,
    };
    let after = read_with(&sheet, &[no_fault]);
    assert!(after.letters[at].faults.is_empty() && after.letters[at].by_hand);
    assert_eq!(marked(&before, &after), [MeasureName::WellFormed]);
    let n = f64::from(rests_on(&before, MeasureName::WellFormed));
    let gained = value(&after, MeasureName::WellFormed) - value(&before, MeasureName::WellFormed);
    assert!((gained - 1.0 / n).abs() < 2e-4, "{gained}");
    // Only that letter is another.
    let others = before.letters.iter().zip(&after.letters).enumerate();
    assert!(
        others
            .filter(|(index, _)| *index != at)
            .all(|(_, (b, a))| a == b)
    );
}

#[test]
fn a_fault_said_to_be_there_is_told_without_a_figure_of_its_own() {
    let sheet = dotless();
    let before = read(&sheet);
    let at = first(&before, |l| l.char == Some('a'));
    let bounds = before.letters[at].bounds;
    let (letter, there) = ('a', true);
    let fault = FaultKind::HighBowl;
    let after = read_with(
        &sheet,
        &[Amendment::Fault {
            at: bounds,
            letter,
            fault,
            there,
        }],
    );
    assert!(has(&after.letters[at], fault) && after.letters[at].by_hand);
    assert!(after.letters[at].faults.iter().all(|f| f.figure.is_none()));
    assert_eq!(marked(&before, &after), [MeasureName::WellFormed]);
    let reads = Amendment::Reads {
        at: bounds,
        letter,
        as_meant: false,
    };
    let after = read_with(&sheet, &[reads]);
    assert!(has(&after.letters[at], FaultKind::ReadsAsOther));
    assert_eq!(marked(&before, &after), [MeasureName::WellFormed]);
}

#[test]
fn a_join_is_as_a_person_says() {
    let sheet = Sheet {
        joins: Joins::Sound,
        ..Sheet::default()
    };
    let before = read(&sheet);
    let join = before.joins[5];
    let letter = before.letters[join.left].char.expect("the text is known");
    let says = |verdict| Amendment::Join {
        at: before.letters[join.left].bounds,
        letter,
        verdict,
    };
    let after = read_with(&sheet, &[says(JoinVerdict::WrongHeight)]);
    assert_eq!(
        (after.joins[5].verdict, after.joins[5].by_hand),
        (JoinVerdict::WrongHeight, true)
    );
    assert_eq!(after.joins.iter().filter(|j| j.by_hand).count(), 1);
    assert_eq!(marked(&before, &after), [MeasureName::JoinsMade]);
    let share = 1.0 - 1.0 / before.joins.len() as f64;
    assert!((value(&after, MeasureName::JoinsMade) - share).abs() < 1e-4);
    // Of two about the same, the later holds.
    let twice = [says(JoinVerdict::WrongHeight), says(JoinVerdict::Missing)];
    assert_eq!(
        read_with(&sheet, &twice).joins[5].verdict,
        JoinVerdict::Missing
    );
}

#[test]
fn a_correction_is_as_a_person_says() {
    let sheet = Sheet {
        strike: Some((1, 1)),
        ..Sheet::default()
    };
    let before = read(&sheet);
    let [struck] = &before.corrections[..] else {
        panic!("{:?}", before.corrections);
    };
    let word = before
        .words
        .iter()
        .find(|w| w.text.as_deref() == Some("noon"));
    let missed = Amendment::Correction {
        at: word.expect("a word").bounds,
        kind: Some(CorrectionKind::Bracketed),
    };
    let taken_back = Amendment::Correction {
        at: word.expect("a word").bounds,
        kind: None,
    };
    let found = Amendment::Correction {
        at: struck.bounds,
        kind: None,
    };
    let other = Amendment::Correction {
        at: struck.bounds,
        kind: Some(CorrectionKind::StruckManyTimes),
    };
    let corrections = |amendments: &[Amendment]| {
        let after = read_with(&sheet, amendments);
        let kinds = after.corrections.iter().map(|c| (c.kind, c.by_hand));
        let kinds: Vec<(CorrectionKind, bool)> = kinds.collect();
        // A gap between words counts only where nothing was put right in it.
        let gaps = [MeasureName::WordGap, MeasureName::WordGapCv];
        let mut by_hand = marked(&before, &after);
        by_hand.retain(|name| !gaps.contains(name));
        (kinds, value(&after, MeasureName::Corrections), by_hand)
    };
    let one = value(&before, MeasureName::Corrections);
    let (once, bracketed) = (CorrectionKind::StruckOnce, CorrectionKind::Bracketed);
    let only = vec![MeasureName::Corrections];
    let (kinds, figure, by_hand) = corrections(&[missed]);
    assert_eq!(kinds, [(once, false), (bracketed, true)]);
    assert_eq!(by_hand, only);
    assert!((figure - 2.0 * one).abs() < 1e-3, "{figure}");
    assert_eq!(corrections(&[found]), (vec![], 0.0, only));
    let (kinds, figure, _) = corrections(&[other]);
    assert_eq!(kinds, [(CorrectionKind::StruckManyTimes, true)]);
    assert_eq!(figure, one);
    // Of two about the same place, the later holds.
    assert_eq!(corrections(&[other, found]), corrections(&[found]));
    assert_eq!(corrections(&[found, other]), corrections(&[other]));
    let none = corrections(&[missed, taken_back]);
    assert_eq!(none, (vec![(once, false)], one, vec![]));
}

#[test]
fn of_two_that_contradict_the_later_holds() {
    let sheet = dotless();
    let before = read(&sheet);
    let at = first(&before, |l| has(l, FaultKind::NoDot));
    let bounds = before.letters[at].bounds;
    let fault = |there| Amendment::Fault {
        at: bounds,
        letter: 'i',
        fault: FaultKind::NoDot,
        there,
    };
    let holds = |pair: [Amendment; 2]| {
        let after = read_with(&sheet, &pair);
        has(&after.letters[at], FaultKind::NoDot)
    };
    assert!(holds([fault(false), fault(true)]));
    assert!(!holds([fault(true), fault(false)]));
    let place = |bounds_now| Amendment::Letter {
        at: bounds,
        letter: 'i',
        bounds: bounds_now,
    };
    // A little to the side: the same stroke, but for its edge.
    let aside = BoxMm {
        x0: Mm(bounds.x0.0 + 0.1),
        ..bounds
    };
    for (one, other) in [(None, Some(aside)), (Some(aside), None)] {
        let both = read_with(&sheet, &[place(one), place(other)]);
        let later = read_with(&sheet, &[place(other)]);
        assert!(bytes(&both) == bytes(&later));
    }
}
