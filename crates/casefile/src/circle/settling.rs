//! How a device settles what the log says: it lets go of what a removed device wrote too late, follows a
//! new founding, erases; and how it founds the books anew itself.

use std::collections::BTreeSet;

use units::{DeviceId, Role};

use super::Circle;
use crate::author_doc::AuthorDoc;
use crate::edit::Puts;
use crate::founding::{
    self,
    carrying::{Carried, Carrying, Left},
};
use crate::log::{MAX_DOCS, MAX_FORGOTTEN};
use crate::merged::{Clock, LAST_TIME, Merged};
use crate::{
    BookKind, CircleKind, DocId, FoundingId, MAX_SEED_BYTES, Reached, SignedChange, Signer, Step,
    WriteRefused,
};

/// What a device must keep and let go of after it has settled what the log says.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Settled {
    /// Changes of its own: carried over into the new founding, and what it says in the log.
    pub write: Vec<SignedChange>,
    /// Documents to let go of.
    pub forget: Vec<DocId>,
    /// Documents of which only the first so many changes stand.
    pub cut: Vec<(DocId, u64)>,
    /// Late edits that were let go because they touch what is forgotten.
    pub dropped: u32,
    /// Everything is erased but the log, which was not so before. None of the books need have been here.
    pub erased: bool,
}

impl Settled {
    /// Whether there is nothing to do.
    pub fn is_nothing(&self) -> bool {
        *self == Self::default()
    }
}

impl Circle {
    /// Founds the books anew with their present state, but for what is left out. What was written and
    /// what is let go is in the outcome; nothing has changed where it is refused.
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
        if self.standing().erased {
            return Err(WriteRefused::Missing("pupil"));
        }
        if ids.len() > MAX_FORGOTTEN {
            return Err(WriteRefused::TooLong {
                what: "the list of what is forgotten",
                limit: MAX_FORGOTTEN,
            });
        }
        // Where nobody may have kept the seed of the one that holds, it is replaced from whatever is here.
        let told = self.standing().founding_id();
        if told != self.founding && !self.standing().adrift {
            return Err(WriteRefused::OnTheirWay);
        }
        let known = self.standing().foundings.contains_key(&founding);
        if known || founding == FoundingId::FIRST {
            return Err(WriteRefused::AlreadyThere("founding"));
        }
        let merged = self.merged();
        if merged.newer || self.standing().newer {
            return Err(WriteRefused::Newer);
        }
        let forgotten = self.with_what_names_it(ids, self.founding);
        let own = self.books.of(self.founding);
        let own = own.filter(|(id, _)| id.author == signer.device());
        let keys = own.flat_map(|(_, doc)| doc.values().keys().map(String::as_str));
        let taken_out: BTreeSet<&str> = keys.filter(|key| founding::is_out(key)).collect();
        let parts = founding::seed(&merged, signer.device(), &taken_out, |key, value| {
            left_out(key) || forgotten.touches(key, value)
        });
        let doc = self.doc(book, founding, signer.device());
        // The log names the seed by its last change, so there must be one.
        let parts = match parts.is_empty() {
            true => vec![Puts::at((merged.time + 1).min(LAST_TIME)).into_vec()],
            false => parts,
        };
        // Of one that is not named everything may be late, which costs a look and no more.
        let mut upto = match told == self.founding {
            true => self.reached(|id| id.founding == told),
            false => Vec::new(),
        };
        upto.truncate(MAX_DOCS);
        let mut settled = Settled::default();
        let begun = parts.into_iter().try_for_each(|puts| {
            settled.write.push(self.books.write(signer, doc, puts)?);
            Ok(())
        });
        let entered = begun.and_then(|()| {
            let seed = self.books.get(&doc);
            match seed.is_some_and(|seed| seed.bytes() > MAX_SEED_BYTES) {
                true => Err(WriteRefused::DocumentFull),
                false => self.enter(signer, doc, told, upto, ids),
            }
        });
        match entered {
            Ok(entry) => settled.write.insert(0, entry),
            Err(refused) => {
                self.books.forget(|id| id.founding == founding);
                return Err(refused);
            }
        }
        self.founding = founding;
        settled.forget = self.books.forget(|id| id.founding != founding);
        Ok(settled)
    }

    /// Names a new founding in the log.
    fn enter(
        &mut self,
        signer: &Signer,
        seed: DocId,
        after: FoundingId,
        upto: Vec<Reached>,
        ids: &[[u8; 16]],
    ) -> Result<SignedChange, WriteRefused> {
        let doc = self.books.get(&seed);
        let seq = doc.map_or(0, AuthorDoc::len);
        let digest = doc.map_or([0; 32], |doc| doc.digest(seq));
        let DocId {
            book,
            founding,
            author,
            ..
        } = seed;
        let seed = Reached {
            book,
            founding,
            author,
            seq,
            digest,
        };
        let step = Step::Found {
            founding,
            after,
            seed,
            upto,
            forgotten: ids.to_vec(),
        };
        self.log.write(signer, step)
    }

    /// Brings the books to what the log says.
    pub(crate) fn settle(&mut self, signer: &Signer) -> Result<Settled, WriteRefused> {
        let mut settled = Settled::default();
        // It may be undone, where a laptop erased that is removed, and told anew later.
        let erased = self.standing().erased;
        settled.erased = erased && !self.erased;
        self.erased = erased;
        if erased {
            settled.forget = self.books.forget(|_| true);
            return Ok(settled);
        }
        self.cut_off(signer.device(), &mut settled);
        if self.standing().role(signer.device()) == Some(Role::Tutor) {
            // Each entry rests on all that is here, so one says of all keys that they are known.
            while let Some(key) = self.log.paper_unsaid_by(signer.device()) {
                match self.log.write(signer, Step::Paper { key }) {
                    Ok(said) => settled.write.push(said),
                    // Where the log has no room it stays unsaid.
                    Err(_) => break,
                }
            }
        }
        let (told, now) = (self.standing().founding_id(), self.founding);
        settled.forget = self
            .books
            .forget(|id| id.founding != told && id.founding != now);
        // Nobody goes back to books that were let go: the next numbers of their own documents are taken.
        let on = told != now && self.standing().leads_on(now);
        // Nor does one follow that may carry nothing over: it would lose what only it has.
        let role = self.standing().role(signer.device());
        if let Some(role) = role.filter(|_| on)
            && let Some(seed) = self.seed_here()
        {
            self.follow(signer, role, &seed, &mut settled)?;
        }
        Ok(settled)
    }

    /// Lets go of what removed devices wrote beyond their end, but for what this device wrote itself:
    /// whoever was removed for no good reason brings it all back once it is admitted again. The seed of the
    /// founding that this device is in stays too, until it follows another: what others had written stands in
    /// it, and perhaps nowhere else any more.
    fn cut_off(&mut self, mine: DeviceId, settled: &mut Settled) {
        let standing = self.log.standing();
        let others = self.books.docs().filter(|(id, _)| id.author != mine);
        let ends = others.filter_map(|(id, doc)| {
            let end = standing.end(id.book, id.founding, id.author)?;
            let seed = self.seed_of(id);
            if end.seq < seed {
                return (doc.len() > seed).then_some((*id, seed));
            }
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

    /// How many changes of a document are the seed of the founding that this device is in; 0 of all others.
    fn seed_of(&self, id: &DocId) -> u64 {
        match id.founding == self.founding {
            true => self.log.seeds_of(id).max().unwrap_or(0),
            false => 0,
        }
    }

    /// The seed of the founding that the log names, once all of it is here.
    fn seed_here(&self) -> Option<AuthorDoc> {
        let seed = self.standing().founding.as_ref()?.seed;
        let id = self.doc(seed.book, seed.founding, seed.author);
        let doc = self.books.get(&id)?;
        let here = doc.len() >= seed.seq && doc.digest(seed.seq) == seed.digest;
        here.then(|| doc.upto(&id, seed.seq))
    }

    /// Takes up the founding that the log names, with whatever was written here since.
    fn follow(
        &mut self,
        signer: &Signer,
        role: Role,
        seed: &AuthorDoc,
        settled: &mut Settled,
    ) -> Result<(), WriteRefused> {
        let standing = self.log.standing();
        let (told, before) = (standing.founding_id(), self.founding);
        let book = match (role, standing.circle) {
            (Role::Tutor, Some(CircleKind::Practice)) => BookKind::Practice,
            (Role::Tutor, _) => BookKind::Tutor,
            (Role::Parent, _) => BookKind::Home,
        };
        let device = signer.device();
        let left = self.books.of(before).map(|(id, doc)| {
            let end = standing.end(id.book, id.founding, id.author);
            let vouched = id.author == device || end.is_none_or(|end| doc.len() <= end.seq);
            Left { id, doc, vouched }
        });
        let left: Vec<Left<'_>> = left.collect();
        let upto = standing.founding.as_ref();
        let upto = upto.filter(|founding| founding.after == before);
        // Where another founding lies between, everything may be late.
        let known = |id: &DocId| {
            let upto = upto.map_or(&[][..], |founding| &founding.upto);
            let mut upto = upto.iter();
            let reached = upto.find(|at| (at.book, at.author) == (id.book, id.author));
            reached.map_or(0, |reached| reached.seq)
        };
        let late: BTreeSet<&str> = left
            .iter()
            .flat_map(|left| left.doc.keys_beyond(known(left.id)))
            // A value that was written once more as it was leaves only its new time.
            .map(|key| key.strip_suffix('@').unwrap_or(key))
            .collect();
        let forgotten = self.forgotten(before);
        let into = Merged::of(&self.books, told, &forgotten);
        let carrying = Carrying {
            device,
            book,
            left,
            late,
            clock: Clock::of(&self.books, before),
            forgotten: &forgotten,
            into: &into,
            seed,
        };
        let Carried { parts, dropped } = carrying.carried();
        settled.dropped = dropped;
        let doc = self.doc(book, told, device);
        for puts in parts {
            settled.write.push(self.books.write(signer, doc, puts)?);
        }
        self.founding = told;
        settled
            .forget
            .extend(self.books.forget(|id| id.founding != told));
        Ok(())
    }
}
