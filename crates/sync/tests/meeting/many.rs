//! Several meetings at once.

use crate::shelf::{brisk, level, noise, start};

#[tokio::test]
async fn one_device_meets_four_others_at_once() {
    let (tutor, at_tutor) = start(1, brisk()).await;
    let mut families = Vec::new();
    for n in 0..4u8 {
        let (node, shelf) = start(10 + n, brisk()).await;
        at_tutor.know(node.id());
        shelf.know(tutor.id());
        let book = [b'b', b'o', b'o', b'k', b' ', b'o', b'f', b'0' + n];
        for change in 0..30 {
            shelf.write(&book, &[change; 500]);
        }
        for seed in 0..3 {
            shelf.write_blob(&book, noise(700_000, n * 10 + seed));
        }
        families.push((node, shelf));
    }
    at_tutor.write_blob(b"everyone", noise(400_000, 99));
    let address = tutor.addresses();
    let [a, b, c, d] = &families[..] else {
        unreachable!()
    };
    // Two call the tutor's device and two are called by it.
    let (to_c, to_d) = (c.0.addresses(), d.0.addresses());
    let outcomes = tokio::join!(
        a.0.exchange(tutor.id(), &address),
        b.0.exchange(tutor.id(), &address),
        tutor.exchange(c.0.id(), &to_c),
        tutor.exchange(d.0.id(), &to_d),
    );
    for outcome in [outcomes.0, outcomes.1, outcomes.2, outcomes.3] {
        assert_eq!(outcome.unwrap().refused_changes, 0);
    }
    // Each has what the tutor's device had; it has everything.
    for (_, shelf) in &families {
        let own = shelf.look(|c| c.documents.clone());
        assert!(own.contains_key(b"everyone"));
        for (book, changes) in own {
            assert_eq!(at_tutor.look(|c| c.documents[&book].clone()), changes);
        }
        let blobs = shelf.look(|c| c.blobs.clone());
        assert!(at_tutor.look(|c| blobs.iter().all(|(id, bytes)| c.blobs[id] == *bytes)));
    }
    // A second round hands on what the families had for each other.
    for (node, shelf) in &families {
        node.exchange(tutor.id(), &address).await.unwrap();
        assert!(level(shelf, &at_tutor));
    }
}
