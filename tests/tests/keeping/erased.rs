//! What an erased pupil is to stay erased through: devices that were away with late edits, carry files, and the
//! old backups of both sides.

use app::api::*;
use app::units::{MarkShape, Mm, PageId, PointMm, PupilId, TaskKind};

use crate::people::{Device, invented, soon};
use crate::traces::Traces;

const NOTHING: [&str; 0] = [];

fn keeps(device: &Device, pupil: PupilId, number: u32, traces: &mut Traces) -> PageId {
    let (record, blobs) = invented(number, 2_000);
    traces.blob(&format!("picture {number}"), &blobs[0]);
    traces.blob(&format!("reading {number}"), &blobs[1]);
    let kept = device.app.keep_measured_page(pupil, record, blobs);
    kept.unwrap().page
}

fn replies(phone: &Device, pupil: PupilId, page: PageId, words: &str, traces: &mut Traces) {
    traces.words(words);
    let words = words.to_owned();
    let mark = None;
    let reply = AddReply {
        pupil,
        page,
        mark,
        words,
    };
    phone.app.add_reply(reply).unwrap();
}

/// What a tutor's device says of a pupil: to the family, and for itself.
fn says(desk: &Device, pupil: PupilId, page: PageId, when: &str, traces: &mut Traces) {
    let words = ["mark", "task", "note"].map(|what| format!("a {when} {what}"));
    words.iter().for_each(|words| traces.words(words));
    let [mark, text, note] = words;
    let (x, y) = (Mm(10.0), Mm(10.0));
    let mark = AddMark {
        pupil,
        page,
        shape: MarkShape::Note {
            at: PointMm { x, y },
        },
        words: mark,
        aspect: None,
        praise: false,
    };
    desk.app.add_mark(mark).unwrap();
    let task = SetTask {
        pupil,
        kind: TaskKind::Copied,
        text: Some(vec![text]),
        paper: None,
        ruling: None,
        minutes: 10,
        focus: None,
        set_on: None,
    };
    desk.app.set_task(task).unwrap();
    desk.app.set_note(SetNote { pupil, note }).unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn devices_that_were_away_with_late_edits_lose_an_erased_pupil_when_they_come_back() {
    let (desk, keeper, phone, away) = (
        Device::tutor("Study"),
        Device::tutor("Keeper"),
        Device::parent("Kitchen"),
        Device::parent("Away"),
    );
    let (goes, stays) = (desk.add_pupil("Zephyrine"), desk.add_pupil("Robin"));
    desk.own(&keeper).await;
    desk.family(goes, &phone).await;
    desk.family(goes, &away).await;
    let mut traces = Traces::default();
    traces.words("Zephyrine");
    let page = keeps(&phone, goes, 51, &mut traces);
    let others = keeps(&desk, stays, 52, &mut Traces::default());
    phone.meets().await;
    says(&desk, goes, page, "timely", &mut traces);
    for device in [&phone, &away, &keeper] {
        device.meets().await;
    }

    let mut late = Traces::default();
    keeper.app.close().await;
    away.app.close().await;
    keeps(&away, goes, 53, &mut late);
    replies(&away, goes, page, "a late reply", &mut late);
    says(&keeper, goes, page, "late", &mut late);
    let files = away.files(goes, None, None);
    assert_eq!(files.len(), 1);
    desk.app.erase_pupil(OfPupil { pupil: goes }).unwrap();
    phone.meets().await;
    phone.meets().await;
    // By hand, before anybody of those who were away has heard of it.
    for device in [&desk, &phone] {
        let opened = device.opens(&files[0]).unwrap();
        assert_eq!((opened.new_blobs, opened.waits), (0, false));
        assert!(!device.pupils().contains(&goes));
    }
    assert!(away.pupils().contains(&goes) && keeper.pupils().contains(&goes));
    assert_eq!(
        away.opens(&files[0]).unwrap_err().code,
        "carry-not-for-us",
        "its own"
    );
    for _ in 0..2 {
        for device in [&away, &keeper, &phone] {
            let met = device.meets().await;
            assert!(met.iter().any(|meeting| meeting.problem.is_none()));
        }
    }
    for device in [&desk, &keeper, &phone, &away] {
        let kept = device.everything();
        assert_eq!(traces.within(&kept), NOTHING);
        assert_eq!(late.within(&kept), NOTHING);
        assert!(!device.pupils().contains(&goes));
    }
    assert_eq!(away.notices(), [Notice::Erased {}]);
    for device in [&desk, &keeper] {
        assert_eq!(device.pupils(), [stays]);
        assert!(device.has_picture(stays, others));
    }
}

/// Both sides say yes, and the pairing comes to its end, whatever that is.
async fn ends(sides: [&Device; 2]) {
    let state = |side: &Device| side.app.pairing(Nothing {}).unwrap();
    for side in sides {
        let shows = || matches!(state(side), PairingState::Compare { .. });
        soon("words are shown", shows).await;
        let same = ConfirmPairing { same: true };
        side.app.confirm_pairing(same).await.unwrap();
    }
    for side in sides {
        let waits = || matches!(state(side), PairingState::Confirmed { .. });
        soon("it has ended", || !waits()).await;
    }
}

/// A pupil who was erased, with what there was of it, and the backups that were made before.
struct Erased {
    desk: Device,
    keeper: Device,
    phone: Device,
    goes: PupilId,
    stays: PupilId,
    traces: Traces,
    paper: String,
    folder: tempfile::TempDir,
}

async fn erased() -> Erased {
    let (desk, keeper, phone) = (
        Device::tutor("Study"),
        Device::tutor("Keeper"),
        Device::parent("Kitchen"),
    );
    let paper = desk.app.make_paper_key(MakePaperKey::default()).unwrap();
    let (goes, stays) = (desk.add_pupil("Zephyrine"), desk.add_pupil("Robin"));
    desk.own(&keeper).await;
    desk.family(goes, &phone).await;
    let mut traces = Traces::default();
    traces.words("Zephyrine");
    let page = keeps(&phone, goes, 51, &mut traces);
    replies(&phone, goes, page, "a reply", &mut traces);
    phone.meets().await;
    says(&desk, goes, page, "timely", &mut traces);
    keeper.meets().await;
    phone.meets().await;
    let folder = tempfile::tempdir().unwrap();
    keeper.back_up(&folder.path().join("tutors"));
    phone.back_up(&folder.path().join("familys"));
    desk.app.erase_pupil(OfPupil { pupil: goes }).unwrap();
    for _ in 0..2 {
        phone.meets().await;
        keeper.meets().await;
    }
    Erased {
        desk,
        keeper,
        phone,
        goes,
        stays,
        traces,
        paper: paper.text,
        folder,
    }
}

impl Erased {
    fn restored(&self, whose: &str) -> Device {
        let device = Device::restored(&self.folder.path().join(whose));
        assert!(device.pupils().contains(&self.goes));
        device
    }

    /// All who have heard of the erasure, and some more, meet each other; on none of them there is anything.
    async fn is_gone_from_all_and(&self, more: &[&Device]) {
        let heard = [&self.desk, &self.keeper, &self.phone];
        let all = || heard.iter().chain(more);
        for _ in 0..2 {
            for device in all() {
                device.meets().await;
            }
        }
        for device in all() {
            assert_eq!(self.traces.on(device), NOTHING);
            assert!(!device.pupils().contains(&self.goes));
        }
        assert_eq!(self.desk.pupils(), [self.stays]);
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn an_old_backup_of_the_tutors_brings_nothing_of_an_erased_pupil_back_to_anybody() {
    let all = erased().await;
    let laptop = all.restored("tutors");
    assert_eq!(all.traces.on(&laptop), all.traces.all());
    all.is_gone_from_all_and(&[&laptop]).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_familys_old_backup_brings_nothing_of_an_erased_pupil_back_to_anybody() {
    let all = erased().await;
    // Nobody lets it in before it is paired anew, and for that pupil it cannot be.
    let phone = all.restored("familys");
    let met = phone.meets().await;
    let codes = met.iter().filter_map(|meeting| meeting.problem.as_ref());
    let codes: Vec<&str> = codes.map(|problem| &*problem.code).collect();
    assert_eq!(codes.len(), met.len());
    assert!(codes.contains(&"not-paired"), "{codes:?}");
    let offer = OfferPairing::Family { pupil: all.goes };
    let refused = all.desk.app.offer_pairing(offer).await.unwrap_err();
    assert_eq!(refused.code, "profile-not-here");
    // Paired for another pupil it brings nothing of the first along, by whichever way.
    all.desk.family(all.stays, &phone).await;
    assert!(phone.pupils().contains(&all.stays));
    for file in phone.files(all.goes, None, None) {
        for device in [&all.desk, &all.keeper, &all.phone] {
            let refused = device.opens(&file).unwrap_err();
            assert_eq!(refused.code, "carry-stranger");
        }
    }
    phone.meets().await;
    phone.meets().await;
    all.is_gone_from_all_and(&[]).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_tutor_who_is_asked_back_to_an_erased_pupil_brings_the_erasure() {
    let all = erased().await;
    let phone = all.restored("familys");
    let offer = OfferPairing::TutorAgain { pupil: all.goes };
    let state = phone.app.offer_pairing(offer).await.unwrap();
    let PairingState::Waiting { offered } = state else {
        panic!("no offer: {state:?}");
    };
    let join = JoinPairing {
        code: offered.code,
        paper_key: Some(all.paper.clone()),
    };
    all.desk.app.join_pairing(join).await.unwrap();
    ends([&phone, &all.desk]).await;
    phone.meets().await;
    all.is_gone_from_all_and(&[&phone]).await;
}
