//! The log and the books of one pupil, or of the practice, and how a device settles what the log says:
//! it lets go of what a removed device wrote too late, follows a new founding, erases.

use std::collections::{BTreeMap, BTreeSet};

use units::{DeviceId, PupilId, Role};

use crate::author_doc::{AuthorDoc, Outcome, Put};
use crate::books::Books;
use crate::founding::{self, Forgotten};
use crate::log::{Log, MAX_FORGOTTEN};
use crate::merged::Merged;
use crate::{
    BookKind, DocId, FoundingId, MAX_CHANGE_BYTES, Reached, Refused, SignedChange, Signer,
    Standing, Step, WriteRefused,
};

#[derive(Debug, Clone)]
pub(crate) struct Circle {
    log: Log,
    books: Books,
    /// The founding whose documents are shown and written: that which the log names, as soon as its
    /// seed is here.
    founding: FoundingId,
}

/// What a device must keep and let go of after it has settled what the log says.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Settled {
    /// Changes of its own, carried over into the new founding.
    pub write: Vec<SignedChange>,
    /// Documents to let go of.
    pub forget: Vec<DocId>,
    /// Documents of which only the first so many changes stand.
    pub cut: Vec<(DocId, u64)>,
    /// Late edits that were let go because they touch what is forgotten.
    pub dropped: u32,
    /// Everything is erased but the log.
    pub erased: bool,
}

impl Settled {
    /// Whether there is nothing to do.
    pub fn is_nothing(&self) -> bool {
        *self == Self::default()
    }
}

impl Circle {
    pub(crate) fn new(log: Log) -> Self {
        Self {
            log,
            books: Books::default(),
            founding: FoundingId::FIRST,
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
    pub(crate) fn owes_founding(&self) -> bool {
        let standing = self.standing();
        if standing.erased || standing.founding_id() != self.founding {
            return false;
        }
        let forgotten = self.forgotten(self.founding);
        let touched = |doc: &AuthorDoc| {
            let mut values = doc.values().iter();
            values.any(|(key, value)| forgotten.touches(key, value))
        };
        standing.adrift || self.books.of(self.founding).any(|(_, doc)| touched(doc))
    }

    /// What is forgotten, with whatever names it in the documents of a founding.
    fn forgotten(&self, founding: FoundingId) -> Forgotten {
        let mut forgotten = Forgotten::new(&self.standing().forgotten);
        forgotten.spread(|| {
            let docs = self.books.of(founding);
            docs.flat_map(|(_, doc)| doc.values())
        });
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
        self.books.write(signer, doc, puts)
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

    /// Founds the books anew with their present state, but for what is left out. What was written and
    /// what is let go is in the outcome.
    pub(crate) fn found(
        &mut self,
        signer: &Signer,
        book: BookKind,
        founding: FoundingId,
        ids: &[[u8; 16]],
        left_out: impl Fn(&str) -> bool,
    ) -> Result<Settled, WriteRefused> {
        if self.standing().role(signer.device()) != Some(Role::Tutor) {
            return Err(WriteRefused::TutorOnly);
        }
        if ids.len() > MAX_FORGOTTEN {
            return Err(WriteRefused::TooLong {
                what: "the list of what is forgotten",
                limit: MAX_FORGOTTEN,
            });
        }
        if self.standing().founding_id() != self.founding {
            return Err(WriteRefused::Missing("seed"));
        }
        let merged = self.merged();
        if merged.newer || self.standing().newer {
            return Err(WriteRefused::Newer);
        }
        let mut forgotten = Forgotten::new(ids);
        forgotten.spread(|| {
            let docs = self.books.of(self.founding);
            docs.flat_map(|(_, doc)| doc.values())
        });
        let parts = founding::seed(&merged, signer.device(), |key, value| {
            left_out(key) || forgotten.touches(key, value)
        });
        let doc = self.doc(book, founding, signer.device());
        // The log names the seed by its last change, so there must be one.
        let parts = match parts.is_empty() {
            true => vec![crate::edit::Puts::at(merged.time + 1).into_vec()],
            false => parts,
        };
        let upto = self.reached(|id| id.founding == self.founding);
        let mut settled = Settled::default();
        for puts in parts {
            settled.write.push(self.books.write(signer, doc, puts)?);
        }
        let seq = settled.write.len() as u64;
        let seed = Reached {
            book,
            founding,
            author: signer.device(),
            seq,
            digest: self.books.get(&doc).map_or([0; 32], |doc| doc.digest(seq)),
        };
        let step = Step::Found {
            founding,
            after: self.founding,
            seed,
            upto,
            forgotten: ids.to_vec(),
        };
        settled.write.insert(0, self.log.write(signer, step)?);
        self.founding = founding;
        settled.forget = self.books.forget(|id| id.founding != founding);
        Ok(settled)
    }

    /// Brings the books to what the log says.
    pub(crate) fn settle(&mut self, signer: &Signer) -> Result<Settled, WriteRefused> {
        let mut settled = Settled::default();
        if self.standing().erased {
            settled.forget = self.books.forget(|_| true);
            settled.erased = !settled.forget.is_empty();
            return Ok(settled);
        }
        self.cut_off(&mut settled);
        let (told, now) = (self.standing().founding_id(), self.founding);
        settled.forget = self
            .books
            .forget(|id| id.founding != told && id.founding != now);
        // Nobody goes back to books that were let go: the next numbers of their own documents are taken.
        let back = self.standing().comes_before(told, now);
        if told != now && !back && self.seed_is_here() {
            self.follow(signer, &mut settled)?;
        }
        Ok(settled)
    }

    /// Lets go of what removed devices wrote beyond their end.
    fn cut_off(&mut self, settled: &mut Settled) {
        let standing = self.log.standing();
        let ends = self.books.docs().filter_map(|(id, doc)| {
            let end = standing.end(id.book, id.founding, id.author)?;
            // Another branch than the one that was vouched for: none of it stands, it comes again.
            let same = doc.digest(end.seq.min(doc.len())) == end.digest || doc.len() < end.seq;
            let seq = if same { end.seq } else { 0 };
            (doc.len() > seq).then_some((*id, seq))
        });
        settled.cut = ends.collect();
        for (id, seq) in &settled.cut {
            self.books.cut(id, *seq);
        }
    }

    fn seed_is_here(&self) -> bool {
        let Some(founding) = &self.standing().founding else {
            return false;
        };
        let seed = &founding.seed;
        let doc = self.doc(seed.book, seed.founding, seed.author);
        let doc = self.books.get(&doc);
        doc.is_some_and(|doc| doc.len() >= seed.seq && doc.digest(seed.seq) == seed.digest)
    }

    /// Takes up the founding that the log names, with whatever was written here since.
    fn follow(&mut self, signer: &Signer, settled: &mut Settled) -> Result<(), WriteRefused> {
        let standing = self.log.standing();
        let (told, before) = (standing.founding_id(), self.founding);
        let book = match (standing.role(signer.device()), standing.circle) {
            (Some(Role::Tutor), Some(crate::CircleKind::Practice)) => Some(BookKind::Practice),
            (Some(Role::Tutor), _) => Some(BookKind::Tutor),
            (Some(Role::Parent), _) => Some(BookKind::Home),
            (None, _) => None,
        };
        if let Some(book) = book {
            let mine = self.books.of(before);
            let mine = mine.filter(|(id, _)| book != BookKind::Home || id.book == book);
            let mine: Vec<(&DocId, &AuthorDoc)> = mine.collect();
            let upto = standing.founding.as_ref();
            let upto = upto.filter(|founding| founding.after == before);
            // Where another founding lies between, everything may be late.
            let known = |id: &DocId| {
                let upto = upto.map_or(&[][..], |founding| &founding.upto);
                let mut upto = upto.iter();
                let reached = upto.find(|at| (at.book, at.author) == (id.book, id.author));
                reached.map_or(0, |reached| reached.seq)
            };
            let late: BTreeSet<&str> = mine
                .iter()
                .flat_map(|(id, doc)| doc.keys_beyond(known(id)))
                .collect();
            let forgotten = self.forgotten(before);
            let into = Merged::of(&self.books, told, &forgotten);
            let (parts, dropped) =
                founding::carried(&mine, &late, &into, book, signer.device(), &forgotten);
            settled.dropped = dropped;
            let doc = self.doc(book, told, signer.device());
            for puts in parts {
                settled.write.push(self.books.write(signer, doc, puts)?);
            }
        }
        self.founding = told;
        settled
            .forget
            .extend(self.books.forget(|id| id.founding != told));
        Ok(())
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
