//! What the screen of this computer shows of it.

use std::net::IpAddr;

use app::units::{Moment, PupilId};
use serde::{Deserialize, Serialize};

/// The shape of what crosses to a screen: plain data, camelCase on the wire.
macro_rules! plain {
    ($($(#[$meta:meta])* pub $kind:ident $name:ident $body:tt)*) => {
        $(
            #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
            #[cfg_attr(test, derive(ts_rs::TS))]
            #[serde(rename_all = "camelCase")]
            $(#[$meta])*
            pub $kind $name $body
        )*
    };
}
pub(crate) use plain;

plain! {
    /// An address of this computer at which a phone can reach it.
    #[derive(Eq)]
    pub struct Reachable {
        /// The address.
        pub address: IpAddr,
        /// What the system calls the network card.
        pub network: String,
    }

    /// All that a screen needs to offer it.
    pub struct Standing {
        /// Addresses on private networks; the one with the way to the internet first.
        pub addresses: Vec<Reachable>,
        /// What is served now, or was last.
        pub open: Option<Shown>,
    }

    /// One page served to one phone.
    pub struct Shown {
        /// For whom.
        pub pupil: PupilId,
        /// Where the phone goes; it works once.
        pub url: String,
        /// The same as a QR picture (SVG).
        pub qr_svg: String,
        /// When it ends if nothing is asked for until then.
        pub expires_at: Moment,
        /// How far it is.
        pub stage: Stage,
        /// Why it ended; only where it has.
        pub ended: Option<Ended>,
        /// Pages kept.
        pub pages: u32,
        /// How often another phone came with the same code.
        pub turned_away: u32,
    }

    /// How far it is.
    #[derive(Copy, Eq)]
    pub enum Stage {
        /// No phone has come yet.
        Waiting,
        /// A phone has.
        InUse,
        /// It is over.
        Ended,
    }

    /// Why it ended.
    #[derive(Copy, Eq)]
    pub enum Ended {
        /// Its time was up.
        Expired,
        /// Too many questions came that the key does not open.
        WrongKeys,
    }
}
