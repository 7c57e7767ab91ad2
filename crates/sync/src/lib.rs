//! Devices meeting over the network: opaque changes and blobs, moved both ways.
//!
//! **May not know:** what the bytes mean, what a pupil is, nor any disk. Whatever is
//! read, checked or written is asked of a [`Host`], once for every meeting.
//!
//! - [`Node`] is one device on a [`Network`]: an iroh (QUIC and TLS 1.3) endpoint. How
//!   devices find each other, and what others can see of it, stands there.
//! - [`Node::exchange`] brings two devices that know each other level, both ways.
//! - [`Node::offer`] and [`Node::join`] make two devices known to each other.
//! - [`Backoff`] says when to try a device again that was not there.
//! - [`memory`] holds the same meetings without a network, for tests and simulations.
//!
//! Every size, count and wait is bounded by [`Limits`]. The protocols are written
//! down in [`exchange`] and [`pairing`].

mod backoff;
pub mod carry;
mod close;
mod error;
pub mod exchange;
mod frame;
#[cfg(any(test, feature = "fuzz"))]
pub mod fuzz;
mod host;
mod limits;
mod link;
pub mod memory;
mod network;
mod node;
mod outline;
pub mod pairing;
mod wire;

pub use backoff::Backoff;
pub use error::{ExchangeError, PairError, StartError};
pub use exchange::Report;
pub use host::{Host, HostError, Progress, Taken, Wanted};
pub use limits::Limits;
pub use network::{Network, Relay, RelayError};
pub use node::{News, Node};
pub use pairing::{CodeError, Offer, Paired, Pairing, PairingCode};
pub use units::{BlobId, DeviceId};

/// Locks, also after a panic of another thread: what these locks guard is whole between
/// any two statements.
fn lock<T>(guarded: &std::sync::Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    guarded
        .lock()
        .unwrap_or_else(|poisoned| poisoned.into_inner())
}
