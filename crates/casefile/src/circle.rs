//! The log and the books of one pupil, or of the practice.

mod settling;

use std::collections::BTreeMap;

use units::{DeviceId, PupilId, Role};

use crate::author_doc::{AuthorDoc, Outcome, Put};
use crate::books::Books;
use crate::forgotten::Forgotten;
use crate::founding::is_out;
use crate::log::Log;
use crate::merged::Merged;
use crate::{
    BookKind, DocId, FoundingId, MAX_CHANGE_BYTES, MAX_DOCUMENT_BYTES, MAX_DOCUMENT_CHANGES,
    MAX_SEED_BYTES, Reached, Refused, SignedChange, Signer, Standing, Step, WriteRefused,
};

pub use settling::Settled;

#[derive(Debug, Clone)]
pub(crate) struct Circle {
    log: Log,
    books: Books,
    /// The founding whose documents are shown and written: that which the log names, as soon as its
    /// seed is here.
    founding: FoundingId,
    /// It was settled that the pupil is erased.
    erased: bool,
}

impl Circle {
    pub(crate) fn new(log: Log) -> Self {
        Self {
            log,
            books: Books::default(),
            founding: FoundingId::FIRST,
            erased: false,
        }
    }

    /// The circle whose changes were accepted before and kept since.
    pub(crate) fn of_kept(id: PupilId, kept: Vec<SignedChange>) -> Self {
        let mut circle = Self::new(Log::new(id));
        let (log, docs): (Vec<SignedChange>, Vec<SignedChange>) =
            kept.into_iter().partition(|change| change.doc.is_log());
        circle.log.accept_all(&log.iter().collect::<Vec<_>>());
        let mut by_doc: BTreeMap<DocId, Vec<(u8, Vec<u8>)>> = BTreeMap::new();
        for change in docs {
            let kept = by_doc.entry(change.doc).or_default();
            kept.push((change.format, change.bytes));
        }
        let told = circle.log.standing().founding_id();
        let mut founding = None;
        for (id, kept) in by_doc {
            if id.founding != told {
                founding = Some(id.founding);
            }
            circle.books.put(id, AuthorDoc::of_kept(&id, kept));
        }
        // Documents of another founding are let go in the very step in which the new one is taken up.
        circle.founding = founding.unwrap_or(told);
        // So are all of them, in the very step in which an erasure is settled.
        circle.erased = circle.standing().erased && circle.books.docs().next().is_none();
        circle
    }

    pub(crate) fn id(&self) -> PupilId {
        self.log.id()
    }

    pub(crate) fn standing(&self) -> &Standing {
        self.log.standing()
    }

    /// What the documents of the founding say together; what is forgotten is left out.
    pub(crate) fn merged(&self) -> Merged<'_> {
        let forgotten = self.forgotten(self.founding);
        Merged::of(&self.books, self.founding, &forgotten)
    }

    /// Whether one of the tutor's devices is to found the books anew, because something is here that was
    /// forgotten elsewhere at the same time, or because others have followed a founding that does not
    /// hold.
    ///
    /// What the founding itself forgot, and those before it, is no reason: whoever writes in it knew of
    /// that. Such a value is not shown; if it were a reason, any member could have the books founded anew
    /// as often as it likes.
    pub(crate) fn owes_founding(&self) -> bool {
        let standing = self.standing();
        if standing.erased || standing.founding_id() != self.founding {
            return false;
        }
        let forgotten = self.with_what_names_it(&standing.forgotten_elsewhere, self.founding);
        let touched = |doc: &AuthorDoc| {
            let mut values = doc.values().iter();
            values.any(|(key, value)| !is_out(key) && forgotten.touches(key, value))
        };
        let here = || self.books.of(self.founding).any(|(_, doc)| touched(doc));
        standing.adrift || !forgotten.is_nothing() && here()
    }

    /// What is forgotten, with whatever names it in the documents of a founding.
    fn forgotten(&self, founding: FoundingId) -> Forgotten {
        self.with_what_names_it(&self.standing().forgotten, founding)
    }

    fn with_what_names_it<'a>(
        &self,
        ids: impl IntoIterator<Item = &'a [u8; 16]>,
        founding: FoundingId,
    ) -> Forgotten {
        let mut forgotten = Forgotten::new(ids);
        forgotten.spread(self.books.of(founding).flat_map(|(id, doc)| {
            let values = doc.values().iter();
            values.map(|(key, value)| (id.book, key, value))
        }));
        forgotten
    }

    pub(crate) fn have(&self) -> BTreeMap<DocId, u64> {
        let mut have = self.books.have();
        have.extend(self.log.have());
        have
    }

    /// Bytes of all changes of the books.
    pub(crate) fn bytes(&self) -> u64 {
        self.books.docs().map(|(_, doc)| doc.bytes()).sum()
    }

    /// Takes changes, those of the log first. Outcomes in the order given.
    pub(crate) fn accept_all(
        &mut self,
        changes: &[&SignedChange],
        books: &[BookKind],
    ) -> Vec<Outcome> {
        let mut outcomes: Vec<Outcome> = changes
            .iter()
            .map(|change| match self.against(change, books) {
                Some(refused) => Err(refused),
                None => Ok(crate::Accepted::Known),
            })
            .collect();
        let sound = |at: &usize| outcomes[*at].is_ok();
        let (log, docs): (Vec<usize>, Vec<usize>) = (0..changes.len())
            .filter(sound)
            .partition(|at| changes[*at].doc.is_log());
        let entries: Vec<&SignedChange> = log.iter().map(|at| changes[*at]).collect();
        for (at, outcome) in log.into_iter().zip(self.log.accept_all(&entries)) {
            outcomes[at] = outcome;
        }
        for at in docs {
            outcomes[at] = match self.misplaced(changes[at]) {
                Some(refused) => Err(refused),
                None if self.is_too_much(changes[at]) => Err(Refused::DocumentFull),
                None => self.books.accept(changes[at]),
            };
        }
        outcomes
    }

    /// What holds against a change whoever belongs.
    fn against(&self, change: &SignedChange, books: &[BookKind]) -> Option<Refused> {
        let DocId {
            pupil,
            book,
            founding,
            ..
        } = change.doc;
        let log = book == BookKind::Log;
        if pupil != self.id() || !(log || books.contains(&book)) {
            return Some(Refused::WrongPupil);
        }
        if change.bytes.len() > MAX_CHANGE_BYTES {
            return Some(Refused::TooLarge);
        }
        if !change.verify() {
            return Some(Refused::BadSignature);
        }
        (log && founding != FoundingId::FIRST)
            .then_some(Refused::BadChange("a log has one founding"))
    }

    /// What holds against a change by what the log says.
    fn misplaced(&self, change: &SignedChange) -> Option<Refused> {
        let standing = self.standing();
        let DocId {
            book,
            founding,
            author,
            ..
        } = change.doc;
        if standing.erased {
            return Some(Refused::Forgotten);
        }
        let belongs = match standing.role(author) {
            Some(Role::Tutor) => matches!(book, BookKind::Tutor | BookKind::Practice),
            Some(Role::Parent) => book == BookKind::Home,
            None => false,
        };
        if !belongs {
            match standing.end(book, founding, author) {
                Some(end) if change.seq < end.seq => {}
                Some(end) if change.seq == end.seq => {
                    if *blake3::hash(&change.bytes).as_bytes() != end.digest {
                        return Some(Refused::Forked { seq: change.seq });
                    }
                }
                Some(end) if end.seq > 0 => return Some(Refused::Removed),
                _ => return Some(Refused::NotAMember),
            }
        }
        let told = standing.founding.as_ref();
        let named = told.map(|told| &told.seed).filter(|seed| {
            (seed.book, seed.founding, seed.author, seed.seq)
                == (book, founding, author, change.seq)
        });
        let digest = || *blake3::hash(&change.bytes).as_bytes();
        if named.is_some_and(|seed| seed.digest != digest()) {
            return Some(Refused::Forked { seq: change.seq });
        }
        let here = founding == self.founding || founding == standing.founding_id();
        (!here).then_some(Refused::Forgotten)
    }

    /// Whether a change that would be the next of its document is more than this holds.
    fn is_too_much(&self, change: &SignedChange) -> bool {
        let doc = self.books.get(&change.doc);
        change.seq == doc.map_or(0, AuthorDoc::len) + 1
            && self.has_no_room(&change.doc, change.bytes.len())
    }

    /// Whether a document has no room for so many bytes more. This hangs on what its author wrote before and
    /// on nothing else, so that it is the same for everybody.
    fn has_no_room(&self, id: &DocId, bytes: usize) -> bool {
        let Some(doc) = self.books.get(id) else {
            return false;
        };
        let told = self.standing().founding.as_ref();
        let seed = told.map(|told| &told.seed).filter(|seed| {
            (seed.book, seed.founding, seed.author) == (id.book, id.founding, id.author)
        });
        // A seed holds what all documents held before.
        let seed = seed.map_or(0, |seed| seed.seq);
        let bytes = bytes as u64;
        match doc.len() < seed {
            true => doc.bytes() + bytes > MAX_SEED_BYTES,
            false => {
                doc.len() - seed >= MAX_DOCUMENT_CHANGES
                    || doc.bytes_beyond(seed) + bytes > MAX_DOCUMENT_BYTES
            }
        }
    }

    pub(crate) fn write(
        &mut self,
        signer: &Signer,
        book: BookKind,
        puts: Vec<Put>,
    ) -> Result<SignedChange, WriteRefused> {
        if self.standing().erased {
            return Err(WriteRefused::Missing("pupil"));
        }
        let doc = self.doc(book, self.founding, signer.device());
        if self.has_no_room(&doc, MAX_CHANGE_BYTES) {
            return Err(WriteRefused::DocumentFull);
        }
        self.books.write(signer, doc, puts)
    }

    /// The bytes of every change of the books.
    pub(crate) fn changes(&self) -> impl Iterator<Item = &[u8]> {
        self.books.docs().flat_map(|(_, doc)| doc.changes())
    }

    pub(crate) fn write_step(
        &mut self,
        signer: &Signer,
        step: Step,
    ) -> Result<SignedChange, WriteRefused> {
        self.log.write(signer, step)
    }

    /// Removes a device: what is here of its documents stands.
    pub(crate) fn remove(
        &mut self,
        signer: &Signer,
        device: DeviceId,
    ) -> Result<SignedChange, WriteRefused> {
        if self.standing().role(device).is_none() {
            return Err(WriteRefused::Missing("device"));
        }
        let last = self.reached(|id| id.author == device);
        self.log.write(signer, Step::Remove { device, last })
    }

    fn reached(&self, which: impl Fn(&DocId) -> bool) -> Vec<Reached> {
        let docs = self.books.docs().filter(|(id, _)| which(id));
        docs.map(|(id, doc)| Reached {
            book: id.book,
            founding: id.founding,
            author: id.author,
            seq: doc.len(),
            digest: doc.digest(doc.len()),
        })
        .collect()
    }

    fn doc(&self, book: BookKind, founding: FoundingId, author: DeviceId) -> DocId {
        DocId {
            pupil: self.id(),
            book,
            founding,
            author,
        }
    }
}
