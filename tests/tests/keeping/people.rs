//! Devices that meet in this process, and a search for what must not be there any more.

use std::io::Read;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use app::api::*;
use app::units::{BlobId, Day, DeviceId, Moment, PageId, PageRecord, Problem, PupilId, Role};
use app::{App, Opening};
use pothook_tests::{KnownPage, opener};
use store::Disk;

use crate::dice::Dice;
use crate::invented;

pub const PASSPHRASE: &str = "four unusual words here";

/// A device with its folder.
pub struct Device {
    pub app: App,
    pub folder: tempfile::TempDir,
}

impl Device {
    fn new(role: Role, name: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let app = pothook_tests::open(folder.path()).unwrap();
        let name = name.to_owned();
        app.settle(Settle { role, name }).unwrap();
        Self { app, folder }
    }

    pub fn tutor(name: &str) -> Self {
        Self::new(Role::Tutor, name)
    }

    pub fn parent(name: &str) -> Self {
        Self::new(Role::Parent, name)
    }

    /// The laptop in the study, another one and a family's phone, which all share one pupil, Wren.
    pub async fn practice(laptop: &str, phone: &str) -> (Self, Self, Self, PupilId) {
        let (desk, other, phone) = (
            Self::tutor("Study"),
            Self::tutor(laptop),
            Self::parent(phone),
        );
        let pupil = desk.add_pupil("Wren");
        desk.own(&other).await;
        desk.family(pupil, &phone).await;
        (desk, other, phone, pupil)
    }

    /// The same folder, opened anew, as after a restart.
    pub fn restarted(self) -> Self {
        self.restarted_on(Arc::new(()))
    }

    /// The same folder, opened anew on a disk that may object.
    pub fn restarted_on(self, disk: Arc<dyn Disk>) -> Self {
        let Self { app, folder } = self;
        drop(app);
        let app = open(folder.path(), &disk).unwrap();
        Self { app, folder }
    }

    /// The same folder, opened anew on another day.
    pub async fn on_day(self, day: Day) -> Self {
        let then = Moment(i64::from(day.0) * 86_400_000);
        self.app.close().await;
        let Self { app, folder } = self;
        drop(app);
        let clock = |opening: &mut Opening| opening.clock = Arc::new(move || then);
        let app = open_when_free(folder.path(), clock).unwrap();
        Self { app, folder }
    }

    pub fn id(&self) -> DeviceId {
        self.app.overview(Nothing {}).unwrap().device.unwrap().id
    }

    /// Keeps an invented page, whose picture has about so many bytes.
    pub fn invent_page(&self, pupil: PupilId, number: u32, size: usize) -> PageId {
        let (page, blobs) = invented(number, size);
        let kept = self.app.keep_measured_page(pupil, page, blobs);
        kept.unwrap().page
    }

    pub fn record(&self, pupil: PupilId, page: PageId) -> PageRecord {
        self.app.page(OfPage { pupil, page }).unwrap().record
    }

    /// Whether the picture of a page is here for its pupil.
    pub fn has_picture(&self, pupil: PupilId, page: PageId) -> bool {
        let view = self.app.page(OfPage { pupil, page });
        view.unwrap().picture_here
    }

    pub fn files(&self, pupil: PupilId, to: Option<DeviceId>, part: Option<u32>) -> Vec<CarryFile> {
        let part_bytes = part;
        let made = self.app.make_carry(MakeCarry {
            pupil,
            to,
            part_bytes,
        });
        made.unwrap().files
    }

    pub fn opens(&self, file: &CarryFile) -> Result<CarryOpened, Problem> {
        let base64 = file.base64.clone();
        self.app.open_carry(OpenCarry { base64 })
    }

    pub fn pages(&self, pupil: PupilId) -> Vec<PageId> {
        let view = self.app.pupil(OfPupil { pupil }).unwrap();
        view.pages.iter().map(|row| row.page).collect()
    }

    pub fn pupils(&self) -> Vec<PupilId> {
        let list = self.app.pupils(Nothing {}).unwrap();
        list.pupils.iter().map(|row| row.pupil).collect()
    }

    /// Keeps the photograph of one of the known pages, each another picture.
    pub fn keep_page(&self, pupil: PupilId, which: usize) -> PageId {
        let page = &KnownPage::all()[which];
        let photo = std::fs::read(pothook_tests::pages().join(&page.image)).unwrap();
        let about = StagePhoto {
            pupil,
            task: None,
            kind: Some(app::units::TaskKind::Copied),
            written_on: None,
        };
        let handle = self.app.stage_photo(&photo, about).unwrap().handle;
        let keep = KeepPage {
            handle,
            despite: true,
        };
        self.app.keep_page(keep).unwrap().page
    }

    /// The picture of a page as it is kept, if it is here.
    pub fn picture(&self, pupil: PupilId, page: PageId) -> Option<Vec<u8>> {
        let view = self.app.page(OfPage { pupil, page }).unwrap();
        self.app.picture(view.record.picture).unwrap()
    }

    /// Everything that is kept here, decrypted: changes, pictures, readings and settings.
    pub fn everything(&self) -> Vec<u8> {
        let file = self.folder.path().join("everything");
        self.back_up(&file);
        let bytes = std::fs::read(&file).unwrap();
        std::fs::remove_file(&file).unwrap();
        let identity = age::scrypt::Identity::new(PASSPHRASE.to_owned().into());
        let decryptor = age::Decryptor::new(&bytes[..]).unwrap();
        let mut reader = decryptor
            .decrypt(std::iter::once(&identity as &dyn age::Identity))
            .unwrap();
        let mut plain = Vec::new();
        reader.read_to_end(&mut plain).unwrap();
        plain
    }

    pub fn back_up(&self, file: &Path) {
        let path = file.display().to_string();
        let passphrase = PASSPHRASE.to_owned();
        self.app.back_up(BackUp { path, passphrase }).unwrap();
    }

    pub async fn family(&self, pupil: PupilId, parent: &Self) {
        let offer = OfferPairing::Family { pupil };
        pothook_tests::pair_for(&self.app, offer, &parent.app, None).await;
        parent.meets().await;
    }

    pub async fn own(&self, other: &Self) {
        let offer = OfferPairing::OwnDevice {};
        pothook_tests::pair_for(&self.app, offer, &other.app, None).await;
        other.meets().await;
    }

    /// Meets every device that is there.
    pub async fn meets(&self) -> Vec<Meeting> {
        let met = self.app.exchange(Exchange { device: None }).await.unwrap();
        met.meetings
    }

    /// Meets one device.
    pub async fn meets_one(&self, other: &Self) -> Vec<Meeting> {
        let device = Some(other.id());
        let met = self.app.exchange(Exchange { device }).await.unwrap();
        met.meetings
    }

    pub fn add_pupil(&self, name: &str) -> PupilId {
        let (page, _) = KnownPage::ordinary();
        let profile = page.profile(name);
        self.app.add_pupil(AddPupil { profile }).unwrap().pupil
    }

    pub fn notices(&self) -> Vec<Notice> {
        let list = self.app.notices(Nothing {}).unwrap();
        list.notices.into_iter().map(|row| row.notice).collect()
    }

    /// A new device from a backup.
    pub fn restored(file: &Path) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let at = folder.path().join("new");
        App::restore(file, PASSPHRASE, &at, &opener()).unwrap();
        let app = pothook_tests::open(&at).unwrap();
        Self { app, folder }
    }
}

/// A page that looks like no other, with its picture and its reading.
pub fn invented(number: u32, size: usize) -> (PageRecord, Vec<Vec<u8>>) {
    let day = Day(20_000 + number as i32);
    let mut dice = Dice::new(u64::from(number) + 1);
    invented::page(number, day, size, &mut dice)
}

pub fn name_of(bytes: &[u8]) -> BlobId {
    BlobId(*blake3::hash(bytes).as_bytes())
}

/// Opens a folder once the program that had it has let it go.
pub fn open(folder: &Path, disk: &Arc<dyn Disk>) -> Result<App, Problem> {
    open_when_free(folder, |opening| opening.around.disk = Arc::clone(disk))
}

fn open_when_free(folder: &Path, how: impl Fn(&mut Opening)) -> Result<App, Problem> {
    for _ in 0..200 {
        let mut opening = Opening::new(folder, opener());
        how(&mut opening);
        match App::open_with(opening) {
            Err(problem) if problem.code == "data-in-use" => {
                std::thread::sleep(Duration::from_millis(50));
            }
            answer => return answer,
        }
    }
    panic!("the folder stays in use");
}

pub fn holds(all: &[u8], bytes: &[u8]) -> bool {
    all.windows(bytes.len()).any(|window| window == bytes)
}

/// Waits for what a background task of a device does.
pub async fn soon(what: &str, is_so: impl Fn() -> bool) {
    for _ in 0..400 {
        if is_so() {
            return;
        }
        tokio::time::sleep(Duration::from_millis(25)).await;
    }
    panic!("it is still not so: {what}");
}
