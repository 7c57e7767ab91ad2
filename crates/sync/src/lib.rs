//! Devices meeting over the network: opaque changes and blobs, moved both ways.
//!
//! **May not know:** what the bytes mean, what a pupil is, nor any disk. Whatever is
//! read, checked or written is asked of a [`Host`], once for every meeting.
//!
//! - [`Node`] is one device on the network: an iroh (QUIC and TLS 1.3) endpoint with
//!   no relay and no look-up service, bound to one address.
//! - [`Node::exchange`] brings two devices that know each other level, both ways.
//! - [`Node::offer`] and [`Node::join`] make two devices known to each other.
//!
//! Every size, count and wait is bounded by [`Limits`]. The protocols are written
//! down in [`exchange`] and [`pairing`].

mod close;
mod error;
pub mod exchange;
mod frame;
mod host;
mod limits;
mod node;
pub mod pairing;
mod wire;

pub use error::{ExchangeError, PairError, StartError};
pub use exchange::Report;
pub use host::{Host, HostError, Taken};
pub use limits::Limits;
pub use node::Node;
pub use pairing::{CodeError, Offer, Paired, Pairing, PairingCode};
pub use units::{BlobId, DeviceId};

/// Locks, also after a panic of another thread: what these locks guard is whole between
/// any two statements.
fn lock<T>(guarded: &std::sync::Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    guarded
        .lock()
        .unwrap_or_else(|poisoned| poisoned.into_inner())
}
