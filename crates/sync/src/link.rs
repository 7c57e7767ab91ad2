//! What carries a meeting: streams both ways to one device, whoever moves the bytes.

pub(crate) mod quic;

use std::fmt;
use std::net::SocketAddr;
use std::pin::Pin;

use tokio::io::{AsyncRead, AsyncWrite};
use units::DeviceId;

use crate::close::{Close, Lost};

/// The sending half of a stream. Shutting it down, or dropping it, ends the stream: the
/// peer reads what was written and then the end.
pub(crate) type Writer = Box<dyn AsyncWrite + Send + Sync + Unpin>;
/// The receiving half of a stream. Dropping it before its end stops the peer's writing.
pub(crate) type Reader = Box<dyn AsyncRead + Send + Sync + Unpin>;
/// Something that a link will have.
pub(crate) type Soon<'a, T> = Pin<Box<dyn Future<Output = T> + Send + 'a>>;

/// A connection to one device that has proven its key. Streams are independent of each
/// other: each keeps its own order, and none waits for another.
///
/// A read or write that fails because the whole link is gone carries [`Lost`] as the source
/// of its [`std::io::Error`]; without it, only that stream has ended too early.
pub(crate) trait Link: fmt::Debug + Send + Sync + 'static {
    /// The device at the other end.
    fn peer(&self) -> DeviceId;
    /// The addresses at which it was reached, in order; none where the carrier has none.
    fn addrs(&self) -> Vec<SocketAddr>;
    /// Opens a stream. The peer hears of it with the first bytes.
    fn open(&self) -> Soon<'_, Result<(Writer, Reader), Lost>>;
    /// Waits for the next stream that the peer opens.
    fn accept(&self) -> Soon<'_, Result<(Writer, Reader), Lost>>;
    /// Ends the link; what is still on its way may be lost.
    fn close(&self, reason: Close);
    /// Waits for the end of the link.
    fn closed(&self) -> Soon<'_, Lost>;
    /// Where the host's calls run.
    fn calls(&self) -> Calls;
}

/// Where the host's calls run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Calls {
    /// On threads that may block.
    Pooled,
    /// On the meeting's own, so that the order of all steps is the same each time.
    Inline,
}
