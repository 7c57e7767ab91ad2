//! Entries for a fuzzer: bytes from nowhere into everything that reads some, also behind a signature
//! that holds. Whatever they are, nothing panics, and a refusal alters nothing.

use units::{DeviceId, PupilId, Role};

use crate::{
    BookKind, CaseFile, DocId, Edit, FoundingId, PracticeBook, SignedChange, Signer, chunk,
    grammar, read_letters,
};

/// Reads the bytes as a signed change, as a document's name and as a letter model.
pub fn outside(data: &[u8]) {
    if let Ok(change) = SignedChange::decode(data) {
        assert_eq!(change.encode(), data);
        let _ = change.verify();
        let mut file = CaseFile::new(change.doc.pupil);
        let have = file.have();
        if file.accept(&change).is_err() {
            assert_eq!(file.have(), have);
        }
    }
    if let Ok(id) = DocId::decode(data) {
        assert_eq!(id.encode(), data);
    }
    let _ = read_letters(&String::from_utf8_lossy(data));
}

/// Signs the bytes as a member would and lets others take them: the first byte picks what they are said
/// to be, and whether they are laid over something sound.
pub fn signed(data: &[u8]) {
    let Some((&pick, data)) = data.split_first() else {
        return;
    };
    let (laptop, phone) = (Signer::from_secret([1; 32]), Signer::from_secret([2; 32]));
    let (mut file, first) = CaseFile::begin(&laptop, [3; 16], None);
    let pupil = file.pupil();
    let admitted = file
        .admit(&laptop, phone.device(), Role::Parent)
        .expect("the laptop is the tutor's");
    let (book, author, seq) = match pick % 4 {
        0 => (BookKind::Log, &laptop, 3),
        1 => (BookKind::Tutor, &laptop, 1),
        2 => (BookKind::Home, &phone, 1),
        _ => (BookKind::Practice, &laptop, 1),
    };
    let doc = DocId {
        pupil,
        book,
        founding: FoundingId::FIRST,
        author: author.device(),
    };
    let over = match pick & 4 {
        0 => data.to_vec(),
        _ => laid_over(sound(&mut file.clone(), &laptop, &phone, book), data),
    };
    let change = SignedChange::sign(author, doc, seq, checked(over));
    let before = (file.view(), file.have());
    let mut all = vec![first.clone(), admitted.clone()];
    match file.accept(&change) {
        Ok(_) => all.push(change.clone()),
        Err(_) => assert_eq!((file.view(), file.have()), before),
    }
    let _ = file.settle(&phone);
    let _ = (file.view(), file.owes_founding());
    let again = CaseFile::of_kept(pupil, all.clone());
    if !file.standing().erased {
        assert_eq!(again.view(), file.view());
    }
    let mut practice = PracticeBook::new(pupil);
    practice.accept_all(&all);
    let _ = practice.view();
    // Kept on a disk that authenticates nothing it would still not end the program.
    let _ = CaseFile::of_kept(PupilId([9; 16]), vec![change]).view();
}

/// What a member would have written there.
fn sound(file: &mut CaseFile, laptop: &Signer, phone: &Signer, book: BookKind) -> Vec<u8> {
    let written = match book {
        BookKind::Log => file.admit(laptop, DeviceId([7; 32]), Role::Parent),
        BookKind::Home => file.write(
            phone,
            Edit::AddPractised(units::Practised {
                id: units::PractisedId([5; 16]),
                day: units::Day(20_000),
                minutes: 10,
                task: None,
            }),
        ),
        _ => file.write(laptop, Edit::SetDeleteBy(Some(units::Day(21_000)))),
    };
    written.map_or_else(|_| Vec::new(), |change| change.bytes)
}

/// Bytes in the place of others: a position, then what stands there.
fn laid_over(mut sound: Vec<u8>, data: &[u8]) -> Vec<u8> {
    for piece in data.chunks(3) {
        if let ([high, low, byte], false) = (piece, sound.is_empty()) {
            let at = usize::from(u16::from_be_bytes([*high, *low])) % sound.len();
            sound[at] = *byte;
        }
    }
    sound
}

/// The bytes with the checksum that belongs to them, if they are a change at all: a checksum keeps
/// nobody out.
fn checked(mut bytes: Vec<u8>) -> Vec<u8> {
    if let (Some(_), Ok(hash)) = (chunk::read(&bytes), grammar::hash(&bytes)) {
        bytes[chunk::CHECKSUM].copy_from_slice(&hash.0[..4]);
    }
    bytes
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..Default::default() })]

        #[test]
        fn bytes_from_nowhere_end_nothing(data in prop::collection::vec(any::<u8>(), 0..400)) {
            super::outside(&data);
            super::signed(&data);
        }
    }
}
