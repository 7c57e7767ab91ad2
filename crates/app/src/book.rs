//! What a pupil's case file and the practice book have in common for a change that comes from
//! elsewhere: it is taken, the log is settled, and all that this makes is written in one transaction.

use std::collections::BTreeSet;

use casefile::{
    Accepted, CaseFile, FoundingId, PracticeBook, Refused, Settled, SignedChange, Signer, Standing,
    WriteRefused,
};
use store::Write;
use sync::Taken;
use units::{BlobId, DeviceId, Problem, PupilId, Role};

use crate::App;
use crate::api::Notice;
use crate::problem;

/// A log with its books.
pub(crate) trait Book {
    /// The id of its log.
    fn id(&self) -> PupilId;
    fn take_all(&mut self, changes: &[SignedChange]) -> Vec<Result<Accepted, Refused>>;
    fn settle(&mut self, signer: &Signer) -> Result<Settled, WriteRefused>;
    fn owes_founding(&self) -> bool;
    /// Founds the books anew; some whole readings are held here. Nothing has changed where it is refused.
    fn found_again(
        &mut self,
        signer: &Signer,
        id: FoundingId,
        held: &BTreeSet<BlobId>,
    ) -> Result<Settled, WriteRefused>;
    fn standing(&self) -> &Standing;
}

impl Book for CaseFile {
    fn id(&self) -> PupilId {
        self.pupil()
    }
    fn take_all(&mut self, changes: &[SignedChange]) -> Vec<Result<Accepted, Refused>> {
        self.accept_all(changes)
    }
    fn settle(&mut self, signer: &Signer) -> Result<Settled, WriteRefused> {
        self.settle(signer)
    }
    fn owes_founding(&self) -> bool {
        self.owes_founding()
    }
    fn found_again(
        &mut self,
        signer: &Signer,
        id: FoundingId,
        held: &BTreeSet<BlobId>,
    ) -> Result<Settled, WriteRefused> {
        self.found_anew(signer, id, &[], |reading| held.contains(&reading))
    }
    fn standing(&self) -> &Standing {
        self.standing()
    }
}

impl Book for PracticeBook {
    fn id(&self) -> PupilId {
        self.id()
    }
    fn take_all(&mut self, changes: &[SignedChange]) -> Vec<Result<Accepted, Refused>> {
        self.accept_all(changes)
    }
    fn settle(&mut self, signer: &Signer) -> Result<Settled, WriteRefused> {
        self.settle(signer)
    }
    fn owes_founding(&self) -> bool {
        self.owes_founding()
    }
    fn found_again(
        &mut self,
        signer: &Signer,
        id: FoundingId,
        _: &BTreeSet<BlobId>,
    ) -> Result<Settled, WriteRefused> {
        self.found_anew(signer, id, &[])
    }
    fn standing(&self) -> &Standing {
        self.standing()
    }
}

/// What became of changes from elsewhere.
#[derive(Default)]
pub(crate) struct Outcome {
    pub taken: Taken,
    /// What removed devices had written, each with how many changes of it were let go.
    pub cut: Vec<(DeviceId, u32)>,
    /// Late edits that were dropped.
    pub dropped: u32,
    /// Everything of the pupil was erased.
    pub erased: bool,
}

pub(crate) fn append(change: &SignedChange) -> Write {
    Write::Change {
        doc: change.doc.encode(),
        seq: change.seq,
        bytes: change.encode(),
    }
}

impl App {
    /// Lets a book take changes and settle; what is to be written.
    pub(crate) fn take(
        &self,
        from: DeviceId,
        book: &mut impl Book,
        changes: &[SignedChange],
    ) -> Result<(Outcome, Vec<Write>), Problem> {
        let mut outcome = Outcome::default();
        let mut writes = Vec::new();
        let mut apart = Vec::new();
        for (change, told) in changes.iter().zip(book.take_all(changes)) {
            match told {
                Ok(Accepted::New) => {
                    outcome.taken.new += 1;
                    writes.push(append(change));
                }
                // Of an earlier founding: nothing is lost by it, whoever wrote it carries it over.
                Ok(Accepted::Known) | Err(Refused::Forgotten) => outcome.taken.known += 1,
                // Comes again once what it rests on is here.
                Err(Refused::Gap { .. }) => {}
                Err(Refused::NotAMember) if book.standing().circle.is_none() => {}
                Err(refused) => {
                    outcome.taken.refused += 1;
                    apart.push((change, refused));
                }
            }
        }
        self.set_apart(from, &apart)?;
        let signer = &self.inner.signer;
        // An older program cannot write over what a newer one has written; it follows once it is
        // updated.
        let settled = unless_newer(book.settle(signer))?;
        self.settle_on_disk(book.id(), &settled, changes, &mut writes, &mut outcome)?;
        let tutor = book.standing().role(signer.device()) == Some(Role::Tutor);
        if tutor && book.owes_founding() {
            let id = FoundingId(self.random()?);
            let held = self.blobs_of(book.id())?;
            // Refused, it is still owed, and no reason to refuse what came.
            if let Ok(founded) = book.found_again(signer, id, &held) {
                self.settle_on_disk(book.id(), &founded, changes, &mut writes, &mut outcome)?;
            }
        }
        Ok((outcome, writes))
    }

    /// What settling makes is written in the same transaction as what led to it.
    pub(crate) fn settle_on_disk(
        &self,
        pupil: PupilId,
        settled: &Settled,
        fresh: &[SignedChange],
        writes: &mut Vec<Write>,
        outcome: &mut Outcome,
    ) -> Result<(), Problem> {
        for (doc, seq) in &settled.cut {
            let name = doc.encode();
            let store = &self.inner.store;
            let mut kept = store.changes(&name, 1..).map_err(problem::store)?;
            let stands = kept.iter().take_while(|(number, _)| number <= seq).count();
            let cut = u32::try_from(kept.len() - stands).unwrap_or(u32::MAX);
            outcome.cut.push((doc.author, cut));
            kept.truncate(stands);
            writes.push(Write::RemoveDoc(name.clone()));
            writes.extend(kept.into_iter().map(|(seq, bytes)| Write::Change {
                doc: name.clone(),
                seq,
                bytes,
            }));
            let fresh = fresh.iter().filter(|change| change.doc == *doc);
            writes.extend(fresh.filter(|change| change.seq <= *seq).map(append));
        }
        for doc in &settled.forget {
            writes.push(Write::RemoveDoc(doc.encode()));
        }
        writes.extend(settled.write.iter().map(append));
        outcome.taken.again |= !settled.is_nothing();
        outcome.dropped += settled.dropped;
        outcome.erased |= settled.erased;
        // Of an erased pupil none of the books may have come, and what others hold of them be noted here.
        if settled.erased || !settled.cut.is_empty() || !settled.forget.is_empty() {
            writes.extend(self.let_go(pupil)?);
        }
        Ok(())
    }

    /// What follows once it is written: people are told, and what is known of devices that belong nowhere
    /// any more goes. What is left on the disk goes when the outermost caller sweeps.
    pub(crate) fn after_settling(&self, pupil: PupilId, outcome: &Outcome) -> Result<(), Problem> {
        for &(author, changes) in outcome.cut.iter().filter(|(_, changes)| *changes > 0) {
            self.notice(Notice::CutOff {
                pupil,
                author,
                changes,
            })?;
        }
        if outcome.dropped > 0 {
            let edits = outcome.dropped;
            self.notice(Notice::LateEditsDropped { pupil, edits })?;
        }
        if outcome.erased {
            self.notice(Notice::Erased {})?;
            self.forget_peers_of_nobody()?;
        }
        Ok(())
    }
}

fn unless_newer(settled: Result<Settled, WriteRefused>) -> Result<Settled, Problem> {
    match settled {
        Err(WriteRefused::Newer) => Ok(Settled::default()),
        other => other.map_err(problem::write),
    }
}
