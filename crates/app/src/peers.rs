//! The other devices: who belongs is in the logs; here is what this device knows of them besides.

use std::collections::{BTreeMap, BTreeSet};
use std::net::SocketAddr;

use casefile::BookKind;
use serde::{Deserialize, Serialize};
use store::Store;
use units::{DeviceId, Moment, Problem, PupilId, Role};

use crate::App;
use crate::api::{DeviceList, DeviceRow, Nothing, SetAddress};
use crate::device::{locked, read_setting};
use crate::problem;

pub(crate) const PEERS: &str = "peers";

/// What is known of a device besides its place in the logs.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "camelCase")]
pub(crate) struct Peer {
    pub device: DeviceId,
    /// What it called itself when it was paired; empty where it never was.
    pub name: String,
    /// Whose it said it was.
    pub role: Role,
    /// For what it was paired. Until the logs say more, it may bring these, and hear of their logs.
    pub pupils: Vec<PupilId>,
    pub last_met: Option<Moment>,
    /// Where it was last reached; then what a person typed.
    pub addresses: Vec<SocketAddr>,
}

pub(crate) fn read(store: &Store) -> Result<Vec<Peer>, Problem> {
    Ok(read_setting(store, PEERS)?.unwrap_or_default())
}

/// The list of peers as it is for a device that has met none of them yet; `None` where it cannot be read.
pub(crate) fn met_by_none(list: &[u8]) -> Option<Vec<u8>> {
    let mut peers: Vec<Peer> = serde_json::from_slice(list).ok()?;
    peers.iter_mut().for_each(|peer| peer.last_met = None);
    Some(serde_json::to_vec(&peers).expect("settings are plain data"))
}

impl App {
    /// The other devices, those of the tutor's first.
    ///
    /// # Errors
    /// The data folder cannot be read.
    pub fn devices(&self, _: Nothing) -> Result<DeviceList, Problem> {
        let mut rows: BTreeMap<DeviceId, DeviceRow> = BTreeMap::new();
        let mut names = BTreeMap::new();
        for (pupil, log) in self.circles() {
            if log.erased {
                continue;
            }
            names.extend(self.books(pupil)?.devices.clone());
            for (device, role) in &log.members {
                let row = self.row_of(*device, Some(*role), &mut rows);
                row.pupils.push(pupil);
            }
            for (device, last) in &log.removed {
                let row = self.row_of(*device, None, &mut rows);
                // Whose it was shows in what it wrote.
                if row.removed && last.iter().any(|at| at.book == BookKind::Tutor) {
                    row.role = Role::Tutor;
                }
            }
        }
        if let Some((_, Some(log))) = self.practice_circle() {
            for device in log.members.keys() {
                self.row_of(*device, Some(Role::Tutor), &mut rows);
            }
        }
        for peer in self.peers() {
            // Whether it belongs is said by the logs; only one that waits to be admitted is in none.
            let known = rows.contains_key(&peer.device);
            let row = self.row_of(peer.device, (!known).then_some(peer.role), &mut rows);
            row.last_met = peer.last_met;
            row.addresses = peer.addresses.iter().map(ToString::to_string).collect();
            if !peer.name.is_empty() {
                names.insert(peer.device, peer.name);
            }
        }
        rows.remove(&self.id());
        let mut devices: Vec<DeviceRow> = rows.into_values().collect();
        for row in &mut devices {
            if let Some(name) = names.get(&row.device) {
                row.name.clone_from(name);
            }
        }
        devices.sort_by_key(|row| (row.removed, row.role == Role::Parent, row.name.clone()));
        Ok(DeviceList { devices })
    }

    fn row_of<'r>(
        &self,
        device: DeviceId,
        role: Option<Role>,
        rows: &'r mut BTreeMap<DeviceId, DeviceRow>,
    ) -> &'r mut DeviceRow {
        let row = rows.entry(device).or_insert_with(|| DeviceRow {
            device,
            name: String::new(),
            role: role.unwrap_or(Role::Parent),
            pupils: Vec::new(),
            last_met: None,
            addresses: Vec::new(),
            removed: role.is_none(),
        });
        if let Some(role) = role {
            row.role = role;
            row.removed = false;
        }
        row
    }

    /// Says where a device can be reached, where neither looking around nor the last address finds it.
    ///
    /// # Errors
    /// There is no such device, or the text is no address.
    pub fn set_address(&self, input: SetAddress) -> Result<Nothing, Problem> {
        let address: SocketAddr = input.address.trim().parse().map_err(|_| {
            Problem::new(
                "not-an-address",
                "This is not an address with a port.",
                "Type it as the other device shows it, such as 192.168.1.20:4400.",
            )
        })?;
        if !self.knows(input.device) {
            return Err(problem::no_such_device());
        }
        self.note_peer(input.device, |peer| {
            peer.addresses.retain(|known| *known != address);
            peer.addresses.insert(0, address);
        })?;
        Ok(Nothing {})
    }

    pub(crate) fn peers(&self) -> Vec<Peer> {
        locked(&self.inner.peers).clone()
    }

    pub(crate) fn peer(&self, device: DeviceId) -> Option<Peer> {
        let peers = locked(&self.inner.peers);
        peers.iter().find(|peer| peer.device == device).cloned()
    }

    /// Whether this device may meet another: one that belongs to something here, or was paired and is
    /// not admitted yet.
    pub(crate) fn knows(&self, device: DeviceId) -> bool {
        if device == self.id() {
            return false;
        }
        let in_practice = self.practice_circle().and_then(|(_, log)| log);
        let mut logs: Vec<_> = self.circles().into_iter().map(|(_, log)| log).collect();
        logs.extend(in_practice);
        logs.iter().any(|log| log.role(device).is_some())
            || self.holds_paper(device)
            || self.is_awaited(device, &logs)
    }

    /// Whether some log here holds to this key on paper.
    pub(crate) fn holds_paper(&self, key: DeviceId) -> bool {
        let practice = self.practice_circle().and_then(|(_, log)| log);
        let logs = self.circles().into_iter().map(|(_, log)| log);
        let mut logs = logs.chain(practice).filter(|log| !log.erased);
        logs.any(|log| log.paper.contains(&key))
    }

    /// Whether a device was paired and its admission has not come yet.
    fn is_awaited(&self, device: DeviceId, logs: &[std::sync::Arc<casefile::Standing>]) -> bool {
        let removed = logs.iter().any(|log| log.removed.contains_key(&device));
        !removed && self.peer(device).is_some()
    }

    /// Every other device that this one may meet, with where it was last reached.
    pub(crate) fn company(&self) -> Vec<Peer> {
        let mut devices = BTreeSet::new();
        for (_, log) in self.circles() {
            devices.extend(log.members.keys().copied());
        }
        if let Some((_, Some(log))) = self.practice_circle() {
            devices.extend(log.members.keys().copied());
        }
        let peers = self.peers();
        devices.extend(peers.iter().map(|peer| peer.device));
        let known = devices.into_iter().filter(|device| self.knows(*device));
        known
            .map(|device| {
                let known = peers.iter().find(|peer| peer.device == device).cloned();
                known.unwrap_or_else(|| Peer::unmet(device))
            })
            .collect()
    }

    /// Changes the list of peers on disk first, then in memory.
    pub(crate) fn change_peers(&self, change: impl FnOnce(&mut Vec<Peer>)) -> Result<(), Problem> {
        let mut peers = locked(&self.inner.peers);
        let mut changed = peers.clone();
        change(&mut changed);
        self.write_setting(PEERS, &changed)?;
        *peers = changed;
        Ok(())
    }

    /// Notes something of a device, whether it was paired here or is known by the logs alone.
    pub(crate) fn note_peer(
        &self,
        device: DeviceId,
        note: impl FnOnce(&mut Peer),
    ) -> Result<(), Problem> {
        self.change_peers(|peers| {
            let at = peers.iter().position(|peer| peer.device == device);
            let at = at.unwrap_or_else(|| {
                peers.push(Peer::unmet(device));
                peers.len() - 1
            });
            note(&mut peers[at]);
        })
    }

    /// Forgets what is known of devices that belong to nothing here any more.
    pub(crate) fn forget_peers_of_nobody(&self) -> Result<(), Problem> {
        let logs = self.circles();
        let practice = self.practice_circle().and_then(|(_, log)| log);
        let belongs = |device: DeviceId| {
            let living = logs.iter().map(|(_, log)| log).filter(|log| !log.erased);
            living
                .chain(practice.iter())
                .any(|log| log.role(device).is_some())
        };
        self.change_peers(|peers| {
            for peer in peers.iter_mut().filter(|peer| !belongs(peer.device)) {
                // It may still have to hear of the erasure; whose device it was is forgotten here.
                peer.name.clear();
            }
        })
    }
}

/// Most addresses that are remembered of a device.
const MOST_ADDRESSES: usize = 8;

impl Peer {
    /// Where it was just reached comes first; where it was before may hold again.
    pub fn reached_at(&mut self, mut addresses: Vec<SocketAddr>) {
        addresses.append(&mut self.addresses);
        let mut seen = BTreeSet::new();
        addresses.retain(|address| seen.insert(*address));
        addresses.truncate(MOST_ADDRESSES);
        self.addresses = addresses;
    }

    fn unmet(device: DeviceId) -> Self {
        Self {
            device,
            name: String::new(),
            role: Role::Parent,
            pupils: Vec::new(),
            last_met: None,
            addresses: Vec::new(),
        }
    }
}
