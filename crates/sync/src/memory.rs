//! Meetings in memory, for tests and simulations: two hosts, no network, and what may go
//! wrong between them.
//!
//! On a current-thread runtime of tokio whose time is paused, a meeting here takes no time
//! and has the same steps in the same order each time: hosts are called on the meeting's
//! own thread, waits are tokio's, and whatever looks like chance comes from
//! [`Way::seed`].
//!
//! ```
//! # use std::{net::SocketAddr, sync::Arc, time::Duration};
//! # use sync::memory::{self, Faults, Way};
//! # use sync::{DeviceId, Host, HostError, Limits, Taken, Wanted};
//! # struct Nothing;
//! # impl Host for Nothing {
//! #     fn knows(&self, _: DeviceId) -> bool { true }
//! #     fn have(&self, _: DeviceId) -> Result<Vec<(Vec<u8>, u64)>, HostError> { Ok(vec![]) }
//! #     fn changes(&self, _: DeviceId, _: &[u8], _: u64) -> Result<Vec<Vec<u8>>, HostError> {
//! #         Ok(vec![])
//! #     }
//! #     fn accept(&self, _: DeviceId, _: Vec<Vec<u8>>) -> Result<Taken, HostError> {
//! #         Ok(Taken::default())
//! #     }
//! #     fn wants(&self, _: DeviceId) -> Result<Vec<Wanted>, HostError> { Ok(vec![]) }
//! #     fn blob(&self, _: DeviceId, _: Wanted) -> Result<Option<Vec<u8>>, HostError> { Ok(None) }
//! #     fn keep_blob(&self, _: DeviceId, _: Wanted, _: Vec<u8>) -> Result<(), HostError> { Ok(()) }
//! #     fn met(&self, _: DeviceId, _: Vec<SocketAddr>) {}
//! # }
//! # let (tutor, parent): (Arc<dyn Host>, Arc<dyn Host>) = (Arc::new(Nothing), Arc::new(Nothing));
//! # tokio::runtime::Builder::new_current_thread().enable_time().build().unwrap().block_on(async {
//! let slow = Way { delay: Duration::from_millis(20), ..Way::default() };
//! let faults = Faults { there: slow, back: slow };
//! let (caller, called) = memory::meet(
//!     (DeviceId([1; 32]), tutor),
//!     (DeviceId([2; 32]), parent),
//!     &Limits::default(),
//!     &faults,
//! )
//! .await;
//! assert_eq!(caller.unwrap().bytes, called.unwrap().bytes);
//! # });
//! ```

mod carrier;
mod stream;

use std::sync::Arc;
use std::time::Duration;

use units::DeviceId;

use crate::close::Close;
use crate::exchange::{self, Report, Side};
use crate::link::Link;
use crate::{ExchangeError, Host, Limits};

/// What one direction does to what is sent.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Way {
    /// How long everything takes.
    pub delay: Duration,
    /// How much longer a piece takes at most. Each piece of each stream draws its own, so
    /// that streams overtake each other; within a stream the order stays.
    pub spread: Duration,
    /// What the spread is drawn from.
    pub seed: u64,
    /// How much passes in a second; as much as there is, if `None`.
    pub bytes_per_second: Option<u64>,
    /// How many bytes pass before the connection breaks, for both sides.
    pub cut_after: Option<u64>,
}

/// What happens between two hosts.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Faults {
    /// From the caller to the called device.
    pub there: Way,
    /// From the called device to the caller.
    pub back: Way,
}

/// Holds one meeting between a caller and a called device, and gives what each saw of it.
/// Like over the network, each is asked first whether it knows the other.
///
/// # Errors
/// As for [`Node::exchange`](crate::Node::exchange).
pub async fn meet(
    caller: (DeviceId, Arc<dyn Host>),
    called: (DeviceId, Arc<dyn Host>),
    limits: &Limits,
    faults: &Faults,
) -> (Result<Report, ExchangeError>, Result<Report, ExchangeError>) {
    if !caller.1.knows(called.0) {
        return (Err(ExchangeError::Stranger), Err(ExchangeError::NotKnown));
    }
    let (one, other) = links(caller.0, called.0, faults);
    let limits = Arc::new(limits.clone());
    let calling = exchange::meet(one, Side::Caller, caller.1, Arc::clone(&limits));
    let answering = async {
        if !called.1.knows(caller.0) {
            other.close(Close::Stranger);
            return Err(ExchangeError::Stranger);
        }
        exchange::meet(other, Side::Called, called.1, limits).await
    };
    tokio::join!(calling, answering)
}

/// The two ends of one connection.
pub(crate) fn links(
    caller: DeviceId,
    called: DeviceId,
    faults: &Faults,
) -> (Arc<dyn Link>, Arc<dyn Link>) {
    carrier::pair(caller, called, faults)
}
