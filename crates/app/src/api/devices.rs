//! Other devices: pairing and exchange.

use units::{DeviceId, Moment, Problem, PupilId, Role};

use super::transfer;

transfer! {
    /// The other devices.
    pub struct DeviceList {
        /// Those that belong, the tutor's first; then those that were removed.
        pub devices: Vec<DeviceRow>,
    }

    /// What another device is known to hold.
    pub struct Holding {
        /// Of the pupils that it shares.
        pub pupils: Vec<Held>,
    }

    /// What another device is known to hold of one pupil.
    #[derive(Copy, Eq)]
    pub struct Held {
        /// Which.
        pub pupil: PupilId,
        /// Pages whose picture it is known to hold.
        pub pages: u32,
        /// Pages that are here.
        pub of: u32,
    }

    /// Another device.
    pub struct DeviceRow {
        /// Its key.
        pub device: DeviceId,
        /// Its name; empty where nobody said one.
        pub name: String,
        /// Whose it is.
        pub role: Role,
        /// The pupils to which it belongs.
        pub pupils: Vec<PupilId>,
        /// When the two last met.
        pub last_met: Option<Moment>,
        /// Where it was last reached.
        pub addresses: Vec<String>,
        /// Whether it was removed.
        pub removed: bool,
    }

    /// Names a device.
    #[derive(Copy, Eq)]
    pub struct OfDevice {
        /// Which.
        pub device: DeviceId,
    }

    /// Says where a device can be reached.
    #[derive(Eq)]
    pub struct SetAddress {
        /// Which.
        pub device: DeviceId,
        /// Address and port.
        pub address: String,
    }

    /// Makes the key on paper.
    #[derive(Default, Eq)]
    pub struct MakePaperKey {
        /// The key that it is to replace, as it stands on the paper.
        pub before: Option<String>,
    }

    /// The key on paper, shown once and kept nowhere.
    #[derive(Eq)]
    pub struct PaperKey {
        /// To be written down or printed.
        pub text: String,
        /// The same as a QR picture (SVG).
        pub qr_svg: String,
    }

    /// Comes back by the key on paper.
    #[derive(Eq)]
    pub struct ReturnByPaper {
        /// The key as it stands on the paper.
        pub paper_key: String,
    }

    /// For whom a pairing is offered.
    #[derive(Copy, Eq)]
    #[serde(tag = "for", rename_all_fields = "camelCase")]
    pub enum OfferPairing {
        /// A family's device, by the tutor.
        Family {
            /// Which pupil it is to see.
            pupil: PupilId,
        },
        /// Another device of the tutor's own, by the tutor.
        OwnDevice {},
        /// The tutor's new device, by a family, where the tutor has lost all devices.
        TutorAgain {
            /// Which pupil.
            pupil: PupilId,
        },
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
        /// The text that the other device shows.
        pub code: String,
        /// The key on paper, where a tutor comes back by it.
        pub paper_key: Option<String>,
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
