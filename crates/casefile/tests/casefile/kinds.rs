//! One edit of every kind, and what they are about.

use casefile::{CaseFile, Edit, SignedChange, Signer};
use units::{
    AmendmentId, AmendmentRecord, Ask, AskId, AskedFor, Aspect, BlobId, Day, DeviceId, Focus,
    FocusId, Hand, Mark, MarkId, MarkShape, MeasureName, Mm, Moment, PageId, PageRecord, PointMm,
    Practised, PractisedId, Profile, ReadingRecord, Reply, Ruling, SchoolYear, SetUpCheck,
    SetUpItem, Target, Task, TaskId,
};

use crate::fixtures::*;

/// A kind that is new does not compile until it stands here, and is then missed wherever all are tried.
macro_rules! kinds {
    ($($name:ident)*) => {
        /// The name of every kind.
        pub const KINDS: &[&str] = &[$(stringify!($name)),*];

        /// The name of an edit's kind.
        pub fn kind(edit: &Edit) -> &'static str {
            match edit { $(Edit::$name { .. } => stringify!($name)),* }
        }
    };
}

kinds! {
    SetProfile SetTask AddPage AddReading SetText SetMinutes SetRuling SetStarting AllowLetters LookAt
    AddMark ChangeMark RemoveMark Amend TakeBack StartFocus EndFocus SetTarget DropTarget SetDeleteBy
    NameDevice AddPractised DropPractised AddSetUp AddReply TakePageOut AskToForget PutAskAside
}

/// What edits are about.
#[derive(Clone, Copy)]
pub struct About<'a> {
    /// Who writes.
    pub by: &'a Signer,
    /// Tells the thing that is altered or removed, or to which something is added; 1 to 9.
    pub known: u8,
    /// Tells the id of what is added.
    pub new: u8,
    /// What is said of it: an odd number says something, an even one that there is nothing, where that can
    /// be said; 1 to 9.
    pub value: u8,
}

/// One edit of every kind, and of setting a task two: one of a task that is known, one of another.
pub fn edits(about: About<'_>) -> Vec<Edit> {
    let About { value, known, .. } = about;
    let odd = value % 2 == 1;
    let mut edits = vec![
        Edit::SetProfile(profile_of(about)),
        Edit::SetTask(Task {
            minutes: 10 + u16::from(value),
            text: task(known).text.filter(|_| odd),
            focus: task(known).focus.filter(|_| !odd),
            ..task(known)
        }),
        Edit::SetTask(Task {
            minutes: 10 + u16::from(value),
            text: Some(vec![format!("task {value}")]),
            ..task(about.new)
        }),
        Edit::AllowLetters(odd),
        Edit::StartFocus(Focus {
            try_this: format!("try {value}"),
            ..focus(about.new)
        }),
        Edit::EndFocus {
            focus: FocusId([known; 16]),
            on: Day(20_030 + i32::from(value)),
        },
        Edit::SetTarget(Target {
            measure: measure(known),
            value: f64::from(value),
            by: odd.then_some(Day(20_300)),
        }),
        Edit::DropTarget(measure(known)),
        Edit::SetDeleteBy(odd.then_some(Day(21_000 + i32::from(value)))),
        Edit::NameDevice {
            device: DeviceId([known; 32]),
            name: format!("device {value}"),
        },
    ];
    edits.extend(of_pages(about));
    edits.extend(on_pages(about));
    edits.extend(at_home(about));
    edits
}

fn measure(known: u8) -> MeasureName {
    MeasureName::ALL[usize::from(known)]
}

/// The name is everybody's; of the other fields some set these, some those.
fn profile_of(About { value, .. }: About<'_>) -> Profile {
    let name = format!("Wren {value}");
    match value % 2 {
        1 => Profile {
            name,
            year: SchoolYear(3 + value),
            model: own_letters(),
            ..profile()
        },
        _ => Profile {
            name,
            hand: Hand::Right,
            ..profile()
        },
    }
}

fn of_pages(about: About<'_>) -> Vec<Edit> {
    let About { known, value, .. } = about;
    let odd = value % 2 == 1;
    let page_id = PageId([known; 16]);
    let measured = ReadingRecord {
        engine: format!("metrics 0.{value}.0"),
        made_at: Moment(1_700_000_500_000 - i64::from(value)),
        ..reading(about.new)
    };
    let added = page(about.new, about.by);
    vec![
        Edit::AddPage(PageRecord {
            written_on: Day(20_200 + i32::from(value)),
            model: if odd { own_letters() } else { added.model },
            picture: BlobId([0xA0 + value; 32]),
            readings: vec![measured.clone()],
            ..added
        }),
        Edit::AddReading {
            page: page_id,
            reading: measured,
        },
        Edit::SetText {
            page: page_id,
            text: odd.then(|| vec![format!("text {value}"), String::new()]),
        },
        Edit::SetMinutes {
            page: page_id,
            minutes: odd.then_some(20 + u16::from(value)),
        },
        Edit::SetRuling {
            page: page_id,
            ruling: Ruling::Lines {
                pitch: Mm(f64::from(value)),
            },
        },
        Edit::SetStarting {
            page: page_id,
            starting: odd,
        },
        Edit::LookAt {
            page: page_id,
            at: Moment(i64::from(value)),
        },
        Edit::TakePageOut(page_id),
    ]
}

fn on_pages(about: About<'_>) -> Vec<Edit> {
    let About {
        by,
        known,
        new,
        value,
    } = about;
    let at = f64::from(value);
    let soon = i64::from(10 - value);
    vec![
        Edit::AddMark(Mark {
            words: format!("mark {value}"),
            made_at: Moment(1_700_000_600_000 + soon),
            ..mark(new, known, by)
        }),
        // Of another page and moment, which are not altered.
        Edit::ChangeMark(Mark {
            shape: MarkShape::Note {
                at: PointMm {
                    x: Mm(at),
                    y: Mm(at),
                },
            },
            words: format!("changed {value}"),
            aspect: (value % 2 == 1).then_some(Aspect::Slant),
            praise: value % 2 == 0,
            made_at: Moment(77),
            ..mark(known, 9, by)
        }),
        Edit::RemoveMark(MarkId([known; 16])),
        Edit::Amend(AmendmentRecord {
            made_at: Moment(1_700_000_700_000 + soon),
            ..amendment(new, known, by)
        }),
        Edit::TakeBack(AmendmentId([known; 16])),
        Edit::AddReply(Reply {
            mark: Some(MarkId([known; 16])),
            words: format!("reply {value}"),
            ..reply(new, known, by)
        }),
    ]
}

fn at_home(about: About<'_>) -> Vec<Edit> {
    let About {
        by,
        known,
        new,
        value,
    } = about;
    let page = PageId([known; 16]);
    vec![
        Edit::AddPractised(Practised {
            minutes: 10 + u16::from(value),
            task: (value % 2 == 1).then_some(TaskId([known; 16])),
            ..practised(new)
        }),
        Edit::DropPractised(PractisedId([known; 16])),
        Edit::AddSetUp(SetUpCheck {
            fine: vec![SetUpItem::Feet],
            not_yet: match value % 2 {
                1 => vec![SetUpItem::Hold],
                _ => vec![],
            },
            ..setup(new)
        }),
        Edit::AskToForget(Ask {
            wish: match value % 2 {
                1 => AskedFor::Page { page },
                _ => AskedFor::Everything,
            },
            ..ask(new, by)
        }),
        Edit::PutAskAside(AskId([0x50 + known; 16])),
    ]
}

/// Two of everything that edits are about, of which all have heard.
pub fn two_of_everything(people: &People) -> (CaseFile, Vec<SignedChange>) {
    let (laptop, phone) = (&people.laptop, &people.phone);
    let mut all = vec![
        (laptop, Edit::SetProfile(profile())),
        (laptop, Edit::SetDeleteBy(Some(Day(20_900)))),
    ];
    for at in [1, 2] {
        let of = |by, wanted: &'static [&str]| {
            let about = About {
                by,
                known: at,
                new: at,
                value: 7,
            };
            let edits = edits(about).into_iter();
            let edits = edits.filter(|edit| wanted.contains(&kind(edit)));
            edits.map(move |edit| (by, edit))
        };
        all.push((laptop, Edit::SetTask(task(at))));
        all.push((phone, Edit::AddPage(page(at, phone))));
        all.extend(of(
            phone,
            &["SetMinutes", "AddPractised", "AddReply", "AskToForget"],
        ));
        all.extend(of(
            laptop,
            &[
                "AddMark",
                "Amend",
                "StartFocus",
                "SetTarget",
                "NameDevice",
                "SetStarting",
            ],
        ));
    }
    let mut file = people.file();
    let changes = written(&mut file, all);
    (file, changes)
}

#[test]
fn none_is_left_out() {
    let people = People::new();
    let about = About {
        by: &people.laptop,
        known: 1,
        new: 2,
        value: 3,
    };
    let mut drawn: Vec<&str> = edits(about).iter().map(kind).collect();
    drawn.sort_unstable();
    drawn.dedup();
    let mut all = KINDS.to_vec();
    all.sort_unstable();
    assert_eq!(drawn, all);
}
