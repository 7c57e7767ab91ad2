//! What comes of every two things that are done to the tutor's list of pupils at once, by rules as in `rules`:
//! pupils that are added all stand; then comes what is written, by logical time and at the same time by device;
//! whoever is taken off goes last, with note and lesson. The order is written by whoever adds a pupil, takes one
//! off or says it, and the last one stands whole; a pupil that it does not know of follows by id.

use std::collections::BTreeSet;

use casefile::{PracticeBook, PracticeEdit, PracticeView, SignedChange, Signer};
use units::{Lesson, PupilId, Weekday};

use crate::fixtures::*;

/// Of three pupils that are on the list one is known to be meant.
fn edits(known: u8, new: u8, value: u16) -> Vec<PracticeEdit> {
    let pupil = PupilId([known; 16]);
    let odd = value % 2 == 1;
    vec![
        PracticeEdit::AddPupil(PupilId([new; 16])),
        PracticeEdit::RemovePupil(pupil),
        PracticeEdit::SetOrder(match odd {
            true => [3, 1, 2].map(|id| PupilId([id; 16])).to_vec(),
            false => vec![PupilId([2; 16])],
        }),
        PracticeEdit::SetNote {
            pupil,
            note: if odd {
                format!("note {value}")
            } else {
                String::new()
            },
        },
        PracticeEdit::SetLesson {
            pupil,
            lesson: odd.then_some(Lesson {
                weekday: Weekday::Friday,
                minute: 900 + value,
            }),
        },
    ]
}

/// Whether it comes last.
fn takes_off(edit: &PracticeEdit) -> bool {
    match edit {
        PracticeEdit::RemovePupil(_) => true,
        PracticeEdit::AddPupil(_)
        | PracticeEdit::SetOrder(_)
        | PracticeEdit::SetNote { .. }
        | PracticeEdit::SetLesson { .. } => false,
    }
}

/// The list, of which each writer saw what there was before.
struct Outcome {
    saw: PracticeView,
    view: PracticeView,
    order: Vec<PupilId>,
}

impl Outcome {
    fn put(&mut self, edit: &PracticeEdit) {
        let view = &mut self.view;
        match edit.clone() {
            PracticeEdit::AddPupil(pupil) => view.pupils.push(pupil),
            PracticeEdit::RemovePupil(pupil) => {
                view.pupils.retain(|it| *it != pupil);
                view.notes.remove(&pupil);
                view.lessons.remove(&pupil);
            }
            PracticeEdit::SetOrder(_) => {}
            PracticeEdit::SetNote { pupil, note } => {
                view.notes.remove(&pupil);
                view.notes
                    .extend((!note.is_empty()).then_some((pupil, note)));
            }
            PracticeEdit::SetLesson { pupil, lesson } => {
                view.lessons.remove(&pupil);
                view.lessons.extend(lesson.map(|lesson| (pupil, lesson)));
            }
        }
    }

    fn put_in_order(&mut self, edit: &PracticeEdit) {
        let saw = self.saw.pupils.iter().copied();
        self.order = match edit.clone() {
            PracticeEdit::AddPupil(new) => saw.chain([new]).collect(),
            PracticeEdit::RemovePupil(off) => saw.filter(|it| *it != off).collect(),
            PracticeEdit::SetOrder(order) => {
                let rest = saw.filter(|it| !order.contains(it));
                order.iter().copied().chain(rest).collect()
            }
            PracticeEdit::SetNote { .. } | PracticeEdit::SetLesson { .. } => return,
        };
    }

    fn view(mut self) -> PracticeView {
        let place = |pupil: &PupilId| self.order.iter().position(|it| it == pupil);
        let pupils: BTreeSet<PupilId> = self.view.pupils.into_iter().collect();
        self.view.pupils = pupils.into_iter().collect();
        self.view
            .pupils
            .sort_by_key(|pupil| place(pupil).unwrap_or(usize::MAX));
        self.view
    }
}

/// A list of three pupils on two laptops.
fn known(people: &People) -> PracticeBook {
    let (mut book, _) = PracticeBook::begin(&people.laptop, [0x33; 16], None);
    book.admit(&people.laptop, people.second_laptop.device())
        .unwrap();
    for id in 1..=3 {
        let pupil = PupilId([id; 16]);
        let edits = [
            PracticeEdit::AddPupil(pupil),
            PracticeEdit::SetNote {
                pupil,
                note: "likes ships".into(),
            },
            PracticeEdit::SetLesson {
                pupil,
                lesson: Some(Lesson {
                    weekday: Weekday::Monday,
                    minute: 960,
                }),
            },
        ];
        for edit in edits {
            book.write(&people.laptop, edit).unwrap();
        }
    }
    book
}

#[test]
fn whatever_two_laptops_do_to_the_list_at_once_comes_to_what_the_rules_say() {
    let people = People::new();
    let start = known(&people);
    let (laptop, second) = (&people.laptop, &people.second_laptop);
    let mut tried = 0;
    for (by, other) in [(laptop, second), (second, laptop)] {
        for (about, new) in [(1, 0x32), (2, 0x32), (1, 0x31)] {
            for ahead in [None, Some(by.device()), Some(other.device())] {
                for one in edits(1, 0x31, 1) {
                    for two in edits(about, new, 2) {
                        tried += 1;
                        pair(&start, [(by, &one), (other, &two)], |it: &Signer| {
                            Some(it.device()) == ahead
                        });
                    }
                }
            }
        }
    }
    assert_eq!(tried, 2 * 3 * 3 * 25);
}

fn pair(
    start: &PracticeBook,
    both: [(&Signer, &PracticeEdit); 2],
    is_ahead: impl Fn(&Signer) -> bool,
) {
    let before = PracticeEdit::SetNote {
        pupil: PupilId([3; 16]),
        note: "likes trains".into(),
    };
    let mut outcome = Outcome {
        saw: start.view(),
        view: start.view(),
        order: start.view().pupils,
    };
    let mut books = both.map(|_| start.clone());
    let mut changes: [Vec<SignedChange>; 2] = [vec![], vec![]];
    for (at, (by, edit)) in both.into_iter().enumerate() {
        if is_ahead(by) {
            changes[at].push(books[at].write(by, before.clone()).unwrap());
            outcome.put(&before);
        }
        changes[at].push(books[at].write(by, edit.clone()).unwrap());
    }
    let mut later = both;
    later.sort_by_key(|(by, _)| (is_ahead(by), by.device()));
    for (_, edit) in later {
        outcome.put_in_order(edit);
    }
    later.sort_by_key(|(_, edit)| takes_off(edit));
    for (_, edit) in later {
        outcome.put(edit);
    }
    let wanted = outcome.view();
    let mut third = start.clone();
    for change in changes[1].iter().chain(&changes[0]) {
        third.accept(change).unwrap();
    }
    for (book, heard) in books.iter_mut().zip([&changes[1], &changes[0]]) {
        for change in heard {
            book.accept(change).unwrap();
        }
        assert_eq!(book.view(), wanted, "{both:?}");
    }
    assert_eq!(third.view(), wanted, "{both:?}");
}
