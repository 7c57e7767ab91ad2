//! Invented people, devices and records.

use std::collections::BTreeMap;

use automerge::{
    ActorId, Automerge, Change, ROOT, ScalarValue, legacy,
    transaction::{CommitOptions, Transactable, Transaction},
};
use casefile::{BookKind, CaseFile, DocId, Edit, FoundingId, Settled, SignedChange, Signer};
use ed25519_dalek::{Signer as _, SigningKey};
use units::{
    Amendment, AmendmentId, AmendmentRecord, Ask, AskId, AskedFor, Aspect, BlobId, BoxMm, Day,
    FaultKind, Focus, FocusId, Hand, LetterModel, Mark, MarkId, MarkShape, Measure, MeasureName,
    Mm, Moment, Outcome, PageId, PageRecord, Paper, PointMm, Practised, PractisedId, Profile,
    PupilId, Ratio, ReadingId, ReadingRecord, Reply, ReplyId, Role, Ruling, SchoolYear, SetUpCheck,
    SetUpId, SetUpItem, Target, Task, TaskId, TaskKind, WhyNot,
};

/// The pupil whose log these people begin.
pub fn pupil() -> PupilId {
    begun(&People::new()).0.pupil()
}

fn begun(people: &People) -> (CaseFile, SignedChange) {
    CaseFile::begin(&people.laptop, [0x11; 16], None)
}

/// Two of the tutor's laptops and two parents' phones.
pub struct People {
    pub laptop: Signer,
    pub second_laptop: Signer,
    pub phone: Signer,
    pub second_phone: Signer,
}

impl People {
    pub fn new() -> Self {
        Self {
            laptop: Signer::from_secret([1; 32]),
            second_laptop: Signer::from_secret([2; 32]),
            phone: Signer::from_secret([3; 32]),
            second_phone: Signer::from_secret([4; 32]),
        }
    }

    /// The log in which all of them belong.
    pub fn log(&self) -> Vec<SignedChange> {
        let (mut file, first) = begun(self);
        let mut log = vec![first];
        let others = [
            (&self.second_laptop, Role::Tutor),
            (&self.phone, Role::Parent),
            (&self.second_phone, Role::Parent),
        ];
        for (other, role) in others {
            let admitted = file.admit(&self.laptop, other.device(), role);
            log.push(admitted.unwrap());
        }
        log
    }

    /// A case file to which all of them belong and in which nothing is written.
    pub fn file(&self) -> CaseFile {
        let mut file = CaseFile::new(pupil());
        accept_all(&mut file, &self.log());
        file
    }
}

/// Where every whole reading is on the device that founds the books anew.
pub fn all_held(_: BlobId) -> bool {
    true
}

/// Founds the books anew where every whole reading is held.
pub fn found(file: &mut CaseFile, signer: &Signer, id: u8, forget: &[[u8; 16]]) -> Settled {
    let founding = FoundingId([id; 8]);
    file.found_anew(signer, founding, forget, all_held).unwrap()
}

/// What changes of one document say, but for the fingerprints by which its author knows again what it wrote.
pub fn said(changes: &[SignedChange]) -> Vec<String> {
    let mut keys = Vec::new();
    for change in changes {
        let change = Change::try_from(change.bytes.as_slice()).unwrap().decode();
        let of = change.operations.iter().map(|op| match &op.key {
            legacy::Key::Map(key) => key.to_string(),
            legacy::Key::Seq(_) => panic!("a document is one flat map"),
        });
        keys.extend(of.filter(|key| {
            let about = ["schema", "stamp"].contains(&&**key);
            !(about || key.ends_with('@') || key.starts_with("own/"))
        }));
    }
    keys
}

/// The first change of the home document that the first phone writes in a founding, made by hand.
pub fn by_hand(founding: u8, put: impl FnOnce(&mut Transaction<'_>)) -> SignedChange {
    let mut id = doc(BookKind::Home, &People::new().phone);
    id.founding = FoundingId([founding; 8]);
    let options = CommitOptions::default().with_time(0);
    let bytes = raw_change(&mut raw_document(&id), options, put);
    sign(3, id, 1, bytes)
}

/// The first change of the second laptop's own document, made by hand: a value with a logical time of 90.
pub fn written_raw(key: &str, value: ScalarValue) -> SignedChange {
    let id = doc(BookKind::Tutor, &People::new().second_laptop);
    let options = CommitOptions::default().with_time(0);
    let bytes = raw_change(&mut raw_document(&id), options, |change| {
        change.put(ROOT, key, value).unwrap();
        change
            .put(ROOT, format!("{key}@"), ScalarValue::Uint(90))
            .unwrap();
    });
    sign(2, id, 1, bytes)
}

/// The changes in an order that follows from a number.
pub fn shuffled(changes: &[SignedChange], by: u64) -> Vec<SignedChange> {
    let mut changes = changes.to_vec();
    changes.sort_by_cached_key(|change| {
        let parts = [&by.to_le_bytes(), change.signature.as_slice()].concat();
        *blake3::hash(&parts).as_bytes()
    });
    changes
}

/// The changes in an order that follows from a number: each device's in its own, between devices any.
pub fn interleaved(changes: &[SignedChange], by: u64) -> Vec<SignedChange> {
    let mut open = changes.to_vec();
    let turns = shuffled(changes, by);
    let next = |turn: &SignedChange| {
        let next = open.iter().position(|it| it.doc == turn.doc);
        open.remove(next.expect("there are as many turns as changes"))
    };
    turns.iter().map(next).collect()
}

/// A file that hears all of these, one at a time and again until nothing moves.
pub fn heard_one_by_one(changes: &[SignedChange]) -> CaseFile {
    let mut file = CaseFile::new(pupil());
    let mut open = changes.to_vec();
    loop {
        let before = open.len();
        open.retain(|change| file.accept(change).is_err());
        if open.len() == before {
            return file;
        }
    }
}

/// How far the documents of the books have come, the log left out.
pub fn books(file: &CaseFile) -> BTreeMap<DocId, u64> {
    let mut have = file.have();
    have.retain(|id, _| !id.is_log());
    have
}

/// Every change there is, from writing the edits one after the other in one file.
pub fn written(file: &mut CaseFile, edits: Vec<(&Signer, Edit)>) -> Vec<SignedChange> {
    edits
        .into_iter()
        .map(|(signer, edit)| file.write(signer, edit).unwrap())
        .collect()
}

pub fn accept_all(file: &mut CaseFile, changes: &[SignedChange]) {
    for change in changes {
        file.accept(change).unwrap();
    }
}

/// Two copies of a file that do not see each other write; then each hears of the other. Both must
/// hold the same view, which is handed back.
pub fn at_once(
    file: &CaseFile,
    one: (&Signer, Vec<Edit>),
    other: (&Signer, Vec<Edit>),
) -> casefile::PupilView {
    let (mut left, mut right) = (file.clone(), file.clone());
    let pair = |(signer, edits): (&Signer, Vec<Edit>), file: &mut CaseFile| {
        let edits = edits.into_iter();
        edits
            .map(|edit| file.write(signer, edit).unwrap())
            .collect::<Vec<_>>()
    };
    let from_left = pair(one, &mut left);
    let from_right = pair(other, &mut right);
    accept_all(&mut left, &from_right);
    accept_all(&mut right, &from_left);
    assert_eq!(left.view(), right.view());
    left.view()
}

pub fn profile() -> Profile {
    Profile {
        name: "Wren".into(),
        year: SchoolYear(3),
        hand: Hand::Left,
        model: LetterModel::part_joined(),
        paper: Paper::A4,
        ruling: Ruling::Lines { pitch: Mm(8.0) },
    }
}

pub fn task(id: u8) -> Task {
    Task {
        id: TaskId([id; 16]),
        set_on: Day(20_000 + i32::from(id)),
        kind: TaskKind::Copied,
        text: Some(vec![
            "the boat is red".into(),
            "".into(),
            "and so is the sea".into(),
        ]),
        paper: Paper::A5,
        ruling: Ruling::FourLine {
            pitch: Mm(15.0),
            inner: Mm(4.0),
        },
        minutes: 10,
        focus: Some(Aspect::Gaps),
    }
}

pub fn page(id: u8, by: &Signer) -> PageRecord {
    PageRecord {
        id: PageId([id; 16]),
        task: Some(TaskId([9; 16])),
        written_on: Day(20_100 - i32::from(id)),
        kind: TaskKind::Dictated,
        text: Some(vec!["a wet dog".into()]),
        minutes: None,
        paper: Paper::UsLetter,
        ruling: Ruling::Squares {
            side: Mm(5.0),
            every: 2,
        },
        model: LetterModel::unjoined(),
        picture: BlobId([id ^ 0xFF; 32]),
        added_by: by.device(),
        readings: vec![reading(id)],
        looked_at: None,
    }
}

pub fn reading(id: u8) -> ReadingRecord {
    let measured = |name, value| Measure {
        name,
        outcome: Outcome::Measured {
            value,
            se: 0.05,
            spread: Some(0.3),
            n: 87,
            places: vec![],
        },
        by_hand: false,
    };
    ReadingRecord {
        id: ReadingId([id; 16]),
        engine: "metrics 0.1.0".into(),
        made_at: Moment(1_700_000_000_000 + i64::from(id)),
        measures: vec![
            measured(MeasureName::Drift, -0.7),
            measured(MeasureName::XHeight, 2.41),
            Measure {
                name: MeasureName::OnLine,
                outcome: Outcome::NotMeasured {
                    because: WhyNot::NoRuling,
                },
                by_hand: false,
            },
        ],
        detail: BlobId([id; 32]),
    }
}

pub fn mark(id: u8, page: u8, by: &Signer) -> Mark {
    let point = |x, y| PointMm { x: Mm(x), y: Mm(y) };
    let shape = match id % 3 {
        0 => MarkShape::Note {
            at: point(12.5, 33.25),
        },
        1 => MarkShape::Pen {
            points: vec![point(10.0, 20.0), point(10.13, 19.5), point(-3.01, 150.99)],
        },
        _ => MarkShape::Box {
            bounds: BoxMm {
                x0: Mm(1.0),
                y0: Mm(2.0),
                x1: Mm(30.125),
                y1: Mm(4.0),
            },
        },
    };
    Mark {
        id: MarkId([id; 16]),
        page: PageId([page; 16]),
        shape,
        words: "this g stands on the line".into(),
        aspect: Some(Aspect::Baseline),
        praise: true,
        made_at: Moment(1_700_000_100_000 + i64::from(id)),
        by: by.device(),
    }
}

/// A square of 2 mm with this corner.
pub fn place(from: f64) -> BoxMm {
    BoxMm {
        x0: Mm(from),
        y0: Mm(from),
        x1: Mm(from + 2.0),
        y1: Mm(from + 2.0),
    }
}

pub fn amendment(id: u8, page: u8, by: &Signer) -> AmendmentRecord {
    let at = place(f64::from(id));
    AmendmentRecord {
        id: AmendmentId([id; 16]),
        page: PageId([page; 16]),
        what: match id % 2 {
            0 => Amendment::Letter {
                at,
                letter: 'o',
                bounds: Some(place(12.5)),
            },
            _ => Amendment::Fault {
                at,
                letter: 'a',
                fault: FaultKind::Open,
                there: false,
            },
        },
        made_at: Moment(1_700_000_200_000 + i64::from(id)),
        by: by.device(),
    }
}

/// Joined letters as no model to start from has them.
pub fn own_letters() -> LetterModel {
    let mut model = LetterModel::part_joined();
    model.name = "Lower school".into();
    model.letters[5].below = Ratio(0.6);
    model.letters[6].looped = true;
    model
}

pub fn focus(id: u8) -> Focus {
    Focus {
        id: FocusId([id; 16]),
        aspect: Aspect::Baseline,
        from: Day(20_010),
        to: None,
        try_this: "let every letter touch the line".into(),
    }
}

pub fn target() -> Target {
    Target {
        measure: MeasureName::Drift,
        value: 0.5,
        by: Some(Day(20_300)),
    }
}

pub fn practised(id: u8) -> Practised {
    Practised {
        id: PractisedId([id; 16]),
        day: Day(20_100 + i32::from(id)),
        minutes: 10,
        task: Some(TaskId([1; 16])),
    }
}

pub fn setup(id: u8) -> SetUpCheck {
    SetUpCheck {
        id: SetUpId([id; 16]),
        day: Day(20_100 + i32::from(id)),
        fine: vec![SetUpItem::Feet, SetUpItem::Light],
        not_yet: vec![SetUpItem::Paper],
    }
}

pub fn reply(id: u8, page: u8, by: &Signer) -> Reply {
    Reply {
        id: ReplyId([0x40 + id; 16]),
        page: PageId([page; 16]),
        mark: Some(MarkId([1; 16])),
        words: "we tried it with the paper turned".into(),
        made_at: Moment(1_700_000_300_000 + i64::from(id)),
        by: by.device(),
    }
}

pub fn ask(id: u8, by: &Signer) -> Ask {
    Ask {
        id: AskId([0x50 + id; 16]),
        wish: AskedFor::Page {
            page: PageId([1; 16]),
        },
        made_at: Moment(1_700_000_400_000 + i64::from(id)),
        by: by.device(),
    }
}

pub fn doc(book: BookKind, author: &Signer) -> DocId {
    DocId {
        pupil: pupil(),
        book,
        founding: FoundingId::FIRST,
        author: author.device(),
    }
}

/// A change signed by whoever holds the secret, by the published layout of the signed message and
/// not by this crate's own code.
pub fn sign(secret: u8, doc: DocId, seq: u64, bytes: Vec<u8>) -> SignedChange {
    sign_as(1, secret, doc, seq, bytes)
}

/// The same in another format.
pub fn sign_as(format: u8, secret: u8, doc: DocId, seq: u64, bytes: Vec<u8>) -> SignedChange {
    let mut message = b"pothook/casefile/signed-change".to_vec();
    message.push(2);
    message.extend(doc.pupil.0);
    message.push(match doc.book {
        BookKind::Tutor => 1,
        BookKind::Home => 2,
        BookKind::Practice => 3,
        BookKind::Log => 4,
    });
    message.extend(doc.founding.0);
    message.extend(doc.author.0);
    message.extend(seq.to_le_bytes());
    message.push(format);
    message.extend(blake3::hash(&bytes).as_bytes());
    let signature = SigningKey::from_bytes(&[secret; 32])
        .sign(&message)
        .to_bytes();
    SignedChange {
        doc,
        seq,
        format,
        bytes,
        signature,
    }
}

/// An Automerge document as the program would keep it, for writing what the program would not.
pub fn raw_document(doc: &DocId) -> Automerge {
    let hash = blake3::hash(&doc.encode());
    Automerge::new().with_actor(ActorId::from(&hash.as_bytes()[..16]))
}

/// The bytes of one change of it.
pub fn raw_change(
    document: &mut Automerge,
    options: CommitOptions,
    edit: impl FnOnce(&mut Transaction<'_>),
) -> Vec<u8> {
    let mut transaction = document.transaction();
    edit(&mut transaction);
    transaction.commit_with(options);
    document
        .get_last_local_change()
        .unwrap()
        .raw_bytes()
        .to_vec()
}
