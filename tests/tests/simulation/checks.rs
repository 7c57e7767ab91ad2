//! What must be so once nothing goes wrong any more and everybody has met everybody.

use std::collections::{BTreeMap, BTreeSet};

use app::units::{BlobId, PageId, PupilId, Role};
use casefile::{BookKind, DocId};

use crate::compare;
use crate::device::Device;
use crate::kept::Opened;
use crate::ledger::Ledger;
use crate::scene::STUDY;
use crate::seen::Seen;
use crate::world::{Outcome, World};

/// What lies in the folders, by the places of the devices.
pub type Folders = BTreeMap<usize, Opened>;
/// What the devices show of each pupil.
type Shown = BTreeMap<(usize, PupilId), Seen>;

impl World {
    /// Reads every folder past the program, looks at everything, and starts the programs again.
    pub fn inspect(&mut self) -> Outcome<Folders> {
        let shown = self.shown()?;
        let mut folders = self.read_folders()?;
        self.check_access(&folders)?;
        self.check_level(&folders)?;
        self.check_kept(&shown, &folders)?;
        self.check_gone(&folders)?;
        folders.values_mut().for_each(Opened::close);
        for at in self.places() {
            self.restart(at)?;
        }
        if self.shown()? != shown {
            return Err("a program shows something else once it is started anew".to_owned());
        }
        Ok(folders)
    }

    /// Whether the devices hold what they held before, and nothing that is to be gone; BLAKE3 of it.
    pub fn check_unmoved(&mut self, before: &Folders) -> Outcome<[u8; 32]> {
        let folders = self.read_folders()?;
        self.check_gone(&folders)?;
        let mut digest = blake3::Hasher::new();
        for (at, opened) in &folders {
            let name = self.at(*at).name;
            if !self.removed.contains(at) {
                let unlike = compare::kept(&before[at].kept, &opened.kept);
                unlike.map_err(|unlike| format!("late files changed {name}: {unlike}"))?;
            }
            for (doc, changes) in &opened.kept.docs {
                digest.update(&doc.encode());
                changes.iter().for_each(|change| {
                    digest.update(change);
                });
            }
        }
        Ok(*digest.finalize().as_bytes())
    }

    fn read_folders(&mut self) -> Outcome<Folders> {
        let mut folders = BTreeMap::new();
        for (at, device) in &mut self.devices {
            device.switch_off();
            let opened = Opened::read(&device.folder);
            let opened = opened.map_err(|wrong| format!("{}: {wrong}", device.name))?;
            folders.insert(*at, opened);
        }
        Ok(folders)
    }

    fn shown(&self) -> Outcome<Shown> {
        let mut shown = BTreeMap::new();
        for (at, device) in &self.devices {
            if self.removed.contains(at) {
                continue;
            }
            for pupil in self.pupils_of(*at) {
                let seen = Seen::of(device.app(), pupil);
                let seen = seen.map_err(|problem| format!("{}: {problem:?}", device.name))?;
                shown.insert((*at, pupil), seen);
            }
        }
        Ok(shown)
    }

    fn pupils_of(&self, at: usize) -> Vec<PupilId> {
        match self.at(at).role {
            Role::Tutor => vec![self.pupil, self.other],
            Role::Parent => vec![self.pupil],
        }
    }

    fn members<'o>(
        &self,
        folders: &'o Folders,
    ) -> impl Iterator<Item = (usize, &Device, &'o Opened)> {
        let members = folders.iter().filter(|(at, _)| !self.removed.contains(at));
        members.map(|(at, opened)| (*at, self.at(*at), opened))
    }

    /// Nobody holds what is not for it.
    fn check_access(&self, folders: &Folders) -> Outcome {
        let foreign = |doc: &&DocId| doc.pupil != self.pupil || doc.book == BookKind::Practice;
        let others = self.others_ledger.all_blobs();
        let mine = self.ledger.all_blobs();
        for (at, opened) in folders {
            let device = self.at(*at);
            if device.role == Role::Tutor {
                continue;
            }
            if let Some(doc) = opened.kept.docs.keys().find(foreign) {
                return Err(format!("{} holds {doc:?}", device.name));
            }
            let mut blobs = opened.kept.blobs.intersection(&others);
            if let Some(id) = blobs.find(|id| !mine.contains(id)) {
                return Err(format!(
                    "{} holds blob {id} of the other pupil",
                    device.name
                ));
            }
        }
        Ok(())
    }

    /// Everybody holds the same, of one founding.
    fn check_level(&self, folders: &Folders) -> Outcome {
        let first = &folders[&STUDY];
        for pupil in [self.pupil, self.other] {
            let (standing, view) = first.case(pupil);
            if standing.adrift {
                return Err("the books are adrift".to_owned());
            }
            for (at, device, opened) in self.members(folders) {
                if !self.pupils_of(at).contains(&pupil) {
                    continue;
                }
                let (its, its_view) = opened.case(pupil);
                let name = device.name;
                let unlike = compare::standings(&its, &standing)
                    .and_then(|()| compare::views(&its_view, &view))
                    .and_then(|()| compare::kept(&opened.kept.of(pupil), &first.kept.of(pupil)));
                unlike.map_err(|unlike| format!("{name} and the first laptop: {unlike}"))?;
                if its.role(device.id).is_none() && !its.erased {
                    return Err(format!("{name} does not belong, and was not removed"));
                }
                let books = opened.kept.docs.keys();
                let mut books = books.filter(|doc| doc.pupil == pupil && !doc.is_log());
                if books.any(|doc| its.erased || doc.founding != its.founding_id()) {
                    return Err(format!("{name} holds books that were let go"));
                }
            }
        }
        let practice = first.practice_id().ok_or("there is no practice")?;
        let told = first.practice(practice);
        let mut laptops = self
            .members(folders)
            .filter(|(_, device, _)| device.role == Role::Tutor);
        match laptops.find(|(_, _, opened)| opened.practice(practice) != told) {
            Some((_, device, _)) => Err(format!("{} has another practice book", device.name)),
            None => Ok(()),
        }
    }

    fn ledger(&self, pupil: PupilId) -> &Ledger {
        match pupil == self.pupil {
            true => &self.ledger,
            false => &self.others_ledger,
        }
    }

    /// What was acknowledged is there, with its pictures.
    fn check_kept(&self, shown: &Shown, folders: &Folders) -> Outcome {
        for ((at, pupil), seen) in shown {
            let device = self.at(*at);
            let ledger = self.ledger(*pupil);
            let erased = folders[&STUDY].case(*pupil).0.erased;
            match (ledger.erased(), erased) {
                (Some(true), false) => return Err("an erased pupil is back".to_owned()),
                (Some(false), true) => return Err("a pupil was erased by nobody".to_owned()),
                (_, true) => continue,
                (_, false) => {}
            }
            let checked = ledger.check(seen, device.role);
            checked.map_err(|wrong| format!("{}: {wrong}", device.name))?;
            let in_time = |page: &PageId| !ledger.is_late(*page);
            for (page, blobs) in seen.pages.iter().filter(|(page, _)| in_time(page)) {
                let picture = blobs.picture_here || self.is_lost(blobs.picture);
                // One that it was ever read with will do, for it can be read again by that.
                let readings = ledger.blobs_named(*page).chain(blobs.readings.clone());
                let mut readings = readings.filter(|id| *id != blobs.picture).peekable();
                let all_lost = readings.peek().is_some() && readings.all(|id| self.is_lost(id));
                let reading = blobs.newest_here || all_lost;
                if !picture || !reading {
                    return Err(format!(
                        "{} lacks blobs of page {page}: {blobs:?}",
                        device.name
                    ));
                }
            }
        }
        Ok(())
    }

    /// Whether a blob went with devices that were removed: no other ever held it.
    fn is_lost(&self, id: BlobId) -> bool {
        let mut by = self.held.get(&id).into_iter().flatten().peekable();
        by.peek().is_some() && by.all(|at| self.removed.contains(at))
    }

    /// What was forgotten is nowhere.
    fn check_gone(&self, folders: &Folders) -> Outcome {
        let study = &folders[&STUDY];
        let views = [self.pupil, self.other].map(|pupil| study.case(pupil).1);
        let pages = views.iter().flat_map(|view| &view.pages);
        let named: BTreeSet<BlobId> = pages
            .flat_map(|page| {
                let readings = page.readings.iter().map(|reading| reading.detail);
                readings.chain([page.picture])
            })
            .collect();
        for pupil in [self.pupil, self.other] {
            let ledger = self.ledger(pupil);
            let standing = study.case(pupil).0;
            let mut gone: BTreeSet<PageId> =
                standing.forgotten.iter().map(|id| PageId(*id)).collect();
            if standing.erased {
                gone.extend(ledger.pages());
            }
            if let Some(page) = ledger.forgotten().difference(&gone).next() {
                return Err(format!("page {page} was not forgotten"));
            }
            for (_, device, opened) in self.members(folders) {
                if let Some(name) = opened.about(pupil).filter(|_| standing.erased) {
                    return Err(format!("{} still has the setting {name}", device.name));
                }
                let places = opened.places();
                for page in &gone {
                    let left = left_of(*page, ledger, &gone, opened, &places, &named);
                    left.map_err(|left| format!("{} still has {left}", device.name))?;
                }
            }
        }
        Ok(())
    }
}

/// What a folder still holds of a page that is to be gone.
fn left_of(
    page: PageId,
    ledger: &Ledger,
    gone: &BTreeSet<PageId>,
    opened: &Opened,
    places: &[(&'static str, Vec<u8>)],
    named: &BTreeSet<BlobId>,
) -> Outcome {
    for words in ledger.words_on(page) {
        let within = |bytes: &[u8]| {
            let mut parts = bytes.windows(words.len());
            parts.any(|part| part == words.as_bytes())
        };
        if let Some((place, _)) = places.iter().find(|(_, bytes)| within(bytes)) {
            return Err(format!("'{words}' in {place}, of page {page}"));
        }
    }
    let blobs = ledger.blobs_of(page, gone).into_iter();
    for id in blobs.filter(|id| !named.contains(id)) {
        if opened.kept.blobs.contains(&id) || opened.parts.contains(&id) {
            return Err(format!("blob {id} of page {page}"));
        }
    }
    Ok(())
}
