//! Joins under a letter model of one's own, and joins that leave at the wrong height.

use units::{Exit, JoinVerdict, LetterModel, MeasureName, Outcome, Reading, WhyNot};

use crate::pen::{Flaw, Joins, Sheet};
use crate::{measure, read, value};

/// Every join judged: the letters on both sides and the verdict.
fn judged(reading: &Reading) -> Vec<(char, char, JoinVerdict)> {
    let letters = &reading.letters;
    let of = |index: usize| letters[index].char.expect("the text is known");
    let joins = reading.joins.iter();
    joins
        .map(|join| (of(join.left), of(join.left + 1), join.verdict))
        .collect()
}

/// Every pair of neighbours that a model joins, as the sheet has them.
fn expected(sheet: &Sheet, model: &LetterModel) -> Vec<(char, char)> {
    let written = sheet.written();
    let pairs = written.windows(2);
    let neighbours = pairs.filter(|p| (p[0].line, p[0].word) == (p[1].line, p[1].word));
    let neighbours = neighbours.map(|p| (p[0].ch, p[1].ch));
    neighbours
        .filter(|(a, b)| model.join(*a, *b).is_some())
        .collect()
}

/// Part joined, with one letter taught otherwise.
fn taught(letter: char, exit: Exit, joins_to: &str) -> LetterModel {
    let mut model = LetterModel::part_joined();
    for form in model.letters.iter_mut().filter(|f| f.letter == letter) {
        form.exit = exit;
        form.joins_to = joins_to.to_owned();
    }
    assert_eq!(model.check(), Ok(()));
    model
}

fn joined(model: &LetterModel) -> Sheet {
    Sheet {
        joins: Joins::Sound,
        model: Some(model.clone()),
        ..Sheet::default()
    }
}

#[test]
fn only_what_the_model_joins_is_judged() {
    let usual = LetterModel::part_joined();
    // An h that is joined to nothing, an a that is joined to n alone, an o that leaves below.
    let models = [
        usual.clone(),
        taught('h', Exit::None, ""),
        taught('a', Exit::Bottom, "n"),
        taught('o', Exit::Bottom, "abcdefghijklmnopqrstuvwy"),
    ];
    let counts = models.map(|model| {
        let sheet = joined(&model);
        let reading = read(&sheet);
        let pairs: Vec<(char, char)> = judged(&reading).iter().map(|j| (j.0, j.1)).collect();
        assert_eq!(pairs, expected(&sheet, &model), "{model:?}");
        pairs.len()
    });
    let all = expected(&joined(&usual), &usual);
    let leaves = |letter| all.iter().filter(|pair| pair.0 == letter).count();
    let from_a = all
        .iter()
        .filter(|pair| pair.0 == 'a' && pair.1 != 'n')
        .count();
    assert!(leaves('h') > 0 && from_a > 0 && leaves('o') > 0);
    let [usual, no_h, less_a, low_o] = counts;
    assert_eq!(no_h, usual - leaves('h'));
    assert_eq!(less_a, usual - from_a);
    assert_eq!(low_o, usual);
}

#[test]
fn an_unjoined_model_judges_no_join() {
    let reading = read(&joined(&LetterModel::unjoined()));
    assert_eq!(judged(&reading), []);
    let because = WhyNot::NoJoins;
    let outcome = &measure(&reading, MeasureName::JoinsMade).outcome;
    assert_eq!(*outcome, Outcome::NotMeasured { because });
}

/// Holds every join against what was drawn: those that leave high are at the wrong height, the others
/// are joined.
fn leaves_high(text: &[&'static str]) {
    let sheet = Sheet {
        text: text.to_vec(),
        joins: Joins::Sound,
        flaw: Some(Flaw::LeavesHigh),
        ..Sheet::default()
    };
    let written = sheet.written();
    let reading = read(&sheet);
    assert_eq!(reading.letters.len(), written.len());
    for join in &reading.joins {
        let drawn = if written[join.left].flawed {
            JoinVerdict::WrongHeight
        } else {
            JoinVerdict::Joined
        };
        assert_eq!(join.verdict, drawn, "{:?}", written[join.left]);
    }
    let all = reading.joins.len() as f64;
    let high = written.iter().filter(|w| w.flawed).count() as f64;
    let found = value(&reading, MeasureName::JoinsMade);
    assert!((found - (all - high) / all).abs() < 1e-4, "{found}");
}

#[test]
fn a_join_that_leaves_the_bottom_letters_high_is_at_the_wrong_height() {
    leaves_high(&[
        "a t*all hat and a pool",
        "i had a t*hin old lion",
        "pull it until *noon at",
        "a lap *and a dull hand",
        "h*at in a t*an land",
    ]);
}

#[test]
fn a_join_that_leaves_a_u_high_is_at_the_wrong_height() {
    leaves_high(&[
        "a tall hat and a pool",
        "i had a thin old lion",
        "p*ull it *until noon",
        "a lap and a d*ull hut",
        "put a null hull out",
    ]);
}

#[test]
fn an_o_that_is_taught_to_leave_below_is_joined_by_way_of_the_line() {
    let dipping = |model: LetterModel| {
        judged(&read(&Sheet {
            joins: Joins::Dipping,
            ..joined(&model)
        }))
    };
    let usual = dipping(LetterModel::part_joined());
    let wrong = |joins: &[(char, char, JoinVerdict)]| -> Vec<usize> {
        let all = joins.iter().enumerate();
        all.filter(|(_, join)| join.2 == JoinVerdict::WrongHeight)
            .map(|(index, _)| index)
            .collect()
    };
    let by_the_line = wrong(&usual);
    assert!(by_the_line.len() >= 3 && by_the_line.iter().all(|j| usual[*j].0 == 'o'));
    let takes = LetterModel::part_joined()
        .form('o')
        .expect("an o")
        .joins_to
        .clone();
    let low = dipping(taught('o', Exit::Bottom, &takes));
    assert!(by_the_line.iter().all(|j| low[*j].2 == JoinVerdict::Joined));
}

#[test]
fn a_hand_that_leaves_every_join_out_makes_none() {
    let sheet = Sheet {
        joins: Joins::Left,
        ..Sheet::default()
    };
    let reading = read(&sheet);
    let pairs = expected(&sheet, &LetterModel::part_joined()).len();
    assert_eq!(reading.joins.len(), pairs);
    assert_eq!(value(&reading, MeasureName::JoinsMade), 0.0);
    let sound = read(&joined(&LetterModel::part_joined()));
    assert_eq!(value(&sound, MeasureName::JoinsMade), 1.0);
}
