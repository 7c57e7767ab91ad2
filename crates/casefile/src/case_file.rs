//! A pupil's case file: the log of who belongs, both books, and what is written in them.

use std::collections::{BTreeMap, BTreeSet};

use units::{BlobId, DeviceId, PupilId, Role};

use crate::blobs;
use crate::circle::{Circle, Settled};
use crate::edit::{self, Writer};
use crate::log::{CircleKind, Log, Standing, Step};
use crate::view;
use crate::{
    Accepted, BookKind, DocId, Edit, FoundingId, PupilView, Refused, SignedChange, Signer,
    WriteRefused,
};

const BOOKS: [BookKind; 2] = [BookKind::Tutor, BookKind::Home];

/// One pupil's log and books.
#[derive(Debug, Clone)]
pub struct CaseFile {
    circle: Circle,
}

impl CaseFile {
    /// Begins a pupil's case file; the signer is the tutor's first device. The nonce is random. The
    /// change is the first entry of the log, from which the pupil's id follows.
    pub fn begin(
        signer: &Signer,
        nonce: [u8; 16],
        paper: Option<DeviceId>,
    ) -> (Self, SignedChange) {
        let (log, first) = Log::begin(signer, CircleKind::Pupil, nonce, paper);
        let circle = Circle::new(log);
        (Self { circle }, first)
    }

    /// The case file of a pupil of which nothing is here yet.
    pub fn new(pupil: PupilId) -> Self {
        let circle = Circle::new(Log::new(pupil));
        Self { circle }
    }

    /// Opens the case file from changes that were accepted before and kept since, each document in its
    /// order. Their signatures are not looked at again.
    pub fn of_kept(pupil: PupilId, kept: Vec<SignedChange>) -> Self {
        let circle = Circle::of_kept(pupil, kept);
        Self { circle }
    }

    /// The pupil.
    pub fn pupil(&self) -> PupilId {
        self.circle.id()
    }

    /// Who belongs, and what the log says beside.
    pub fn standing(&self) -> &Standing {
        self.circle.standing()
    }

    /// Takes a change written here or elsewhere. A refused change alters nothing.
    pub fn accept(&mut self, change: &SignedChange) -> Result<Accepted, Refused> {
        self.accept_all([change]).remove(0)
    }

    /// Takes many changes at once, those of the log first. Outcomes in the order given.
    ///
    /// [`CaseFile::settle`] follows, in the same transaction on disk.
    pub fn accept_all<'a>(
        &mut self,
        changes: impl IntoIterator<Item = &'a SignedChange>,
    ) -> Vec<Result<Accepted, Refused>> {
        let changes: Vec<&SignedChange> = changes.into_iter().collect();
        self.circle.accept_all(&changes, &BOOKS)
    }

    /// Brings the books to what the log says by now.
    pub fn settle(&mut self, signer: &Signer) -> Result<Settled, WriteRefused> {
        self.circle.settle(signer)
    }

    /// Writes an edit into the signer's own document. The change is to be kept before anybody is
    /// told that the edit was made.
    pub fn write(&mut self, signer: &Signer, edit: Edit) -> Result<SignedChange, WriteRefused> {
        let device = signer.device();
        let role = self.standing().role(device);
        let role = role.ok_or(WriteRefused::NotAMember)?;
        let book = match role {
            Role::Tutor => BookKind::Tutor,
            Role::Parent => BookKind::Home,
        };
        let merged = self.circle.merged();
        let writer = Writer {
            role,
            device,
            time: merged.time + 1,
        };
        let puts = edit::puts(&edit, &writer, &merged)?;
        self.circle.write(signer, book, puts)
    }

    /// Writes in the log that a device belongs. One of the tutor's devices does it, or the paper key.
    pub fn admit(
        &mut self,
        signer: &Signer,
        device: DeviceId,
        role: Role,
    ) -> Result<SignedChange, WriteRefused> {
        self.circle.write_step(signer, Step::Admit { device, role })
    }

    /// Writes in the log that a device belongs no longer; what is here of its documents stands.
    pub fn remove(
        &mut self,
        signer: &Signer,
        device: DeviceId,
    ) -> Result<SignedChange, WriteRefused> {
        self.circle.remove(signer, device)
    }

    /// Names the paper key.
    pub fn name_paper_key(
        &mut self,
        signer: &Signer,
        key: DeviceId,
    ) -> Result<SignedChange, WriteRefused> {
        self.circle.write_step(signer, Step::Paper { key })
    }

    /// Founds the books anew: with what they hold now, but without what is named here, without pages
    /// that were taken out, marks that were removed, and readings that newer ones replaced. `founding`
    /// is random; `held` says whether a whole reading is on this device, for one that is yet to come
    /// replaces none. Tutor only.
    ///
    /// # Errors
    /// Nothing has changed then. This is not the tutor's device, a newer version has written here, or the
    /// log or the new document has no room.
    pub fn found_anew(
        &mut self,
        signer: &Signer,
        founding: FoundingId,
        forget: &[[u8; 16]],
        held: impl Fn(BlobId) -> bool,
    ) -> Result<Settled, WriteRefused> {
        let merged = self.circle.merged();
        let out = view::taken_out(&merged);
        let mut ids = forget.to_vec();
        ids.extend(out.ids.into_iter().map(|page| page.0));
        ids.sort_unstable();
        ids.dedup();
        let mut stale = view::stale(&merged, signer.device(), held);
        stale.extend(out.keys);
        self.circle
            .found(signer, BookKind::Tutor, founding, &ids, |key| {
                stale.contains(key)
            })
    }

    /// Which of these blobs the changes of the books name, whoever wrote them in whatever version of the
    /// program: the bytes of a name are looked for, unpacked or not. Where nothing is newer than this
    /// program the view is more exact, for here counts also what was overwritten or is not shown.
    pub fn blobs_named(&self, among: &BTreeSet<BlobId>) -> BTreeSet<BlobId> {
        blobs::named(self.circle.changes(), among)
    }

    /// Whether one of the tutor's devices is to found the books anew by itself.
    pub fn owes_founding(&self) -> bool {
        self.circle.owes_founding()
    }

    /// Erases the pupil: nothing is kept but the log. [`CaseFile::settle`] follows. Tutor only.
    pub fn erase(&mut self, signer: &Signer) -> Result<SignedChange, WriteRefused> {
        self.circle.write_step(signer, Step::Erase)
    }

    /// What all books say together.
    pub fn view(&self) -> PupilView {
        let mut view = PupilView::of(&self.circle.merged());
        view.newer |= self.standing().newer;
        view
    }

    /// The highest sequence number of every document that has any change, the log's among them.
    pub fn have(&self) -> BTreeMap<DocId, u64> {
        self.circle.have()
    }

    /// Bytes of all changes of the books as they are written.
    pub fn bytes(&self) -> u64 {
        self.circle.bytes()
    }
}
