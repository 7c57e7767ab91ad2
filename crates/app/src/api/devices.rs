//! Other devices: pairing and exchange.

use units::{DeviceId, Moment, Problem, PupilId, Role};

use super::transfer;

transfer! {
    /// The devices that this one knows.
    pub struct DeviceList {
        /// In the order of pairing.
        pub devices: Vec<DeviceRow>,
    }

    /// A device that this one knows.
    pub struct DeviceRow {
        /// Its key.
        pub device: DeviceId,
        /// Its name.
        pub name: String,
        /// Whose it is.
        pub role: Role,
        /// The pupils that both hold.
        pub pupils: Vec<PupilId>,
        /// When the two last met.
        pub last_met: Option<Moment>,
    }

    /// What the tutor shows to the parent.
    pub struct Offered {
        /// The pairing text, to be typed or scanned.
        pub code: String,
        /// The same as a QR picture (SVG).
        pub qr_svg: String,
        /// Until when it can be used.
        pub expires_at: Moment,
    }

    /// Takes up a pairing text.
    pub struct JoinPairing {
        /// The text that the tutor's device shows.
        pub code: String,
    }

    /// Says whether both devices show the same words.
    #[derive(Copy, Eq)]
    pub struct ConfirmPairing {
        /// Whether they do.
        pub same: bool,
    }

    /// How far the pairing under way has come.
    #[serde(tag = "stage")]
    pub enum PairingState {
        /// None under way.
        Idle {},
        /// Offered; nobody has come yet.
        Waiting {
            /// What is shown.
            offered: Offered,
        },
        /// The two devices speak; people compare the words.
        Compare {
            /// The words.
            words: Vec<String>,
        },
        /// This side has confirmed, the other not yet.
        Confirmed {
            /// The words.
            words: Vec<String>,
        },
        /// Paired.
        Done {
            /// The other device.
            device: DeviceRow,
        },
        /// It came to nothing.
        Failed {
            /// Why, and what to do.
            problem: Problem,
        },
    }

    /// Meets one device, or all known ones.
    #[derive(Copy, Eq)]
    pub struct Exchange {
        /// Which; all where not said.
        pub device: Option<DeviceId>,
    }

    /// How meetings went.
    pub struct Exchanged {
        /// One a device.
        pub meetings: Vec<Meeting>,
    }

    /// How one meeting went.
    pub struct Meeting {
        /// The other device.
        pub device: DeviceId,
        /// Its name.
        pub name: String,
        /// Changes sent.
        pub sent_changes: u32,
        /// Changes received.
        pub received_changes: u32,
        /// Pictures and readings sent.
        pub sent_blobs: u32,
        /// Pictures and readings received.
        pub received_blobs: u32,
        /// Changes refused.
        pub refused_changes: u32,
        /// Why it did not come about.
        pub problem: Option<Problem>,
    }
}
