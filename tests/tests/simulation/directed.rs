//! Schedules made by hand, of what chance brings too seldom.

use crate::dice::Dice;
use crate::edits::Doing;
use crate::planted::Plant;
use crate::scene::{BAG, KITCHEN, STUDY};
use crate::steps::{Plan, Step, What};
use crate::world::run;

/// How often chance has its way with the same steps.
const DRAWS: u64 = 16;

/// Runs these steps, with and without a second parent, levelled by meetings and by files, with several
/// draws of all else.
fn always_ends_well(steps: &[(usize, What)]) {
    let edits = steps
        .iter()
        .filter(|(_, what)| matches!(what, What::Do { .. }))
        .count() as u64;
    let mut whole = 0;
    for seed in 0..DRAWS {
        let mut dice = Dice::new(seed);
        let plan = Plan {
            seed,
            two_parents: seed % 2 == 1,
            by_post: seed % 4 >= 2,
            steps: steps
                .iter()
                .map(|&(device, what)| Step {
                    device,
                    what,
                    draw: dice.next(),
                })
                .collect(),
        };
        let ended = run(&plan, Plant::Nothing).unwrap_or_else(|wrong| panic!("{plan:?}: {wrong}"));
        whole += u64::from(ended.counts.edits == edits);
    }
    // Chance breaks off some meetings, and then there may be nothing to do something to.
    assert!(whole >= DRAWS / 2, "{whole}");
}

fn does(doing: Doing) -> What {
    What::Do {
        doing,
        other: false,
    }
}

/// What a family wrote goes to one laptop alone, which founds the books anew; so it stands in that laptop's
/// seed and nowhere else. Then the other laptop, which has heard of none of it, removes that laptop.
#[test]
fn what_a_family_wrote_outlives_the_one_laptop_whose_seed_it_stands_in() {
    let meets_bag = (KITCHEN, What::Meet { with: BAG });
    for doing in [Doing::Page, Doing::Text, Doing::Reply, Doing::Practised] {
        let begins = [
            (
                STUDY,
                What::MeetTwo {
                    with: [BAG, KITCHEN],
                },
            ),
            (KITCHEN, does(doing)),
            meets_bag,
            (BAG, does(Doing::Shorten)),
            meets_bag,
        ];
        let removes = [(STUDY, What::Remove { whom: BAG })];
        always_ends_well(&[&begins[..], &removes].concat());
        // Or the phone goes on writing in what that laptop founded, and the other laptop founds too.
        let goes_on = [
            (KITCHEN, does(Doing::Page)),
            removes[0],
            (STUDY, does(Doing::Shorten)),
            (KITCHEN, What::Meet { with: STUDY }),
        ];
        always_ends_well(&[&begins[..], &goes_on].concat());
    }
}

/// Two laptops found the books anew at once, so a new phone is given the log, and no books before the two have
/// agreed. Then the pupil is erased: the phone lets go of what it had noted, though there are no books to let go of.
#[test]
fn a_phone_to_which_no_books_have_come_keeps_nothing_of_an_erased_pupil() {
    always_ends_well(&[
        (STUDY, does(Doing::Forget)),
        (BAG, does(Doing::Shorten)),
        (BAG, What::Meet { with: STUDY }),
        (STUDY, What::NewPhone),
        (STUDY, does(Doing::Erase)),
    ]);
}
