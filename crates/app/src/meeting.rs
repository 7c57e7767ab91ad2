//! Meeting other devices.

use std::cmp::Reverse;
use std::sync::Arc;
use std::time::{Duration, Instant};

use sync::{Network, Node, Relay};
use tokio::sync::Semaphore;
use tokio::task::JoinSet;
use units::Problem;

use crate::App;
use crate::api::{Exchange, Exchanged, Meeting, Nothing, Overview, SetNetwork};
use crate::device::read_setting;
use crate::host::Door;
use crate::peers::Peer;
use crate::problem;
use crate::verbs::off_thread;

const PORT: &str = "device/port";
/// Meetings in a row with one device, where one does not hold all that there is; and for how long another is
/// begun at once.
const MOST_IN_A_ROW: usize = 64;
const LONGEST_ROW: Duration = Duration::from_secs(60 * 60);

/// Meetings at the same time; the other devices wait their turn.
const AT_ONCE: usize = 8;

impl App {
    /// Switches meetings over the network on or off; meetings on this very machine
    /// are always possible.
    ///
    /// # Errors
    /// The relay's address is none, or the network address cannot be used.
    pub async fn set_network(&self, input: SetNetwork) -> Result<Overview, Problem> {
        if input.on {
            let relay = input.relay.as_deref().map(str::trim);
            let relay = relay.filter(|relay| !relay.is_empty());
            if let Some(relay) = relay {
                let _: Relay = relay.parse().map_err(|error| problem::relay(&error))?;
            }
            self.remember_relay(relay)?;
        }
        self.remember_network(input.on)?;
        let running = self.inner.node.lock().await.take();
        if let Some(node) = &running {
            node.close().await;
        }
        if input.on || running.is_some() {
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
        let mut peers = self.company();
        peers.retain(|peer| input.device.is_none_or(|asked| asked == peer.device));
        if peers.is_empty() {
            return Err(Problem::new(
                "no-device",
                "This device knows no other device to meet.",
                "Pair the two devices first.",
            ));
        }
        let node = self.node().await?;
        let names = self.devices(Nothing {})?.devices;
        // One that is away, or has much to fetch, keeps nobody waiting, and who was met last goes first.
        let turns = Arc::new(Semaphore::new(AT_ONCE));
        let mut peers: Vec<(usize, Peer)> = peers.into_iter().enumerate().collect();
        peers.sort_by_key(|(_, peer)| Reverse(peer.last_met));
        let mut running = JoinSet::new();
        for (place, peer) in peers {
            let named = names.iter().find(|row| row.device == peer.device);
            let name = named.map(|row| row.name.clone());
            let name = name.filter(|name| !name.is_empty());
            let name = name.unwrap_or_else(|| "The other device".to_owned());
            let (app, node, turns) = (self.clone(), Arc::clone(&node), Arc::clone(&turns));
            running.spawn(async move {
                let met = app.meet_unless_stopped(&node, peer, name, &turns);
                (place, met.await)
            });
        }
        let mut meetings = running.join_all().await;
        meetings.sort_by_key(|(place, _)| *place);
        let meetings = meetings.into_iter().map(|(_, met)| met).collect();
        // Where that fails it is tried again after the next meeting.
        let _ = self.forget_before_self_once_met();
        Ok(Exchanged { meetings })
    }

    /// Meets one device when its turn comes, if need be after this one is introduced to it.
    async fn meet_unless_stopped(
        &self,
        node: &Node,
        peer: Peer,
        name: String,
        turns: &Semaphore,
    ) -> Meeting {
        let met = async {
            let _turn = turns.acquire().await;
            let met = meet(node, &peer, name.clone()).await;
            let problem = met.problem.as_ref();
            match problem.is_some_and(|it| it.code == "not-paired") && self.introduce(&peer).await {
                true => meet(node, &peer, name.clone()).await,
                false => met,
            }
        };
        tokio::select! {
            met = met => met,
            () = self.inner.stopping.notified() => Meeting {
                problem: Some(problem::stopped()),
                ..unmet(&peer, name.clone())
            },
        }
    }

    /// Ends the meetings that this device began and that run. Nothing is lost: the next one goes on where
    /// they were cut.
    ///
    /// # Errors
    /// None: where none runs there is nothing to end.
    pub fn stop_exchange(&self, _: Nothing) -> Result<Nothing, Problem> {
        self.inner.stopping.notify_waiters();
        Ok(Nothing {})
    }

    /// A device made from a backup is not known to the others yet. As the device before, or the last that
    /// they know of those before it, it brings them the log in which that one admits it, and nothing else.
    async fn introduce(&self, peer: &Peer) -> bool {
        for before in self.before().unwrap_or_default() {
            let met = self.meet_as(before, std::slice::from_ref(peer), false);
            if !met.await.is_empty() {
                return true;
            }
        }
        false
    }

    /// Addresses at which this device can be reached now.
    pub(crate) fn addresses(&self) -> Vec<String> {
        // While a node is being started there is nothing to tell.
        let Ok(node) = self.inner.node.try_lock() else {
            return Vec::new();
        };
        let addresses = node.as_ref().map(|node| node.addresses());
        let addresses = addresses.unwrap_or_default().into_iter();
        let far = addresses.filter(|address| !address.ip().is_loopback());
        far.map(|address| address.to_string()).collect()
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
        let (on, relay) = (self.network()?, self.relay()?);
        // An address that cannot be read any more is as good as none.
        let relay: Option<Relay> = relay.and_then(|relay| relay.parse().ok());
        let network = |port| match on {
            true => Network::Local {
                port,
                mdns: true,
                relay: relay.clone(),
            },
            false => Network::Loopback { port },
        };
        // The same port as last time, so that others find this device again.
        let port: u16 = read_setting(&self.inner.store, PORT)?.unwrap_or(0);
        let start = |port| {
            let door = Arc::new(Door(self.clone()));
            Node::start(self.inner.secret, network(port), door)
        };
        let started = match start(port).await {
            Err(_) if port != 0 => start(0).await,
            other => other,
        };
        let node = Arc::new(started.map_err(problem::start)?);
        let (app, port) = (self.clone(), node.port());
        off_thread(move || app.write_setting(PORT, &port)).await?;
        *slot = Some(node.clone());
        Ok(node)
    }
}

/// A meeting in which nothing happened.
fn unmet(peer: &Peer, name: String) -> Meeting {
    Meeting {
        device: peer.device,
        name,
        sent_changes: 0,
        received_changes: 0,
        sent_blobs: 0,
        received_blobs: 0,
        refused_changes: 0,
        problem: None,
    }
}

/// Meets one device until neither side has more for the other.
async fn meet(node: &Node, peer: &Peer, name: String) -> Meeting {
    let mut all = unmet(peer, name.clone());
    let begun = Instant::now();
    for _ in 0..MOST_IN_A_ROW {
        match node.exchange(peer.device, &peer.addresses).await {
            Ok(report) => {
                let more = report.more;
                add(&mut all, &report);
                if !more || begun.elapsed() > LONGEST_ROW {
                    break;
                }
            }
            Err(error) => {
                all.problem = Some(problem::exchange(&error, &name));
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
