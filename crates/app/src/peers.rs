//! The other devices that this one has been paired with.

use std::net::SocketAddr;

use casefile::Roster;
use serde::{Deserialize, Serialize};
use store::Store;
use units::{DeviceId, Moment, Problem, PupilId, Role};

use crate::App;
use crate::api::{DeviceList, DeviceRow, Nothing};
use crate::device::{locked, read_setting};

const PEERS: &str = "peers";

/// A paired device.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "camelCase")]
pub(crate) struct Peer {
    pub device: DeviceId,
    pub name: String,
    pub role: Role,
    pub pupils: Vec<PupilId>,
    pub last_met: Option<Moment>,
    pub addresses: Vec<SocketAddr>,
}

impl Peer {
    pub fn row(&self) -> DeviceRow {
        DeviceRow {
            device: self.device,
            name: self.name.clone(),
            role: self.role,
            pupils: self.pupils.clone(),
            last_met: self.last_met,
        }
    }
}

pub(crate) fn read(store: &Store) -> Result<Vec<Peer>, Problem> {
    Ok(read_setting(store, PEERS)?.unwrap_or_default())
}

impl App {
    /// The devices that this one knows.
    ///
    /// # Errors
    /// None today; the list is in memory.
    pub fn devices(&self, _: Nothing) -> Result<DeviceList, Problem> {
        Ok(DeviceList {
            devices: locked(&self.inner.peers).iter().map(Peer::row).collect(),
        })
    }

    pub(crate) fn peer(&self, device: DeviceId) -> Option<Peer> {
        locked(&self.inner.peers)
            .iter()
            .find(|peer| peer.device == device)
            .cloned()
    }

    /// Whether this peer and this device both hold the pupil.
    pub(crate) fn shared_with(&self, peer: DeviceId, pupil: PupilId) -> bool {
        self.peer(peer)
            .is_some_and(|peer| peer.pupils.contains(&pupil))
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

    /// Adds a device after pairing, or one more pupil to a device known already.
    pub(crate) fn add_peer(&self, new: Peer) -> Result<DeviceRow, Problem> {
        let mut row = None;
        self.change_peers(|peers| {
            let at = peers.iter().position(|peer| peer.device == new.device);
            let at = at.unwrap_or_else(|| {
                peers.push(Peer {
                    pupils: Vec::new(),
                    ..new.clone()
                });
                peers.len() - 1
            });
            let peer = &mut peers[at];
            peer.name = new.name;
            peer.addresses = new.addresses;
            for pupil in new.pupils {
                if !peer.pupils.contains(&pupil) {
                    peer.pupils.push(pupil);
                }
            }
            row = Some(peer.row());
        })?;
        self.forget_open_cases();
        Ok(row.expect("the change above always sets it"))
    }

    /// Who may write about this pupil, as far as this device has been told by pairing.
    pub(crate) fn roster(&self, pupil: PupilId) -> Result<Roster, Problem> {
        let mut tutor = Vec::new();
        let mut parents = Vec::new();
        match self.settled()?.role {
            Role::Tutor => tutor.push(self.id()),
            Role::Parent => parents.push(self.id()),
        }
        for peer in locked(&self.inner.peers)
            .iter()
            .filter(|peer| peer.pupils.contains(&pupil))
        {
            match peer.role {
                Role::Tutor => tutor.push(peer.device),
                Role::Parent => parents.push(peer.device),
            }
        }
        Ok(Roster { tutor, parents })
    }
}
