//! Checks across the rooms: stories with two devices, power cuts, and pages with known truth. What
//! several of them need stands here.
//!
//! **May not know:** nothing is hidden from a check, but the shells are looked at from outside only.

use std::path::{Path, PathBuf};
use std::time::Duration;

use app::api::{
    AddPupil, ConfirmPairing, Exchange, JoinPairing, KeepPage, Nothing, OfPage, OfferPairing,
    PairingState, PupilView, SetTask, Settle, StagePhoto,
};
use app::units::{
    Aspect, Hand, LetterModel, Mm, Paper, Problem, Profile, PupilId, Role, Ruling, SchoolYear,
    TaskId, TaskKind,
};
use app::{App, Key, Opener};
use serde::Deserialize;

/// The folder of the committed test pages.
pub fn pages() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("pages")
}

/// What is known of a test page before it is looked at.
#[derive(Debug, Clone, Deserialize)]
pub struct KnownPage {
    /// File name of the photograph.
    pub image: String,
    /// `A4` or `A5`.
    pub page_format: String,
    /// Distance of written lines, mm; `None` on plain paper.
    pub pitch_mm: Option<f64>,
    /// `joined` or `unjoined`.
    pub model: String,
    /// Name of the ruling.
    pub ruling: String,
    /// The text, line by line.
    pub text: Option<Vec<String>>,
}

impl KnownPage {
    /// All of them.
    ///
    /// # Panics
    /// Where the manifest is not there.
    pub fn all() -> Vec<Self> {
        let manifest = std::fs::read_to_string(pages().join("manifest.json")).expect("a manifest");
        #[derive(Deserialize)]
        struct Manifest {
            pages: Vec<KnownPage>,
        }
        let manifest: Manifest = serde_json::from_str(&manifest).expect("a manifest that fits");
        manifest.pages
    }

    /// The first page on single lines, with its photograph: an ordinary week's homework.
    ///
    /// # Panics
    /// Where there is none.
    pub fn ordinary() -> (Self, Vec<u8>) {
        let lined = |page: &KnownPage| {
            page.pitch_mm.is_some()
                && !page.ruling.starts_with("squares")
                && !page.ruling.starts_with("four")
                && page.model == "unjoined"
        };
        let page = Self::all()
            .into_iter()
            .find(lined)
            .expect("a page on single lines");
        let photo = std::fs::read(pages().join(&page.image)).expect("its photograph");
        (page, photo)
    }

    /// The profile of a pupil who would write this page.
    pub fn profile(&self, name: &str) -> Profile {
        Profile {
            name: name.to_owned(),
            year: SchoolYear(4),
            hand: Hand::Left,
            model: LetterModel::unjoined(),
            paper: if self.page_format == "A5" {
                Paper::A5
            } else {
                Paper::A4
            },
            ruling: Ruling::Lines {
                pitch: Mm(self.pitch_mm.expect("a lined page")),
            },
        }
    }
}

/// A tutor's device, set up.
///
/// # Panics
/// Where the folder cannot be opened.
pub fn tutor(folder: &Path) -> App {
    settled(folder, Role::Tutor, "Study")
}

/// A parent's device, set up.
///
/// # Panics
/// Where the folder cannot be opened.
pub fn parent(folder: &Path) -> App {
    settled(folder, Role::Parent, "Kitchen")
}

/// Opens a data folder with a key that all tests share.
///
/// # Errors
/// As the use case says.
pub fn open(folder: &Path) -> Result<App, Problem> {
    App::open(folder, opener())
}

/// What opens the data folders of tests.
pub fn opener() -> Opener {
    Opener::Key(Key::new([7; 32]))
}

fn settled(folder: &Path, role: Role, name: &str) -> App {
    let app = open(folder).expect("the folder opens");
    app.settle(Settle {
        role,
        name: name.to_owned(),
    })
    .expect("the role is new or the same");
    app
}

/// Adds a pupil and sets a copying task with the page's own text.
///
/// # Errors
/// As the use cases say.
pub fn pupil_with_task(tutor: &App, page: &KnownPage) -> Result<(PupilId, TaskId), Problem> {
    let pupil = tutor
        .add_pupil(AddPupil {
            profile: page.profile("Wren"),
        })?
        .pupil;
    let task = tutor.set_task(SetTask {
        pupil,
        kind: TaskKind::Copied,
        text: page.text.clone(),
        paper: None,
        ruling: None,
        minutes: 10,
        focus: Some(Aspect::Baseline),
        set_on: None,
    })?;
    Ok((pupil, task.task))
}

/// What goes with a photograph that answers a task.
pub fn answers(pupil: PupilId, task: TaskId) -> StagePhoto {
    StagePhoto {
        pupil,
        task: Some(task),
        kind: None,
        written_on: None,
    }
}

/// What a tutor and a family are told alike: only the family hears whether its pages have reached the tutor.
pub fn seen_by_both(mut view: PupilView) -> PupilView {
    for row in &mut view.pages {
        row.with_tutor = None;
    }
    view
}

/// Adds a pupil with the page's task, and keeps the photograph that answers it.
///
/// # Errors
/// As the use cases say.
pub fn kept_page(desk: &App, known: &KnownPage, photo: &[u8]) -> Result<OfPage, Problem> {
    let (pupil, task) = pupil_with_task(desk, known)?;
    let staged = desk.stage_photo(photo, answers(pupil, task))?;
    let kept = desk.keep_page(KeepPage {
        handle: staged.handle,
        despite: true,
    })?;
    Ok(OfPage {
        pupil,
        page: kept.page,
    })
}

/// Pairs the two devices for a pupil, people included: both read the words, both say yes. Gives
/// the words.
///
/// # Panics
/// Where the words differ or a side does not get there within 20 seconds.
pub async fn pair(tutor: &App, parent: &App, pupil: PupilId) -> Vec<String> {
    pair_for(tutor, OfferPairing::Family { pupil }, parent, None).await
}

/// Pairs two devices for something, with the key on paper where that is needed. Gives the words.
///
/// # Panics
/// As [`pair`].
pub async fn pair_for(
    tutor: &App,
    offer: OfferPairing,
    parent: &App,
    paper_key: Option<String>,
) -> Vec<String> {
    let shown = tutor.offer_pairing(offer).await.expect("an offer");
    let PairingState::Waiting { offered } = shown else {
        panic!("waits for the other: {shown:?}")
    };
    let code = offered.code;
    let join = JoinPairing { code, paper_key };
    let joined = parent.join_pairing(join).await.expect("joins");
    let PairingState::Compare { words } = joined else {
        panic!("shows words: {joined:?}")
    };
    let there = until(tutor, |state| matches!(state, PairingState::Compare { .. })).await;
    assert_eq!(
        there,
        PairingState::Compare {
            words: words.clone()
        },
        "both show the same words"
    );
    for side in [tutor, parent] {
        side.confirm_pairing(ConfirmPairing { same: true })
            .await
            .expect("takes the yes");
    }
    for side in [tutor, parent] {
        until(side, |state| matches!(state, PairingState::Done { .. })).await;
    }
    words
}

async fn until(app: &App, reached: impl Fn(&PairingState) -> bool) -> PairingState {
    for _ in 0..400 {
        let state = app.pairing(Nothing {}).expect("a state");
        if reached(&state) {
            return state;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    panic!("the pairing got stuck at {:?}", app.pairing(Nothing {}));
}

/// The two devices meet; how many changes and blobs went either way.
///
/// # Panics
/// Where they do not come together, or a change is refused.
pub async fn meet(app: &App) -> (u32, u32) {
    let meetings = app
        .exchange(Exchange { device: None })
        .await
        .unwrap()
        .meetings;
    let [meeting] = &meetings[..] else {
        panic!("one other device: {meetings:?}")
    };
    assert_eq!(meeting.problem, None);
    assert_eq!(meeting.refused_changes, 0);
    (
        meeting.sent_changes + meeting.received_changes,
        meeting.sent_blobs + meeting.received_blobs,
    )
}
