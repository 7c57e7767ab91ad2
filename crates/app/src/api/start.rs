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
        /// Version of the program.
        pub version: String,
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
    }
}
