//! What a pupil's case file and the practice book have in common for a change that comes from
//! elsewhere: it is taken, the log is settled, and all that this makes is written in one transaction.

use casefile::{
    Accepted, CaseFile, FoundingId, PracticeBook, Refused, Settled, SignedChange, Signer, Standing,
    WriteRefused,
};
use store::Write;
use sync::Taken;
use units::{DeviceId, Problem, PupilId, Role};

use crate::App;
use crate::api::Notice;
use crate::problem;

/// A log with its books.
pub(crate) trait Book {
    fn take_all(&mut self, changes: &[SignedChange]) -> Vec<Result<Accepted, Refused>>;
    fn settle(&mut self, signer: &Signer) -> Result<Settled, WriteRefused>;
    fn owes_founding(&self) -> bool;
    fn found_again(&mut self, signer: &Signer, id: FoundingId) -> Result<Settled, WriteRefused>;
    fn standing(&self) -> &Standing;
}

impl Book for CaseFile {
    fn take_all(&mut self, changes: &[SignedChange]) -> Vec<Result<Accepted, Refused>> {
        self.accept_all(changes)
    }
    fn settle(&mut self, signer: &Signer) -> Result<Settled, WriteRefused> {
        self.settle(signer)
    }
    fn owes_founding(&self) -> bool {
        self.owes_founding()
    }
    fn found_again(&mut self, signer: &Signer, id: FoundingId) -> Result<Settled, WriteRefused> {
        self.found_anew(signer, id, &[])
    }
    fn standing(&self) -> &Standing {
        self.standing()
    }
}

impl Book for PracticeBook {
    fn take_all(&mut self, changes: &[SignedChange]) -> Vec<Result<Accepted, Refused>> {
        self.accept_all(changes)
    }
    fn settle(&mut self, signer: &Signer) -> Result<Settled, WriteRefused> {
        self.settle(signer)
    }
    fn owes_founding(&self) -> bool {
        self.owes_founding()
    }
    fn found_again(&mut self, signer: &Signer, id: FoundingId) -> Result<Settled, WriteRefused> {
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
    /// Something was let go of for good: what is left of it on the disk is to go too.
    pub let_go: bool,
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
        self.settle_on_disk(&settled, changes, &mut writes, &mut outcome)?;
        let tutor = book.standing().role(signer.device()) == Some(Role::Tutor);
        if tutor && book.owes_founding() {
            let id = FoundingId(self.random()?);
            let founded = unless_newer(book.found_again(signer, id))?;
            self.settle_on_disk(&founded, changes, &mut writes, &mut outcome)?;
        }
        Ok((outcome, writes))
    }

    /// What settling makes is written in the same transaction as what led to it.
    pub(crate) fn settle_on_disk(
        &self,
        settled: &Settled,
        fresh: &[SignedChange],
        writes: &mut Vec<Write>,
        outcome: &mut Outcome,
    ) -> Result<(), Problem> {
        for (doc, seq) in &settled.cut {
            let name = doc.encode();
            let store = &self.inner.store;
            let kept = store.changes(&name, 1..=*seq).map_err(problem::store)?;
            writes.push(Write::RemoveDoc(name.clone()));
            writes.push(Write::RemoveSetting(crate::rows::setting(doc.pupil)));
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
            writes.push(Write::RemoveSetting(crate::rows::setting(doc.pupil)));
        }
        writes.extend(settled.write.iter().map(append));
        outcome.taken.again |= !settled.is_nothing();
        outcome.dropped += settled.dropped;
        outcome.erased |= settled.erased;
        if !settled.forget.is_empty() || !settled.cut.is_empty() {
            outcome.let_go = true;
            writes.push(crate::forgetting::owed());
        }
        Ok(())
    }

    /// What follows once it is written: people are told, and what is left on the disk goes.
    pub(crate) fn after_settling(&self, pupil: PupilId, outcome: &Outcome) -> Result<(), Problem> {
        if outcome.dropped > 0 {
            let edits = outcome.dropped;
            self.notice(Notice::LateEditsDropped { pupil, edits })?;
        }
        if outcome.erased {
            self.notice(Notice::Erased {})?;
        }
        if outcome.let_go {
            self.sweep()?;
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
