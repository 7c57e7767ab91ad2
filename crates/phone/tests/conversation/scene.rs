//! This computer, with an invented pupil, a task and a focus, and the page open for a phone.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, SystemTime};

use app::api::{AddPupil, KeepPage, OfPupil, SetTask, Settle, StagePhoto, StartFocus};
use app::units::{
    Aspect, Hand, LetterModel, Mm, PageId, Paper, Profile, PupilId, Role, Ruling, SchoolYear,
    TaskId, TaskKind,
};
use app::{App, Key, Opener};
use phone::{Open, Wanted};
use serde_json::Value;

use crate::wire;

pub const TRY_THIS: &str = "Leave room for one letter o before each new word.";

/// The drawn pages with known text.
pub fn pages() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../tests/pages")
}

pub struct Scene {
    pub app: App,
    pub pupil: PupilId,
    pub open: Open,
    pub photo: Vec<u8>,
    pub text: Vec<String>,
    passed: Arc<AtomicU64>,
    _folder: tempfile::TempDir,
}

/// Another pupil of the same tutor.
pub struct Other {
    pub pupil: PupilId,
    pub task: TaskId,
}

impl Scene {
    pub async fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let app = App::open(folder.path(), Opener::Key(Key::new([5; 32]))).unwrap();
        let name = "Ms Wren".to_owned();
        app.settle(Settle {
            role: Role::Tutor,
            name,
        })
        .unwrap();
        let manifest = std::fs::read(pages().join("manifest.json")).unwrap();
        let manifest: Value = serde_json::from_slice(&manifest).unwrap();
        let drawn = manifest["pages"].as_array().unwrap().iter();
        let drawn = drawn
            .into_iter()
            .find(|page| page["id"] == "a4-lines8-even")
            .unwrap();
        let text: Vec<String> = serde_json::from_value(drawn["text"].clone()).unwrap();
        let photo = std::fs::read(pages().join(drawn["image"].as_str().unwrap())).unwrap();

        let pupil = add(&app, "Nell");
        set_task(&app, pupil, &text);
        app.start_focus(StartFocus {
            pupil,
            aspect: Aspect::Gaps,
            from: None,
            try_this: TRY_THIS.to_owned(),
        })
        .unwrap();
        let passed = Arc::new(AtomicU64::new(0));
        let seconds = Arc::clone(&passed);
        let clock = Arc::new(move || {
            SystemTime::now() + Duration::from_secs(seconds.load(Ordering::Relaxed))
        });
        let wanted = Wanted {
            pupil,
            address: Some("127.0.0.1".parse().unwrap()),
        };
        let open = phone::open_with(app.clone(), wanted, clock).await.unwrap();
        Self {
            app,
            pupil,
            open,
            photo,
            text,
            passed,
            _folder: folder,
        }
    }

    pub fn url(&self) -> String {
        self.open.url().to_owned()
    }

    pub fn url_with_another_key(&self) -> String {
        let host = wire::host(self.open.url());
        format!("http://{host}/#{}", "A".repeat(43))
    }

    /// What this computer's screen shows.
    pub fn shown(&self) -> Value {
        serde_json::to_value(self.open.shown()).unwrap()
    }

    /// Lets time pass.
    pub fn pass(&self, time: Duration) {
        self.passed.fetch_add(time.as_secs(), Ordering::Relaxed);
    }

    pub fn pages(&self) -> usize {
        let pupil = self.pupil;
        self.app.pupil(OfPupil { pupil }).unwrap().pages.len()
    }

    pub async fn closes_within(&self, time: Duration) {
        let url = self.url();
        assert!(
            soon(time, || wire::refused(&url)).await,
            "the port is still open"
        );
    }

    pub fn other_pupil(&self) -> Other {
        let pupil = add(&self.app, "Omar");
        Other {
            pupil,
            task: set_task(&self.app, pupil, &self.text),
        }
    }

    /// On this computer's own screen.
    pub fn stages(&self, pupil: PupilId) -> String {
        let about = StagePhoto {
            pupil,
            task: None,
            kind: None,
            written_on: None,
        };
        self.app.stage_photo(&self.photo, about).unwrap().handle
    }

    /// On this computer's own screen.
    pub fn keeps_a_page(&self, pupil: PupilId) -> PageId {
        let handle = self.stages(pupil);
        self.app
            .keep_page(KeepPage {
                handle,
                despite: true,
            })
            .unwrap()
            .page
    }
}

/// Whether it becomes so in time.
pub async fn soon(time: Duration, so: impl Fn() -> bool) -> bool {
    let ends = std::time::Instant::now() + time;
    while !so() {
        if std::time::Instant::now() > ends {
            return false;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    true
}

fn add(app: &App, name: &str) -> PupilId {
    let profile = Profile {
        name: name.to_owned(),
        year: SchoolYear(3),
        hand: Hand::Right,
        model: LetterModel::unjoined(),
        paper: Paper::A4,
        ruling: Ruling::Lines { pitch: Mm(8.0) },
    };
    app.add_pupil(AddPupil { profile }).unwrap().pupil
}

fn set_task(app: &App, pupil: PupilId, text: &[String]) -> TaskId {
    app.set_task(SetTask {
        pupil,
        kind: TaskKind::Copied,
        text: Some(text.to_vec()),
        paper: None,
        ruling: None,
        minutes: 10,
        focus: Some(Aspect::Gaps),
        set_on: None,
    })
    .unwrap()
    .task
}
