//! Keeping company: known devices are met without anybody asking for it.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

use sync::{Backoff, News};
use tokio::sync::Semaphore;
use tokio::sync::broadcast;
use tokio::sync::broadcast::error::RecvError;
use tokio::task::JoinSet;
use tokio::time::Instant;
use units::DeviceId;

use crate::App;
use crate::api::{Event, Exchange};

/// A change is sent on once the writing has paused for this long.
const PAUSE: Duration = Duration::from_secs(2);
/// How often known devices are tried though nothing changed here.
const ROUND: Duration = Duration::from_secs(60);
/// Meetings at the same time.
const AT_ONCE: usize = 4;

impl App {
    /// Listens for known devices and keeps meeting them, until the task is dropped: after each change,
    /// as soon as one of them appears on the network, and every minute while they are there.
    pub async fn keep_company(self) {
        let mut events = self.events();
        let mut company = Company::of(self.clone());
        let mut changed = true;
        loop {
            let mut network = None;
            if self.settled().is_ok() {
                // A device alone is the usual case: no failure worth a word.
                network = self.node().await.ok().map(|node| node.news());
                company.begin_due(changed);
            }
            let pause = async {
                loop {
                    tokio::select! {
                        event = events.recv() => match event {
                            Ok(Event::Changed { .. }) | Err(RecvError::Lagged(_)) => break true,
                            Ok(_) => {}
                            Err(RecvError::Closed) => std::future::pending().await,
                        },
                        news = heard(&mut network) => if company.is_time_for(news) {
                            break false;
                        },
                        Some(met) = company.running.join_next() => match met {
                            Ok((device, reached)) => company.ended(device, reached),
                            Err(error) => std::panic::resume_unwind(error.into_panic()),
                        },
                    }
                }
            };
            changed = match tokio::time::timeout(ROUND, pause).await {
                Ok(changed) => {
                    tokio::time::sleep(PAUSE).await;
                    changed
                }
                Err(_) => false,
            };
            // What piled up during the pause is covered by the meetings to come.
            events = events.resubscribe();
        }
    }
}

/// The meetings that run, and who is left in peace for a while.
struct Company {
    app: App,
    waits: BTreeMap<DeviceId, Wait>,
    /// With whom a meeting runs, each with whether something changed here since it began.
    under_way: BTreeMap<DeviceId, bool>,
    running: JoinSet<(DeviceId, bool)>,
    turns: Arc<Semaphore>,
}

impl Company {
    fn of(app: App) -> Self {
        Self {
            app,
            waits: BTreeMap::new(),
            under_way: BTreeMap::new(),
            running: JoinSet::new(),
            turns: Arc::new(Semaphore::new(AT_ONCE)),
        }
    }

    /// Begins to meet those devices whose time it is.
    fn begin_due(&mut self, changed: bool) {
        let now = Instant::now();
        for peer in self.app.company() {
            if let Some(again) = self.under_way.get_mut(&peer.device) {
                *again |= changed;
                continue;
            }
            let wait = self.waits.get(&peer.device);
            if wait.is_none_or(|wait| wait.is_over(changed, now)) {
                self.begin(peer.device);
            }
        }
    }

    fn begin(&mut self, device: DeviceId) {
        self.under_way.insert(device, false);
        let (app, turns) = (self.app.clone(), Arc::clone(&self.turns));
        self.running.spawn(async move {
            let _turn = turns.acquire().await;
            let device_only = Exchange {
                device: Some(device),
            };
            let met = app.exchange(device_only).await;
            let reached = met.is_ok_and(|met| met.meetings.iter().all(|it| it.problem.is_none()));
            (device, reached)
        });
    }

    fn ended(&mut self, device: DeviceId, reached: bool) {
        let changed = self.under_way.remove(&device) == Some(true);
        if reached {
            self.waits.remove(&device);
            if changed {
                self.begin(device);
            }
        } else {
            let chance = self.app.random::<1>();
            let chance = chance.map_or(0.5, |[byte]| f64::from(byte) / 256.0);
            let wait = self.waits.entry(device).or_default();
            wait.failed(chance, Instant::now());
        }
    }

    /// Whether news from the network are worth another try at once.
    fn is_time_for(&mut self, news: News) -> bool {
        match news {
            News::Moved => self.waits.clear(),
            News::Appeared(device) => {
                if !self.app.knows(device) {
                    return false;
                }
                self.waits.remove(&device);
            }
        }
        true
    }
}

/// How long a device that was not reached is left in peace. By the clock that never jumps.
#[derive(Debug, Default)]
struct Wait {
    backoff: Backoff,
    /// When it was last tried in vain, and for how long it is not tried again.
    tried: Option<(Instant, Duration)>,
}

impl Wait {
    /// Whether it may be tried again: after a change here soon, but not with every change.
    fn is_over(&self, changed: bool, now: Instant) -> bool {
        self.tried.is_none_or(|(at, pause)| {
            let pause = if changed { pause.min(ROUND) } else { pause };
            now.duration_since(at) >= pause
        })
    }

    fn failed(&mut self, chance: f64, now: Instant) {
        self.tried = Some((now, self.backoff.failed(chance)));
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_device_that_is_away_is_left_in_peace_longer_each_time_and_tried_after_a_change_once_a_minute()
     {
        let start = Instant::now();
        let mut wait = Wait::default();
        assert!(wait.is_over(false, start));
        let mut at = start;
        for minutes in [1, 2, 4, 8, 16, 30, 30] {
            wait.failed(0.0, at);
            let after = |seconds| at + Duration::from_secs(seconds);
            for changed in [false, true] {
                assert!(!wait.is_over(changed, after(59)));
            }
            assert!(wait.is_over(true, after(60)));
            assert!(!wait.is_over(false, after(minutes * 60 - 1)));
            assert!(wait.is_over(false, after(minutes * 60)));
            at = after(minutes * 60);
        }
    }
}
