//! Meeting other devices.

use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;
use std::time::Duration;

use sync::Node;
use tokio::sync::broadcast::error::RecvError;
use units::Problem;

use crate::App;
use crate::api::{Event, Exchange, Exchanged, Meeting, Nothing, Overview, SetNetwork};
use crate::device::{locked, read_setting};
use crate::host::Door;
use crate::peers::Peer;
use crate::problem;
use crate::verbs::off_thread;

const PORT: &str = "device/port";
/// A change is sent on once the writing has paused for this long.
const PAUSE: Duration = Duration::from_secs(2);
/// How often known devices are tried though nothing changed here.
const ROUND: Duration = Duration::from_secs(60);
/// Meetings in a row with one device, where one does not hold all that there is.
const MOST_IN_A_ROW: usize = 64;

impl App {
    /// Switches meetings over the network on or off; meetings on this very machine
    /// are always possible.
    ///
    /// # Errors
    /// The address cannot be used.
    pub async fn set_network(&self, input: SetNetwork) -> Result<Overview, Problem> {
        self.remember_network(input.on)?;
        let running = self.inner.node.lock().await.take();
        if let Some(node) = running {
            node.close().await;
            self.node().await?;
        }
        self.overview(Nothing {})
    }

    /// Meets one known device, or all of them.
    ///
    /// # Errors
    /// This device is not set up, or knows no such device. A device that is out of
    /// reach is no error: its meeting says so.
    pub async fn exchange(&self, input: Exchange) -> Result<Exchanged, Problem> {
        self.settled()?;
        let peers: Vec<Peer> = locked(&self.inner.peers)
            .iter()
            .filter(|peer| input.device.is_none_or(|asked| asked == peer.device))
            .cloned()
            .collect();
        if peers.is_empty() {
            return Err(Problem::new(
                "no-device",
                "This device knows no other device to meet.",
                "Pair the two devices first.",
            ));
        }
        let node = self.node().await?;
        let mut meetings = Vec::with_capacity(peers.len());
        for peer in peers {
            meetings.push(meet(&node, &peer).await);
        }
        Ok(Exchanged { meetings })
    }

    /// Listens for known devices and keeps meeting them, until the task is dropped:
    /// after each change, and every minute.
    pub async fn keep_company(self) {
        let mut events = self.events();
        loop {
            if self.settled().is_ok() {
                // A device alone is the usual case: no failure worth a word.
                let _ = self.listen().await;
                let _ = self.exchange(Exchange { device: None }).await;
            }
            let changed = async {
                loop {
                    match events.recv().await {
                        Ok(Event::Changed { .. }) | Err(RecvError::Lagged(_)) => break,
                        Ok(_) => {}
                        Err(RecvError::Closed) => std::future::pending().await,
                    }
                }
                tokio::time::sleep(PAUSE).await;
            };
            let _ = tokio::time::timeout(ROUND, changed).await;
            // What piled up during the pause is covered by the meeting to come.
            events = events.resubscribe();
        }
    }

    /// Opens this device to those that it knows: until [`App::close`] they can begin a meeting.
    ///
    /// # Errors
    /// The network address cannot be used.
    pub async fn listen(&self) -> Result<(), Problem> {
        self.node().await.map(drop)
    }

    /// Leaves the network.
    pub async fn close(&self) {
        let running = self.inner.node.lock().await.take();
        if let Some(node) = running {
            node.close().await;
        }
    }

    /// The node, started where it is not running yet.
    pub(crate) async fn node(&self) -> Result<Arc<Node>, Problem> {
        let mut slot = self.inner.node.lock().await;
        if let Some(node) = &*slot {
            return Ok(node.clone());
        }
        let host = if self.network()? {
            Ipv4Addr::UNSPECIFIED
        } else {
            Ipv4Addr::LOCALHOST
        };
        // The same port as last time, so that others find this device again.
        let port: u16 = read_setting(&self.inner.store, PORT)?.unwrap_or(0);
        let door = || Arc::new(Door(self.clone()));
        let started = match Node::start(self.inner.secret, (host, port).into(), door()).await {
            Err(_) if port != 0 => Node::start(self.inner.secret, (host, 0).into(), door()).await,
            other => other,
        };
        let node = Arc::new(started.map_err(problem::start)?);
        if let Some(port) = node.addresses().first().map(SocketAddr::port) {
            let app = self.clone();
            off_thread(move || app.write_setting(PORT, &port)).await?;
        }
        *slot = Some(node.clone());
        Ok(node)
    }
}

/// Meets one device until neither side has more for the other.
async fn meet(node: &Node, peer: &Peer) -> Meeting {
    let mut all = Meeting {
        device: peer.device,
        name: peer.name.clone(),
        sent_changes: 0,
        received_changes: 0,
        sent_blobs: 0,
        received_blobs: 0,
        refused_changes: 0,
        problem: None,
    };
    for _ in 0..MOST_IN_A_ROW {
        match node.exchange(peer.device, &peer.addresses).await {
            Ok(report) => {
                let more = report.more;
                add(&mut all, &report);
                if !more {
                    break;
                }
            }
            Err(error) => {
                all.problem = Some(problem::exchange(&error, &peer.name));
                break;
            }
        }
    }
    all
}

fn add(all: &mut Meeting, report: &sync::Report) {
    let count = |number: u64| u32::try_from(number).unwrap_or(u32::MAX);
    all.sent_changes += count(report.sent_changes);
    all.received_changes += count(report.received_changes);
    all.sent_blobs += count(report.sent_blobs);
    all.received_blobs += count(report.received_blobs);
    all.refused_changes += count(report.refused_changes);
}
