//! What may go wrong here, in plain words.

use std::net::IpAddr;

use app::units::Problem;

pub(crate) fn no_network() -> Problem {
    Problem::new(
        "no-private-network",
        "This computer is on no home network at the moment.",
        "Connect it to the Wi-Fi that the phone is on, and try again.",
    )
}

pub(crate) fn not_one_address() -> Problem {
    Problem::new(
        "not-one-address",
        "This is not one address of this computer.",
        "Choose one of the addresses that are offered.",
    )
}

pub(crate) fn address_unusable(address: IpAddr, error: &std::io::Error) -> Problem {
    Problem::new(
        "address-unusable",
        format!("The address {address} cannot be used ({error})."),
        "Choose another address of this computer, or connect it to the network again.",
    )
}

pub(crate) fn no_sheet() -> Problem {
    Problem::new(
        "no-page-found",
        "No whole sheet of paper was found in this picture.",
        "Lay the page on a plain, darker surface with all four corners in the picture, and take it \
         again.",
    )
}

pub(crate) fn no_picture() -> Problem {
    Problem::new(
        "no-picture",
        "The address is too long for a picture.",
        "Type the address on the phone instead.",
    )
}

pub(crate) fn code_used() -> Problem {
    Problem::new(
        "code-used",
        "Another phone has already used this code.",
        "Ask for a new one on the computer. If nobody here used it, press Stop there first.",
    )
}

pub(crate) fn not_allowed() -> Problem {
    Problem::new(
        "not-allowed",
        "This page may not ask for that.",
        "Reload the page. If it stays so, show a new code on the computer.",
    )
}

pub(crate) fn not_a_task() -> Problem {
    Problem::new(
        "not-this-week",
        "This task is not one of this week's.",
        "Reload the page, and choose a task that it shows.",
    )
}

/// In the place of what `app` says, which names other pupils too.
pub(crate) fn enough_waiting() -> Problem {
    Problem::new(
        "enough-waiting",
        "As many photographs wait on the computer already as may.",
        "Keep one of them there or let it go first, and take this one again.",
    )
}

pub(crate) fn enough_pages() -> Problem {
    Problem::new(
        "enough-pages",
        "This phone has kept as many pages as one code allows.",
        "Show a new code on the computer to add more.",
    )
}

pub(crate) fn broke_off() -> Problem {
    Problem::new(
        "broke-off",
        "The program stumbled over this one and could not finish it.",
        "Nothing that was kept is lost. Try again, or take another photograph.",
    )
}
