//! Every two edits that are made at once, on the same thing and on different ones, by all who may make them.

mod list;
mod outcome;
mod rules;

use std::collections::BTreeSet;

use casefile::{CaseFile, Edit, PupilView, SignedChange, Signer, WriteRefused};
use units::{AskedFor, PageId};

use crate::fixtures::*;
use crate::kinds::{About, KINDS, edits, kind, two_of_everything};
use outcome::Outcome;
use rules::{Class, Place, Who, place, rule};

/// The id of the first that is new; all that were known before have lower ones.
const NEW: u8 = 0x31;

/// What two edits have in common.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Target {
    /// Both are about the same things, and add others.
    Same,
    /// They are about different things.
    Different,
    /// They are about the same things, and what they add has one id.
    SameId,
}

/// Who makes which of two edits.
#[derive(Debug, Clone, Copy)]
struct Arrangement<'a> {
    by: [&'a Signer; 2],
    target: Target,
    /// Who has written something else before, so that its logical time is the later.
    ahead: Option<usize>,
}

impl<'a> Arrangement<'a> {
    /// All that tell different things.
    fn all(people: &'a People) -> impl Iterator<Item = Self> {
        let (laptop, second) = (&people.laptop, &people.second_laptop);
        let (phone, other) = (&people.phone, &people.second_phone);
        let by = [[laptop, second], [laptop, phone], [phone, other]];
        let by = by
            .into_iter()
            .flat_map(|[one, two]| [[one, two], [two, one]]);
        let how = [
            (Target::Same, None),
            (Target::Same, Some(0)),
            (Target::Same, Some(1)),
            (Target::SameId, None),
            (Target::SameId, Some(0)),
            (Target::SameId, Some(1)),
            // What is different does not hang on the time.
            (Target::Different, None),
        ];
        by.flat_map(move |by| how.map(|(target, ahead)| Self { by, target, ahead }))
    }

    fn devices(self, known: &Known) -> [Device<'a>; 2] {
        let (of_second, new) = match self.target {
            Target::Same => (1, NEW + 1),
            Target::Different => (2, NEW + 1),
            Target::SameId => (1, NEW),
        };
        let device = |at: usize, of, new, value| {
            let about = About {
                by: self.by[at],
                known: of,
                new,
                value,
            };
            Device::new(known, about, self.ahead == Some(at))
        };
        [device(0, 1, NEW, 1), device(1, of_second, new, 2)]
    }
}

/// One of two devices that do not hear of each other.
struct Device<'a> {
    by: &'a Signer,
    tutors: bool,
    file: CaseFile,
    /// What it wrote before, if it is ahead.
    before: Option<(Edit, SignedChange)>,
    edits: Vec<Edit>,
}

impl<'a> Device<'a> {
    fn new(known: &Known, about: About<'a>, ahead: bool) -> Self {
        let by = about.by;
        let mut file = known.file.clone();
        let before = ahead.then(|| {
            let edit = Edit::AddSetUp(setup(0xEE));
            let change = file.write(by, edit.clone()).unwrap();
            (edit, change)
        });
        let laptops = [&known.people.laptop, &known.people.second_laptop];
        Self {
            tutors: laptops.iter().any(|it| it.device() == by.device()),
            edits: edits(about),
            by,
            file,
            before,
        }
    }

    fn may(&self, edit: &Edit) -> bool {
        self.tutors || rule(edit).1 == Who::Everybody
    }

    fn wrote(&self, edit: &Edit) -> (CaseFile, Vec<SignedChange>) {
        let mut file = self.file.clone();
        let change = file.write(self.by, edit.clone()).unwrap();
        let before = self.before.iter().map(|(_, change)| change.clone());
        (file, before.chain([change]).collect())
    }

    fn place(&self, edit: &Edit) -> Place {
        place(edit, self.time(), self.tutors, self.by.device())
    }

    fn time(&self) -> u64 {
        if self.before.is_some() { 2 } else { 1 }
    }
}

/// What all have seen.
struct Known {
    people: People,
    file: CaseFile,
    view: PupilView,
    changes: Vec<SignedChange>,
    /// The same on a device that wrote nothing of it.
    heard: CaseFile,
}

impl Known {
    fn new() -> Self {
        let people = People::new();
        let (file, changes) = two_of_everything(&people);
        Self {
            heard: newcomer(&people, &changes),
            view: file.view(),
            people,
            file,
            changes,
        }
    }
}

/// Somebody who hears of everything in an order of its own.
fn newcomer(people: &People, changes: &[SignedChange]) -> CaseFile {
    let mut newcomer = people.file();
    accept_all(&mut newcomer, &interleaved(changes, 0));
    newcomer
}

/// What two edits come to by the rules.
fn ruled(known: &Known, mut both: [(&Device, &Edit); 2]) -> PupilView {
    both.sort_by_key(|(device, edit)| device.place(edit));
    let mut outcome = Outcome::of(known.view.clone());
    for (device, _) in both {
        if let Some((edit, _)) = &device.before {
            outcome.put(edit, 1);
        }
    }
    for (device, edit) in both {
        outcome.put(edit, device.time());
    }
    outcome.view()
}

/// What is amiss with the outcome of two edits; nothing where it is as the rules have it.
fn amiss(known: &Known, both: [(&Device, &Edit); 2], from_nothing: bool) -> Vec<String> {
    let wanted = ruled(known, both);
    let [(mut left, from_left), (mut right, from_right)] =
        both.map(|(device, edit)| device.wrote(edit));
    accept_all(&mut left, &from_right);
    accept_all(&mut right, &from_left);
    let third = match from_nothing {
        true => {
            let all = [known.changes.clone(), from_left, from_right].concat();
            newcomer(&known.people, &all)
        }
        false => {
            let mut third = known.heard.clone();
            accept_all(&mut third, &from_right);
            accept_all(&mut third, &from_left);
            third
        }
    };
    let shown = [
        ("the first", left),
        ("the other", right),
        ("a third", third),
    ];
    let differing = shown.iter().filter_map(|(who, file)| {
        let view = file.view();
        (view != wanted).then(|| format!("{who} sees {}", difference(&view, &wanted)))
    });
    differing.collect()
}

/// The first lines in which two views differ.
fn difference(view: &PupilView, wanted: &PupilView) -> String {
    let (view, wanted) = (format!("{view:#?}"), format!("{wanted:#?}"));
    let mut lines = view.lines().zip(wanted.lines());
    let line = lines.position(|(view, wanted)| view != wanted).unwrap_or(0);
    let from = |text: &str| {
        let lines = text.lines().skip(line).take(2).map(str::trim);
        lines.collect::<Vec<_>>().join(" ")
    };
    format!("{} instead of {}", from(&view), from(&wanted))
}

/// Tries every pair of edits for which this holds, by everybody who may make them; the pairs of kinds that were
/// tried, and how often.
fn try_all(holds: impl Fn(&Edit, &Edit) -> bool) -> (BTreeSet<[&'static str; 2]>, usize) {
    let known = Known::new();
    let (mut kinds, mut tried, mut failed) = (BTreeSet::new(), 0, Vec::new());
    for arrangement in Arrangement::all(&known.people) {
        let [one, two] = arrangement.devices(&known);
        for (at, first) in one.edits.iter().enumerate() {
            for second in &two.edits[at..] {
                let may = one.may(first) && two.may(second);
                if !may || !holds(first, second) || !tells(arrangement.target, first, second) {
                    continue;
                }
                tried += 1;
                let pair = [kind(first), kind(second)];
                let new = kinds.insert(pair);
                let amiss = amiss(&known, [(&one, first), (&two, second)], new);
                failed.extend(
                    amiss
                        .iter()
                        .map(|what| format!("{pair:?} {arrangement:?}: {what}")),
                );
            }
        }
    }
    let some = failed[..failed.len().min(20)].join("\n");
    assert!(failed.is_empty(), "{} of {tried}:\n{some}", failed.len());
    (kinds, tried)
}

/// Whether the outcome is another than that of edits about the same things that add others.
fn tells(target: Target, one: &Edit, other: &Edit) -> bool {
    let adds = |edit: &Edit| rule(edit).0 == Class::Addition || kind(edit) == "SetTask";
    target != Target::SameId || (kind(one) == kind(other) && adds(one))
}

fn takes_a_page_out(one: &Edit, other: &Edit) -> bool {
    [one, other].iter().any(|edit| kind(edit) == "TakePageOut")
}

#[test]
fn whatever_two_do_at_once_comes_to_what_the_rules_say() {
    let (kinds, tried) = try_all(|one, other| !takes_a_page_out(one, other));
    println!("{} pairs of kinds, {tried} tried", kinds.len());
    assert_eq!(kinds.len(), KINDS.len() * (KINDS.len() - 1) / 2);
}

#[test]
fn a_page_taken_out_takes_along_whatever_is_done_to_it_at_once() {
    let (kinds, tried) = try_all(takes_a_page_out);
    println!("{} pairs of kinds, {tried} tried", kinds.len());
    assert_eq!(kinds.len(), KINDS.len());
}

#[test]
fn a_family_does_what_it_may_and_nothing_else() {
    let known = Known::new();
    let about = About {
        by: &known.people.phone,
        known: 1,
        new: NEW,
        value: 1,
    };
    for edit in edits(about) {
        let done = known.file.clone().write(about.by, edit.clone()).map(drop);
        let wanted = match rule(&edit).1 {
            Who::Everybody => Ok(()),
            Who::Tutor => Err(WriteRefused::TutorOnly),
        };
        assert_eq!(done, wanted, "{}", kind(&edit));
    }
}

#[test]
fn it_is_the_same_where_the_books_are_founded_anew_over_one_of_them() {
    let known = Known::new();
    let (laptop, second) = (&known.people.laptop, &known.people.second_laptop);
    let mut tried = 0;
    for by in [[laptop, second], [laptop, &known.people.phone]] {
        let arrangement = Arrangement {
            by,
            target: Target::Same,
            ahead: None,
        };
        let [one, two] = arrangement.devices(&known);
        for founded in &one.edits {
            let (mut founder, _) = one.wrote(founded);
            let founding = found(&mut founder, laptop, 5, &[]);
            for late in two.edits.iter().filter(|late| two.may(late)) {
                tried += 1;
                let mut wanted = ruled(&known, [(&one, founded), (&two, late)]);
                let mut founder = founder.clone();
                let (mut away, _) = two.wrote(late);
                accept_all(&mut away, &founding.write);
                let carried = away.settle(two.by).unwrap();
                accept_all(&mut founder, &carried.write);
                let mut view = founder.view();
                assert_eq!(away.view(), view);
                leave_behind(&mut wanted);
                leave_behind(&mut view);
                let which = format!("{}, late {}", kind(founded), kind(late));
                assert!(view == wanted, "{which}: {}", difference(&view, &wanted));
            }
        }
    }
    println!("{tried} tried");
}

/// Lets go of what may have been left behind: readings of before where there are newer ones, and wishes that a
/// page be forgotten that is gone.
fn leave_behind(view: &mut PupilView) {
    for page in &mut view.pages {
        if page.readings.len() > 1 {
            page.readings.retain(|it| it.id.0[0] >= NEW);
        }
    }
    let pages: BTreeSet<PageId> = view.pages.iter().map(|it| it.id).collect();
    view.asks.retain(|it| match it.wish {
        AskedFor::Page { page } => pages.contains(&page),
        AskedFor::Everything => true,
    });
}
