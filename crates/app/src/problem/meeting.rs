//! Pairing and meetings.

use sync::{CodeError, ExchangeError, PairError, StartError};
use units::Problem;

use super::{TRY_LATER, UPDATE};

/// The two devices were set up for something else than this pairing is for.
pub(crate) fn pairing_does_not_fit() -> Problem {
    Problem::new(
        "pairing-does-not-fit",
        "These two devices cannot be paired like this.",
        "A family's device takes up a text of the tutor's. A tutor's device takes up a text of another \
         one of the tutor's, or, with the key on paper, of a family's.",
    )
}

/// A text that is no relay's address.
pub(crate) fn relay(error: &sync::RelayError) -> Problem {
    Problem::new(
        "not-a-relay",
        format!("This is not the address of a relay ({error})."),
        "Type it as whoever runs the relay gave it, such as https://relay.example.org.",
    )
}

/// The network address cannot be used.
pub(crate) fn start(error: StartError) -> Problem {
    Problem::new(
        "no-network",
        format!("This device could not open a connection: {error}."),
        "Check that the network is on, and try again.",
    )
}

/// The pairing text does not fit.
pub(crate) fn code(error: &CodeError) -> Problem {
    match error {
        CodeError::Newer => Problem::new(
            "other-newer",
            "This pairing text comes from a newer version of the program.",
            UPDATE,
        ),
        _ => Problem::new(
            "code-slip",
            format!("This pairing text is not right: {error}."),
            "Compare it with the other device, and type it again.",
        ),
    }
}

/// The two people saw different words.
pub(crate) fn words_differ() -> Problem {
    Problem::new(
        "words-differ",
        "The words were not the same, so the devices were not paired.",
        "Begin again, both in the same room if you can.",
    )
}

/// Pairing came to nothing.
pub(crate) fn pair(error: PairError) -> Problem {
    const AGAIN: &str = "Show a new pairing text on the tutor's device, and try again.";
    match error {
        PairError::OwnCode => Problem::new(
            "own-code",
            "This pairing text was made by this very device.",
            "Type it on the parent's device.",
        ),
        PairError::Unreachable { .. } => Problem::new(
            "not-reachable",
            "The other device cannot be reached.",
            "Leave both programs open, both on the same network, and try again.",
        ),
        PairError::WrongSecret | PairError::NoOffer | PairError::TooManyTries => Problem::new(
            "code-void",
            "This pairing text is not, or no longer, valid.",
            AGAIN,
        ),
        PairError::Expired => Problem::new("pairing-expired", "The ten minutes are over.", AGAIN),
        PairError::Refused => Problem::new(
            "pairing-refused",
            "The other side said that the words differ.",
            "Begin again, both in the same room if you can.",
        ),
        PairError::Cancelled => {
            Problem::new("pairing-cancelled", "The pairing was ended here.", AGAIN)
        }
        PairError::Newer => other_newer(),
        PairError::Older => other_older(),
        PairError::Busy | PairError::Quiet | PairError::Interrupted { .. } => Problem::new(
            "connection-broke",
            "The connection between the two devices broke.",
            AGAIN,
        ),
        PairError::NoRandomness => Problem::new(
            "no-randomness",
            "The system gave no random numbers.",
            "Restart the device, and try again.",
        ),
        PairError::AboutTooLarge { .. } | PairError::Malformed { .. } | PairError::Unproven => {
            Problem::new(
                "pairing-unsafe",
                "The other device could not prove who it is, so nothing was shared.",
                AGAIN,
            )
        }
    }
}

/// A meeting came to nothing.
pub(crate) fn exchange(error: &ExchangeError, name: &str) -> Problem {
    match error {
        ExchangeError::Unreachable { .. } => Problem::new(
            "not-reachable",
            format!("{name} cannot be reached now."),
            "Open the program there, on the same network. Nothing is lost until then.",
        ),
        ExchangeError::Stranger | ExchangeError::NotKnown => Problem::new(
            "not-paired",
            format!("{name} and this device are no longer paired."),
            "Pair the two devices again.",
        ),
        ExchangeError::Newer => other_newer(),
        ExchangeError::Older => other_older(),
        ExchangeError::Host(reason) => Problem::new(
            "meeting-not-kept",
            format!("What came could not be kept here: {reason}"),
            "Free some space, and meet again; nothing is lost.",
        ),
        ExchangeError::Busy
        | ExchangeError::Interrupted { .. }
        | ExchangeError::Quiet
        | ExchangeError::PeerHost
        | ExchangeError::Closed => Problem::new(
            "meeting-broke",
            format!("The meeting with {name} broke off: {error}."),
            TRY_LATER,
        ),
        ExchangeError::TooMuch { .. }
        | ExchangeError::Malformed { .. }
        | ExchangeError::Refused => Problem::new(
            "meeting-unreadable",
            format!("{name} and this device did not understand each other: {error}."),
            "Update the program on both devices, and try again.",
        ),
    }
}

fn other_newer() -> Problem {
    Problem::new(
        "other-newer",
        "The other device has a newer version of the program.",
        UPDATE,
    )
}

fn other_older() -> Problem {
    Problem::new(
        "other-older",
        "The other device has an older version of the program.",
        "Update the program on the other device.",
    )
}
