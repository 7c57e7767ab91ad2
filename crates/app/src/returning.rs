//! Coming back by the key on paper to what this device was removed from. Whoever removed it, and all who
//! have heard of that, let it in no more; so it meets them with the key itself, which shows logs and nothing
//! else: it hears of its removal, is admitted after it, and brings them that.

use std::collections::BTreeSet;
use std::sync::Arc;

use casefile::Signer;
use sync::{Network, Node};
use tokio::task::JoinSet;
use units::{DeviceId, Problem, Role};

use crate::App;
use crate::api::{Exchange, Exchanged, ReturnByPaper};
use crate::host::Introduction;
use crate::membership::paper_secret;
use crate::peers::Peer;
use crate::problem;
use crate::verbs::off_thread;

impl App {
    /// Comes back by the key on paper to everything here from which this device was removed. Gives the
    /// meetings that came about; devices that are out of reach hear of it from the others, or when this is
    /// done once more.
    ///
    /// # Errors
    /// This is not the tutor's device, the text is no such key, nothing here holds to it, or the disk is
    /// full.
    pub async fn return_by_paper(&self, input: ReturnByPaper) -> Result<Exchanged, Problem> {
        self.only(Role::Tutor)?;
        let secret = paper_secret(&input.paper_key)?;
        let paper = Signer::from_secret(secret);
        if !self.holds_paper(paper.device()) {
            return Err(problem::paper_key_elsewhere());
        }
        let company = self.company();
        let mut reached = company.clone();
        let met = self.meet_as(secret, &company, true).await;
        reached.retain(|peer| met.contains(&peer.device));
        let app = self.clone();
        off_thread(move || {
            app.admit_self_by(&paper)?;
            app.level_tutors()?;
            app.sweep()
        })
        .await?;
        self.meet_as(secret, &reached, false).await;
        let mut meetings = Vec::new();
        for peer in reached {
            let device = Some(peer.device);
            // One that is not known any more is no company.
            let met = self.exchange(Exchange { device }).await;
            meetings.extend(met.into_iter().flat_map(|met| met.meetings));
        }
        Ok(Exchanged { meetings })
    }

    /// Meets devices under another key than this device's own, all at the same time, to show them logs and,
    /// where that is wished, to take those that they show. With which of them it came about.
    pub(crate) async fn meet_as(
        &self,
        secret: [u8; 32],
        peers: &[Peer],
        takes: bool,
    ) -> BTreeSet<DeviceId> {
        let network = match self.network() {
            Ok(true) => Network::Local {
                port: 0,
                mdns: true,
                relay: None,
            },
            _ => Network::Loopback { port: 0 },
        };
        let app = self.clone();
        let host = Arc::new(Introduction { app, takes });
        let Ok(node) = Node::start(secret, network, host).await else {
            return BTreeSet::new();
        };
        let node = Arc::new(node);
        let mut meetings = JoinSet::new();
        for peer in peers.iter().cloned() {
            let node = Arc::clone(&node);
            meetings.spawn(async move {
                let met = node.exchange(peer.device, &peer.addresses).await;
                met.ok().map(|_| peer.device)
            });
        }
        let met = meetings.join_all().await;
        node.close().await;
        met.into_iter().flatten().collect()
    }
}
