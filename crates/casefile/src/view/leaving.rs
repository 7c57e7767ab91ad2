//! What founding anew leaves behind.

use std::collections::{BTreeMap, BTreeSet};

use units::{BlobId, DeviceId, PageId, ReadingRecord};

use super::{is_out, readings};
use crate::forgotten::id_of;
use crate::merged::Merged;

/// Pages that were taken out and are here. Of some the id is another record's too: whoever takes such a page
/// out must not take that with it, so the page goes by its keys and the id is not forgotten.
pub(crate) struct TakenOut {
    pub(crate) ids: Vec<PageId>,
    pub(crate) keys: Vec<String>,
}

pub(crate) fn taken_out(merged: &Merged<'_>) -> TakenOut {
    const OF_PAGES: [&str; 9] = [
        "page", "gone", "model", "text", "ruling", "minutes", "looked", "start", "reading",
    ];
    let is_of_page = |key: &str| {
        key.split_once('/')
            .is_some_and(|(head, _)| OF_PAGES.contains(&head))
    };
    let out: BTreeSet<[u8; 16]> = merged
        .records_under("page/")
        .filter(|id| is_out(merged, id))
        .filter_map(|id| id.parse().ok())
        .map(|PageId(id)| id)
        .collect();
    let mut keys: BTreeMap<[u8; 16], Vec<&str>> = BTreeMap::new();
    for key in merged.keys() {
        if let Some(id) = id_of(key).filter(|id| out.contains(id)) {
            keys.entry(id).or_default().push(key);
        }
    }
    let (alone, shared): (Vec<_>, Vec<_>) = keys
        .into_iter()
        .partition(|(_, keys)| keys.iter().all(|key| is_of_page(key)));
    let of_page = shared
        .into_iter()
        .flat_map(|(_, keys)| keys)
        .filter(|key| is_of_page(key) && !key.starts_with("gone/"));
    TakenOut {
        ids: alone.into_iter().map(|(id, _)| PageId(id)).collect(),
        keys: of_page.map(str::to_owned).collect(),
    }
}

/// What founding anew leaves behind: marks that were removed, amendments and practice that were taken back,
/// wishes that were answered, and readings that newer ones replaced. A reading is replaced by a newer one whose
/// whole reading is held here; what else there is of that one may be lost on its way. Should the founder be removed,
/// what it read goes with its seed: so the newest that another read stays beside that.
pub(crate) fn stale(
    merged: &Merged<'_>,
    founder: DeviceId,
    held: impl Fn(BlobId) -> bool,
) -> BTreeSet<String> {
    let mut stale = BTreeSet::new();
    for (back, what) in [
        ("unmark/", "mark"),
        ("unmark/", "remark"),
        ("unamend/", "amend"),
        ("unask/", "ask"),
        ("unpractised/", "practised"),
    ] {
        let gone = merged.records_under(back);
        stale.extend(gone.map(|id| format!("{what}/{id}")));
    }
    for page in merged.records_under("page/") {
        let Ok(id) = page.parse() else { continue };
        let readings = readings(merged, id, &mut false);
        let key = |reading: &ReadingRecord| format!("reading/{page}/{}", reading.id);
        let of_others = |reading: &ReadingRecord| {
            let mut makers = merged.record(&key(reading)).iter();
            makers.any(|(by, _)| *by != founder)
        };
        let newest_held = readings.iter().rposition(|reading| held(reading.detail));
        let newest_held = newest_held.unwrap_or(0);
        let beside = match readings.get(newest_held).is_some_and(of_others) {
            true => None,
            false => readings[..newest_held].iter().rposition(of_others),
        };
        let replaced = readings[..newest_held].iter().enumerate();
        let replaced = replaced.filter(|(at, _)| Some(*at) != beside);
        stale.extend(replaced.map(|(_, reading)| key(reading)));
    }
    stale
}
