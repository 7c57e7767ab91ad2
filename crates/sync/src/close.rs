//! Why a connection was closed, as the number that QUIC carries.

use iroh::endpoint::{Connection, ConnectionError, VarInt};

macro_rules! reasons {
    ($($(#[$doc:meta])* $name:ident = $code:literal, $text:literal;)*) => {
        /// Why a device closed a connection.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub(crate) enum Close { $($(#[$doc])* $name,)* }

        impl Close {
            /// Closes the connection for this reason.
            pub(crate) fn end(self, connection: &Connection) {
                connection.close(self.code(), self.text().as_bytes());
            }

            pub(crate) fn code(self) -> VarInt {
                match self { $(Self::$name => VarInt::from_u32($code),)* }
            }

            pub(crate) fn text(self) -> &'static str {
                match self { $(Self::$name => $text,)* }
            }

            fn of(code: VarInt) -> Option<Self> {
                match code.into_inner() { $($code => Some(Self::$name),)* _ => None }
            }
        }
    };
}

reasons! {
    /// All is done.
    Done = 0, "done";
    /// The closing device does not know the other.
    Stranger = 1, "not known here";
    /// The closing device is older than what it was sent.
    Older = 2, "this device is older";
    /// The closing device could not read what it was sent.
    Malformed = 3, "unreadable";
    /// The closing device was sent more than it takes.
    TooMuch = 4, "too much";
    /// The closing device could not read or write.
    Host = 5, "could not read or write";
    /// The other device stopped answering.
    Quiet = 6, "no answer";
    /// The closing device is in too many meetings.
    Busy = 7, "busy";
    /// The closing device leaves.
    Leaving = 8, "leaving";
    /// Nothing is on offer.
    NoOffer = 16, "nothing on offer";
    /// The secret is wrong.
    WrongSecret = 17, "wrong secret";
    /// The secret is wrong, and the offer has closed.
    TooManyTries = 18, "too many tries";
    /// A person refused.
    Refused = 19, "refused";
    /// The time ran out.
    Expired = 20, "expired";
    /// The other device could not prove the secret.
    Unproven = 21, "unproven";
}

/// How a connection was lost.
pub(crate) enum Lost {
    /// The peer closed it and said why.
    Closed(Close),
    /// This node closed it.
    Here,
    /// The peer takes no connection now.
    Refused,
    /// The peer speaks none of the protocols asked for.
    NoProtocol,
    /// Nothing came for too long.
    TimedOut,
    /// Anything else; the text is for a log.
    Broken(String),
}

/// TLS alert 120, `no_application_protocol` (RFC 7301), as a QUIC error (RFC 9001, 4.8).
const NO_PROTOCOL: u64 = 0x178;
/// QUIC's CONNECTION_REFUSED (RFC 9000, 20.1).
const REFUSED: u64 = 0x02;

impl From<ConnectionError> for Lost {
    fn from(error: ConnectionError) -> Self {
        let text = error.to_string();
        match error {
            ConnectionError::ApplicationClosed(close) => match Close::of(close.error_code) {
                Some(reason) => Self::Closed(reason),
                None => Self::Broken(text),
            },
            ConnectionError::ConnectionClosed(close) => match u64::from(close.error_code) {
                NO_PROTOCOL => Self::NoProtocol,
                REFUSED => Self::Refused,
                _ => Self::Broken(text),
            },
            ConnectionError::TransportError(error) if u64::from(error.code) == NO_PROTOCOL => {
                Self::NoProtocol
            }
            ConnectionError::LocallyClosed => Self::Here,
            ConnectionError::TimedOut => Self::TimedOut,
            _ => Self::Broken(text),
        }
    }
}
