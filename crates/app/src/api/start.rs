//! First start and the state of this device.

use units::{DeviceId, Role};

use super::transfer;

transfer! {
    /// What this device is.
    pub struct Overview {
        /// Set once at first start; `None` until then.
        pub device: Option<ThisDevice>,
        /// Whether other devices on the network may reach this one.
        pub network: bool,
        /// The relay that carries meetings where there is no direct way, if one is named.
        pub relay: Option<String>,
        /// Where this device can be reached now, to be typed on another; empty while the network is off.
        pub addresses: Vec<String>,
        /// Who opens this device's data.
        pub opened_by: OpenedBy,
        /// Whether the tutor has a key on paper; `None` on a parent's device.
        pub paper_key: Option<bool>,
        /// Version of the program.
        pub version: String,
    }

    /// Who opens this device's data.
    #[derive(Copy, Eq)]
    pub enum OpenedBy {
        /// Whoever is logged in to the system: its keyring holds the key.
        Keyring,
        /// Whoever knows the passphrase.
        Passphrase,
        /// A key file.
        KeyFile,
    }

    /// This device.
    pub struct ThisDevice {
        /// Its key.
        pub id: DeviceId,
        /// Whose it is.
        pub role: Role,
        /// The name that the other side sees.
        pub name: String,
    }

    /// Settles at first start whose device this is.
    pub struct Settle {
        /// Whose.
        pub role: Role,
        /// The name that the other side sees, 1 to 60 characters.
        pub name: String,
    }

    /// Switches meetings over the network on or off.
    pub struct SetNetwork {
        /// On or off.
        pub on: bool,
        /// The relay's address (`https://…`), or `None` for none; left as it is where the network is
        /// switched off.
        pub relay: Option<String>,
    }
}
