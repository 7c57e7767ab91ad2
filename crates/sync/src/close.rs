//! Why a connection was closed, as the number that its carrier takes along.

use thiserror::Error;

macro_rules! reasons {
    ($($(#[$doc:meta])* $name:ident = $code:literal, $text:literal;)*) => {
        /// Why a device closed a connection.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub(crate) enum Close { $($(#[$doc])* $name,)* }

        impl Close {
            pub(crate) fn code(self) -> u32 {
                match self { $(Self::$name => $code,)* }
            }

            pub(crate) fn text(self) -> &'static str {
                match self { $(Self::$name => $text,)* }
            }

            pub(crate) fn of(code: u64) -> Option<Self> {
                match code { $($code => Some(Self::$name),)* _ => None }
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
#[derive(Debug, Clone, Error)]
pub(crate) enum Lost {
    /// The peer closed it and said why.
    #[error("closed by the other device: {}", .0.text())]
    Closed(Close),
    /// This node closed it.
    #[error("closed here")]
    Here,
    /// The peer takes no connection now.
    #[error("refused")]
    Refused,
    /// The peer speaks none of the protocols asked for.
    #[error("no common protocol")]
    NoProtocol,
    /// Nothing came for too long.
    #[error("timed out")]
    TimedOut,
    /// Anything else; the text is for a log.
    #[error("{0}")]
    Broken(String),
}
