//! Foundings that no honest device writes.

use units::{DeviceId, Role};

use super::*;

fn founded(name: u8, after: u8, author: DeviceId, seed: u64) -> Step {
    let id = |name: u8| match name {
        0 => FoundingId::FIRST,
        name => FoundingId([name; 8]),
    };
    Step::Found {
        founding: id(name),
        after: id(after),
        seed: reached(name, author, seed),
        upto: Vec::new(),
        forgotten: Vec::new(),
    }
}

fn reached(name: u8, author: DeviceId, seq: u64) -> Reached {
    Reached {
        book: BookKind::Tutor,
        founding: FoundingId([name; 8]),
        author,
        seq,
        digest: [7; 32],
    }
}

/// A log with two of the tutor's devices.
fn of_two(laptop: &Signer, thief: &Signer) -> Log {
    let (mut log, _) = Log::begin(laptop, CircleKind::Pupil, [0; 16], None);
    let (device, role) = (thief.device(), Role::Tutor);
    log.write(laptop, Step::Admit { device, role }).unwrap();
    log
}

#[test]
fn a_founding_rests_on_a_seed_of_its_authors() {
    let (laptop, thief) = (Signer::from_secret([1; 32]), Signer::from_secret([2; 32]));
    for (author, seed, sound) in [
        (thief.device(), 9, true),
        (laptop.device(), 9, false),
        (thief.device(), 0, false),
    ] {
        let mut log = of_two(&laptop, &thief);
        let written = log.write(&thief, founded(5, 0, author, seed));
        assert_eq!(written.is_ok(), sound, "{seed}");
    }
}

#[test]
fn a_founding_has_a_new_name_and_replaces_one_that_its_author_knows() {
    let (laptop, thief) = (Signer::from_secret([1; 32]), Signer::from_secret([2; 32]));
    for (name, after, sound) in [(6, 5, true), (5, 6, false), (6, 7, false), (6, 6, false)] {
        let mut log = of_two(&laptop, &thief);
        log.write(&thief, founded(5, 0, thief.device(), 9)).unwrap();
        let written = log.write(&thief, founded(name, after, thief.device(), 9));
        assert_eq!(written.is_ok(), sound, "{name} after {after}");
    }
}

#[test]
fn a_founding_that_nobody_can_follow_does_not_hold() {
    let (laptop, thief) = (Signer::from_secret([1; 32]), Signer::from_secret([2; 32]));
    let device = thief.device();
    for (steps, last, holds) in [
        (vec![(5, 0, 9)], vec![], FoundingId::FIRST),
        (
            vec![(5, 0, 9)],
            vec![reached(5, device, 9)],
            FoundingId([5; 8]),
        ),
        (
            vec![(5, 0, 9), (6, 5, 9), (4, 6, 1)],
            vec![reached(4, device, 1)],
            FoundingId([4; 8]),
        ),
    ] {
        let mut log = of_two(&laptop, &thief);
        for (name, after, seed) in &steps {
            let step = founded(*name, *after, device, *seed);
            log.write(&thief, step).unwrap();
        }
        log.write(&laptop, Step::Remove { device, last }).unwrap();
        let standing = log.standing();
        assert_eq!(standing.founding_id(), holds, "{steps:?}");
        assert_eq!(standing.adrift, holds == FoundingId::FIRST, "{steps:?}");
    }
}
