//! One error for each operation.

use std::net::SocketAddr;

use thiserror::Error;

use crate::HostError;

/// A node that could not be started.
#[derive(Debug, Error)]
pub enum StartError {
    /// The address cannot be bound: taken by another program, or not of this device.
    #[error("the network address {address} cannot be used: {reason}")]
    Address {
        /// The address asked for.
        address: SocketAddr,
        /// What the system said.
        reason: String,
    },
}

/// An exchange that did not reach its end. What was taken until then is safe, and the
/// exchange may be repeated.
#[derive(Debug, Error)]
pub enum ExchangeError {
    /// This device does not know the peer, or no longer does since a change that came.
    #[error("this device does not know the other device")]
    Stranger,
    /// The peer does not know this device, or no longer does.
    #[error("the other device does not know this device")]
    NotKnown,
    /// The peer was not found at any of its addresses.
    #[error("the other device cannot be reached: {reason}")]
    Unreachable {
        /// What the network said.
        reason: String,
    },
    /// The peer speaks a newer protocol.
    #[error("the other device is newer: update this device")]
    Newer,
    /// The peer speaks an older protocol.
    #[error("the other device is older: update that device")]
    Older,
    /// The peer is in too many meetings.
    #[error("the other device is busy")]
    Busy,
    /// The connection broke.
    #[error("the connection broke: {reason}")]
    Interrupted {
        /// What the network said.
        reason: String,
    },
    /// The peer stopped answering, or the meeting took too long.
    #[error("the other device stopped answering")]
    Quiet,
    /// The peer sent more than one meeting may hold.
    #[error("the other device sent too much: {what}")]
    TooMuch {
        /// What there was too much of.
        what: &'static str,
    },
    /// The peer sent something that is not of this protocol.
    #[error("the other device sent something unreadable: {what}")]
    Malformed {
        /// What could not be read.
        what: &'static str,
    },
    /// The peer ended the meeting because of what this device sent.
    #[error("the other device refused what this device sent")]
    Refused,
    /// This device could not read or write.
    #[error("this device could not read or write: {0}")]
    Host(#[source] HostError),
    /// The peer could not read or write.
    #[error("the other device could not read or write")]
    PeerHost,
    /// This node, or the peer's, was closed.
    #[error("the meeting was closed")]
    Closed,
}

/// A pairing that did not come about. Neither device knows the other because of it.
#[derive(Debug, Error)]
pub enum PairError {
    /// The payload is larger than [`Limits::ABOUT_BYTES`](crate::Limits::ABOUT_BYTES).
    #[error("what is to be handed over is too large: {bytes} bytes")]
    AboutTooLarge {
        /// Its size.
        bytes: usize,
    },
    /// The system gave no random bytes.
    #[error("this device gave no random numbers")]
    NoRandomness,
    /// The code was made by this device.
    #[error("this code was made by this very device")]
    OwnCode,
    /// The offering device was not found at any address of the code.
    #[error("the other device cannot be reached: {reason}")]
    Unreachable {
        /// What the network said.
        reason: String,
    },
    /// The code's secret is not the one on offer.
    #[error("the code is not, or no longer, the one on offer")]
    WrongSecret,
    /// Nothing is on offer: used already, ended, or replaced by another offer.
    #[error("nothing is on offer: the code has been used or its offer has ended")]
    NoOffer,
    /// The offer's time ran out, or the people's time to confirm.
    #[error("the time for pairing ran out")]
    Expired,
    /// Too many wrong secrets: the offer has closed.
    #[error("too many wrong codes were tried: the offer has closed")]
    TooManyTries,
    /// The person at the other device refused.
    #[error("the other side refused")]
    Refused,
    /// The offer was cancelled on this device.
    #[error("the offer was cancelled")]
    Cancelled,
    /// The other device speaks a newer protocol.
    #[error("the other device is newer: update this device")]
    Newer,
    /// The other device speaks an older protocol.
    #[error("the other device is older: update that device")]
    Older,
    /// The other device is in too many meetings.
    #[error("the other device is busy")]
    Busy,
    /// The connection broke.
    #[error("the connection broke: {reason}")]
    Interrupted {
        /// What the network said.
        reason: String,
    },
    /// The other device stopped answering.
    #[error("the other device stopped answering")]
    Quiet,
    /// The other device sent something that is not of this protocol.
    #[error("the other device sent something unreadable: {what}")]
    Malformed {
        /// What could not be read.
        what: &'static str,
    },
    /// The other device could not prove that it holds the code's secret.
    #[error("the other device could not prove itself")]
    Unproven,
}
