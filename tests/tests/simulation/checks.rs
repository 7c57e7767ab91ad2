//! What must be so once nothing goes wrong any more and everybody has met everybody.

use std::collections::{BTreeMap, BTreeSet};

use app::units::{BlobId, PageId, PupilId, Role};
use casefile::{BookKind, FoundingId};

use crate::device::Device;
use crate::kept::{Kept, Opened};
use crate::scene::STUDY;
use crate::seen::Seen;
use crate::world::{Outcome, World};

impl World {
    /// Reads every folder past the program, looks at everything, and starts the programs again.
    pub fn inspect(&mut self) -> Outcome<BTreeMap<usize, Kept>> {
        let shown = self.shown()?;
        for device in &mut self.devices {
            device.switch_off();
        }
        let mut opened = BTreeMap::new();
        for &at in &self.paired {
            let device = &self.devices[at];
            let read = Opened::read(&device.folder);
            opened.insert(
                at,
                read.map_err(|wrong| format!("{}: {wrong}", device.name))?,
            );
        }
        self.check_access(&opened)?;
        self.check_level(&opened)?;
        self.check_kept(&shown, &opened)?;
        self.check_gone(&opened)?;
        let kept = opened.into_iter().map(|(at, opened)| (at, opened.kept));
        let kept = kept.collect();
        for at in 0..self.devices.len() {
            self.restart(at)?;
        }
        if self.shown()? != shown {
            return Err("a program shows something else once it is started anew".to_owned());
        }
        Ok(kept)
    }

    /// What the devices show of the pupils that they have.
    fn shown(&self) -> Outcome<BTreeMap<(usize, PupilId), Seen>> {
        let mut shown = BTreeMap::new();
        for &at in self.paired.iter().filter(|at| !self.removed.contains(at)) {
            let device = &self.devices[at];
            for pupil in self.pupils_of(at) {
                let seen = Seen::of(device.app(), pupil);
                let seen = seen.map_err(|problem| format!("{}: {problem:?}", device.name))?;
                shown.insert((at, pupil), seen);
            }
        }
        Ok(shown)
    }

    fn pupils_of(&self, at: usize) -> Vec<PupilId> {
        match self.devices[at].role {
            Role::Tutor => vec![self.pupil, self.other],
            Role::Parent => vec![self.pupil],
        }
    }

    fn members<'o>(
        &self,
        opened: &'o BTreeMap<usize, Opened>,
    ) -> Vec<(usize, &Device, &'o Opened)> {
        let members = opened.iter().filter(|(at, _)| !self.removed.contains(at));
        members
            .map(|(at, opened)| (*at, &self.devices[*at], opened))
            .collect()
    }

    /// Nobody holds a document that is not for it.
    fn check_access(&self, opened: &BTreeMap<usize, Opened>) -> Outcome {
        let practice = opened[&STUDY].practice_id();
        for (at, opened) in opened {
            if self.devices[*at].role == Role::Tutor {
                continue;
            }
            let foreign = |doc: &&casefile::DocId| {
                doc.pupil != self.pupil
                    || Some(doc.pupil) == practice
                    || doc.book == BookKind::Practice
            };
            if let Some(doc) = opened.kept.docs.keys().find(foreign) {
                return Err(format!("{} holds {doc:?}", self.devices[*at].name));
            }
        }
        Ok(())
    }

    /// Everybody holds the same, of one founding.
    fn check_level(&self, opened: &BTreeMap<usize, Opened>) -> Outcome {
        let first = &opened[&STUDY];
        for pupil in [self.pupil, self.other] {
            let (standing, view) = first.case(pupil);
            if standing.adrift {
                return Err("the books are adrift".to_owned());
            }
            for (at, device, opened) in self.members(opened) {
                if !self.pupils_of(at).contains(&pupil) {
                    continue;
                }
                let (its, its_view) = opened.case(pupil);
                let name = device.name;
                if its != standing {
                    return Err(format!(
                        "{name} takes the log for {its:?}, not {standing:?}"
                    ));
                }
                if its.role(device.id).is_none() && !its.erased {
                    return Err(format!("{name} does not belong, and was not removed"));
                }
                if its_view != view {
                    return Err(format!("{name} has {its_view:?}\nnot {view:?}"));
                }
                let books = opened.kept.docs.keys();
                let mut books = books.filter(|doc| doc.pupil == pupil && !doc.is_log());
                if books.any(|doc| its.erased || doc.founding != its.founding_id()) {
                    return Err(format!("{name} holds books that were let go"));
                }
                let of = |kept: &Kept| {
                    let docs = kept.docs.iter().filter(|(doc, _)| doc.pupil == pupil);
                    docs.map(|(doc, all)| (*doc, all.clone()))
                        .collect::<Vec<_>>()
                };
                if of(&opened.kept) != of(&first.kept) {
                    return Err(format!(
                        "{name} and {} hold other documents",
                        self.devices[STUDY].name
                    ));
                }
            }
        }
        let Some(practice) = first.practice_id() else {
            return Err("there is no practice".to_owned());
        };
        let (standing, view) = first.practice(practice);
        for (_, device, opened) in self.members(opened) {
            if device.role == Role::Tutor
                && opened.practice(practice) != (standing.clone(), view.clone())
            {
                return Err(format!("{} has another practice book", device.name));
            }
        }
        Ok(())
    }

    /// What was acknowledged is there, with its pictures.
    fn check_kept(
        &self,
        shown: &BTreeMap<(usize, PupilId), Seen>,
        opened: &BTreeMap<usize, Opened>,
    ) -> Outcome {
        for ((at, pupil), seen) in shown {
            let device = &self.devices[*at];
            let ledger = match *pupil == self.pupil {
                true => &self.ledger,
                false => &self.others_ledger,
            };
            let erased = opened[&STUDY].case(*pupil).0.erased;
            match (ledger.erased(), erased) {
                (Some(true), false) => return Err("an erased pupil is back".to_owned()),
                (Some(false), true) => return Err("a pupil was erased by nobody".to_owned()),
                (_, true) => continue,
                (_, false) => {}
            }
            let checked = ledger.check(seen, device.role);
            checked.map_err(|wrong| format!("{}: {wrong}", device.name))?;
            for (page, blobs) in &seen.pages {
                // What only a removed device had is lost with it.
                let lost = !self.removed.is_empty()
                    && !self.members(opened).iter().any(|(_, _, opened)| {
                        let kept = &opened.kept.blobs;
                        kept.contains(&blobs.picture)
                            && blobs
                                .readings
                                .last()
                                .is_some_and(|newest| kept.contains(newest))
                    });
                let here = blobs.picture_here && blobs.newest_here;
                if !lost && !here {
                    let name = device.name;
                    let view = opened[at].case(*pupil).1;
                    let readings = view.page(*page).map(|page| &page.readings);
                    return Err(format!(
                        "{name} lacks blobs of page {page}: {blobs:?} of {readings:?}"
                    ));
                }
            }
        }
        Ok(())
    }

    /// What was forgotten is nowhere.
    fn check_gone(&self, opened: &BTreeMap<usize, Opened>) -> Outcome {
        let study = &opened[&STUDY];
        let views = [self.pupil, self.other].map(|pupil| study.case(pupil).1);
        let pages = views.iter().flat_map(|view| &view.pages);
        let named: BTreeSet<BlobId> = pages
            .flat_map(|page| {
                let readings = page.readings.iter().map(|reading| reading.detail);
                readings.chain([page.picture])
            })
            .collect();
        for (pupil, ledger) in [
            (self.pupil, &self.ledger),
            (self.other, &self.others_ledger),
        ] {
            let standing = study.case(pupil).0;
            let mut forgotten: BTreeSet<PageId> =
                standing.forgotten.iter().map(|id| PageId(*id)).collect();
            let asked = ledger.forgotten();
            let kept = asked.iter().find(|page| !forgotten.contains(page));
            if let Some(page) = kept.filter(|_| !standing.erased) {
                return Err(format!("page {page} was not forgotten"));
            }
            if standing.erased {
                forgotten.extend(ledger.pages());
            }
            for (_, device, opened) in self.members(opened) {
                let places = opened.places();
                for page in &forgotten {
                    let found = |words: &str| {
                        let within = |bytes: &[u8]| {
                            bytes
                                .windows(words.len())
                                .any(|part| part == words.as_bytes())
                        };
                        places
                            .iter()
                            .find(|(_, bytes)| within(bytes))
                            .map(|(place, _)| *place)
                    };
                    let mut words = ledger.words_on(*page);
                    if let Some((words, place)) =
                        words.find_map(|words| Some((words, found(words)?)))
                    {
                        let name = device.name;
                        return Err(format!(
                            "{name} still has '{words}' in {place}, of page {page}"
                        ));
                    }
                    let blobs = ledger.blobs_of(*page, &forgotten).into_iter();
                    let mut blobs = blobs.filter(|id| !named.contains(id));
                    let held = |id: &BlobId| {
                        let store = &opened.store;
                        let part = store.part(*id).ok().flatten();
                        store.has_blob(*id).unwrap_or(true) || part.is_some()
                    };
                    if let Some(id) = blobs.find(held) {
                        let name = device.name;
                        return Err(format!("{name} still has blob {id} of page {page}"));
                    }
                }
            }
        }
        Ok(())
    }

    /// How many foundings there were.
    pub fn foundings(&self, kept: &BTreeMap<usize, Kept>) -> u64 {
        let docs = kept[&STUDY].docs.keys();
        let foundings = docs.filter(|doc| doc.founding != FoundingId::FIRST);
        let foundings = foundings.map(|doc| (doc.pupil, doc.founding));
        foundings.collect::<BTreeSet<_>>().len() as u64
    }
}
