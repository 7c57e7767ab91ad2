//! A letter model that is none of those to start from: in the profile and beside a page.

use automerge::transaction::{CommitOptions, Transactable};
use automerge::{ROOT, ScalarValue};
use casefile::{BookKind, Edit, WriteRefused};
use units::{LetterModel, PageRecord, Profile, Ratio};

use crate::fixtures::*;

fn taught(model: LetterModel) -> Profile {
    Profile { model, ..profile() }
}

fn with_model(id: u8, by: &casefile::Signer, model: LetterModel) -> PageRecord {
    PageRecord {
        model,
        ..page(id, by)
    }
}

#[test]
fn every_model_comes_back_as_it_was_written() {
    let people = People::new();
    let mut file = people.file();
    let models = LetterModel::to_start_from()
        .into_iter()
        .chain([own_letters()]);
    for (id, model) in (1..).zip(models) {
        let set = Edit::SetProfile(taught(model.clone()));
        file.write(&people.laptop, set).unwrap();
        assert_eq!(file.view().profile, Some(taught(model.clone())));
        let page = with_model(id, &people.phone, model);
        file.write(&people.phone, Edit::AddPage(page.clone()))
            .unwrap();
        assert_eq!(file.view().page(page.id), Some(&page));
    }
    assert!(!file.view().newer);
}

#[test]
fn a_page_keeps_its_letters_when_the_profile_goes_on() {
    let people = People::new();
    let mut file = people.file();
    let page = with_model(1, &people.phone, own_letters());
    written(
        &mut file,
        vec![
            (&people.laptop, Edit::SetProfile(taught(own_letters()))),
            (&people.phone, Edit::AddPage(page.clone())),
            (
                &people.laptop,
                Edit::SetProfile(taught(LetterModel::joined())),
            ),
        ],
    );
    assert_eq!(file.view().pages, [page]);
    assert_eq!(file.view().profile.unwrap().model, LetterModel::joined());
}

#[test]
fn a_model_that_no_school_could_teach_is_refused() {
    let people = People::new();
    let laptop = &people.laptop;
    let mut file = people.file();
    let spoiled = |spoil: fn(&mut LetterModel)| {
        let mut model = own_letters();
        spoil(&mut model);
        model
    };
    for model in [
        spoiled(|model| model.name = "x".repeat(61)),
        spoiled(|model| drop(model.letters.pop())),
        spoiled(|model| model.letters[1].above = Ratio(f64::NAN)),
        spoiled(|model| model.letters[2].joins_to = "A".repeat(1 << 20)),
    ] {
        let refused = Err(WriteRefused::OutOfRange("the letter model"));
        let set = Edit::SetProfile(taught(model.clone()));
        assert_eq!(file.write(laptop, set), refused);
        let add = Edit::AddPage(with_model(1, laptop, model));
        assert_eq!(file.write(laptop, add), refused);
    }
    assert_eq!(file.view(), casefile::PupilView::default());
}

#[test]
fn two_laptops_set_the_letters_and_the_tie_rule_decides() {
    let people = People::new();
    let mut file = people.file();
    file.write(&people.laptop, Edit::SetProfile(profile()))
        .unwrap();
    let view = at_once(
        &file,
        (
            &people.laptop,
            vec![Edit::SetProfile(taught(own_letters()))],
        ),
        (
            &people.second_laptop,
            vec![Edit::SetProfile(taught(LetterModel::joined()))],
        ),
    );
    let wanted = match people.laptop.device() > people.second_laptop.device() {
        true => own_letters(),
        false => LetterModel::joined(),
    };
    assert_eq!(view.profile, Some(taught(wanted)));
}

#[test]
fn letters_and_another_field_at_once_both_hold() {
    let people = People::new();
    let mut file = people.file();
    file.write(&people.laptop, Edit::SetProfile(profile()))
        .unwrap();
    let renamed = Profile {
        name: "Robin".into(),
        ..profile()
    };
    let view = at_once(
        &file,
        (
            &people.laptop,
            vec![Edit::SetProfile(taught(own_letters()))],
        ),
        (&people.second_laptop, vec![Edit::SetProfile(renamed)]),
    );
    let both = Profile {
        name: "Robin".into(),
        ..taught(own_letters())
    };
    assert_eq!(view.profile, Some(both));
}

#[test]
fn letters_that_cannot_be_read_fall_back_to_those_before() {
    let people = People::new();
    let text = casefile::letters_text(&own_letters(), false);
    let spoiled = |from: &str, to: &str| {
        assert!(text.contains(from));
        ScalarValue::Str(text.replacen(from, to, 1).into())
    };
    for (value, wanted) in [
        (ScalarValue::Str(text.clone().into()), own_letters()),
        (ScalarValue::Uint(3), LetterModel::joined()),
        (ScalarValue::Uint(4), profile().model),
        (ScalarValue::Null, profile().model),
        (ScalarValue::Str("".into()), profile().model),
        (spoiled("\"version\":1", "\"version\":2"), profile().model),
        (
            spoiled("\"letter\":\"q\"", "\"letter\":\"p\""),
            profile().model,
        ),
        (
            ScalarValue::Str(" ".repeat(1 << 17).into()),
            profile().model,
        ),
    ] {
        let mut file = people.file();
        file.write(&people.laptop, Edit::SetProfile(profile()))
            .unwrap();
        let shown = format!("{value:.60?}");
        file.accept(&written_raw("profile/model", value)).unwrap();
        assert_eq!(file.view().profile.unwrap().model, wanted, "{shown}");
    }
}

#[test]
fn only_the_device_that_added_a_page_says_what_letters_it_was_taught() {
    let people = People::new();
    let mut file = people.file();
    file.write(&people.phone, Edit::AddPage(page(1, &people.phone)))
        .unwrap();
    let key = format!("model/{}", "01".repeat(16));
    let text = casefile::letters_text(&own_letters(), false);
    file.accept(&written_raw(&key, ScalarValue::Str(text.into())))
        .unwrap();
    assert_eq!(file.view().pages, [page(1, &people.phone)]);
}

#[test]
fn a_page_whose_own_letters_are_unreadable_keeps_joined_or_unjoined() {
    let people = People::new();
    let id = doc(BookKind::Home, &people.phone);
    let added = people
        .file()
        .write(
            &people.phone,
            Edit::AddPage(with_model(1, &people.phone, own_letters())),
        )
        .unwrap();
    let mut file = people.file();
    file.accept(&added).unwrap();
    assert_eq!(file.view().pages[0].model, own_letters());
    // The same device writes over it with what nobody can read.
    let mut document = raw_document(&id);
    document
        .apply_changes([automerge::Change::try_from(added.bytes.as_slice()).unwrap()])
        .unwrap();
    let options = CommitOptions::default().with_time(0);
    let bytes = raw_change(&mut document, options, |change| {
        let key = format!("model/{}", "01".repeat(16));
        change.put(ROOT, key, "{}").unwrap();
    });
    file.accept(&sign(3, id, 2, bytes)).unwrap();
    assert_eq!(file.view().pages[0].model, LetterModel::part_joined());
}
