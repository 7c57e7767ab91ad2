//! Meeting other devices.

use std::sync::Arc;
use std::time::Duration;

use sync::{Backoff, Network, News, Node, Relay};
use tokio::sync::broadcast;
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

/// How long a device that was not reached is left in peace.
#[derive(Default)]
pub(crate) struct Wait {
    backoff: Backoff,
    /// A moment in milliseconds; 0 where it was reached.
    until: i64,
}

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
        let mut meetings = Vec::with_capacity(peers.len());
        let names = self.devices(Nothing {})?.devices;
        for peer in peers {
            let named = names.iter().find(|row| row.device == peer.device);
            let name = named.map(|row| row.name.clone());
            let name = name.filter(|name| !name.is_empty());
            let name = name.unwrap_or_else(|| "The other device".to_owned());
            let stopped = self.inner.stopping.notified();
            let mut met = tokio::select! {
                met = meet(&node, &peer, name.clone()) => met,
                () = stopped => {
                    meetings.push(Meeting {
                        problem: Some(problem::stopped()),
                        ..unmet(&peer, name)
                    });
                    break;
                }
            };
            let unknown = met
                .problem
                .as_ref()
                .is_some_and(|it| it.code == "not-paired");
            if unknown && self.introduce(&peer).await {
                met = meet(&node, &peer, name).await;
            }
            meetings.push(met);
        }
        // Where that fails it is tried again after the next meeting.
        let _ = self.forget_before_self_once_met();
        Ok(Exchanged { meetings })
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

    /// Meets those devices whose time it is: all of them after a change here, and else those that
    /// were reached last time, or not tried for a while.
    async fn round(&self, changed: bool) {
        let now = self.now();
        for peer in self.company() {
            let due = {
                let waits = locked(&self.inner.waits);
                waits
                    .get(&peer.device)
                    .is_none_or(|wait| wait.until <= now.0)
            };
            if !due && !changed {
                continue;
            }
            let device = Some(peer.device);
            let met = self.exchange(Exchange { device }).await;
            let reached = met.is_ok_and(|met| met.meetings.iter().all(|it| it.problem.is_none()));
            let mut waits = locked(&self.inner.waits);
            let wait = waits.entry(peer.device).or_default();
            match reached {
                true => *wait = Wait::default(),
                false => {
                    let chance = self
                        .random::<1>()
                        .map_or(0.5, |[byte]| f64::from(byte) / 256.0);
                    let pause = i64::try_from(wait.backoff.failed(chance).as_millis());
                    wait.until = now.0.saturating_add(pause.unwrap_or(i64::MAX));
                }
            }
        }
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

    /// Listens for known devices and keeps meeting them, until the task is dropped: after each change,
    /// as soon as one of them appears on the network, and every minute while they are there.
    pub async fn keep_company(self) {
        let mut events = self.events();
        let mut changed = true;
        loop {
            let mut network = None;
            if self.settled().is_ok() {
                // A device alone is the usual case: no failure worth a word.
                network = self.node().await.ok().map(|node| node.news());
                self.round(changed).await;
            }
            let pause = async {
                loop {
                    tokio::select! {
                        event = events.recv() => match event {
                            Ok(Event::Changed { .. }) | Err(RecvError::Lagged(_)) => break true,
                            Ok(_) => {}
                            Err(RecvError::Closed) => std::future::pending().await,
                        },
                        news = heard(&mut network) => if self.is_time_for(news) {
                            break false;
                        },
                    }
                }
            };
            changed = tokio::time::timeout(ROUND, pause).await.unwrap_or(false);
            if changed {
                tokio::time::sleep(PAUSE).await;
            }
            // What piled up during the pause is covered by the meeting to come.
            events = events.resubscribe();
        }
    }

    /// Whether news from the network are worth another try at once.
    fn is_time_for(&self, news: News) -> bool {
        let mut waits = locked(&self.inner.waits);
        match news {
            News::Moved => waits.clear(),
            News::Appeared(device) => {
                drop(waits);
                if !self.knows(device) {
                    return false;
                }
                waits = locked(&self.inner.waits);
                waits.remove(&device);
            }
        }
        true
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

/// The next news from the network; never, where there is no network to hear of.
async fn heard(network: &mut Option<broadcast::Receiver<News>>) -> News {
    while let Some(news) = network {
        match news.recv().await {
            Ok(news) => return news,
            Err(RecvError::Lagged(_)) => {}
            Err(RecvError::Closed) => *network = None,
        }
    }
    std::future::pending().await
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
