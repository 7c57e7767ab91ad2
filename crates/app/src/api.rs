//! The inputs and outputs of every use case: the only types that cross to a screen or a command.

mod devices;
mod forgetting;
mod home;
mod keeping;
mod letters;
mod marks;
mod measuring;
mod pages;
mod progress;
mod pupils;
mod start;
mod tasks;

pub use devices::*;
pub use forgetting::*;
pub use home::*;
pub use keeping::*;
pub use letters::*;
pub use marks::*;
pub use measuring::*;
pub use pages::*;
pub use progress::*;
pub use pupils::*;
pub use start::*;
pub use tasks::*;

/// The shape shared by all transfer types: plain data, camelCase on the wire.
macro_rules! transfer {
    ($($(#[$meta:meta])* pub $kind:ident $name:ident $body:tt)*) => {
        $(
            #[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
            #[cfg_attr(feature = "ts", derive(ts_rs::TS))]
            #[serde(rename_all = "camelCase")]
            $(#[$meta])*
            pub $kind $name $body
        )*
    };
}
pub(crate) use transfer;

transfer! {
    /// Nothing to say, or nothing to ask.
    #[derive(Default, Copy, Eq)]
    pub struct Nothing {}

    /// What a screen hears; it then asks for its view again.
    #[serde(tag = "event")]
    pub enum Event {
        /// Something of a pupil changed, here or from afar.
        Changed {
            /// Whose; `None` when the list itself changed.
            pupil: Option<units::PupilId>,
        },
        /// A picture or a whole reading arrived.
        Arrived {},
        /// A meeting under way moved on.
        #[serde(rename_all = "camelCase")]
        Moving {
            /// The other device.
            device: units::DeviceId,
            /// Bytes received.
            received: f64,
            /// Bytes received and still to come, as far as is known.
            to_receive: Option<f64>,
            /// Bytes sent.
            sent: f64,
        },
        /// The pairing under way moved on.
        Pairing {},
        /// A meeting with another device ended.
        Met {
            /// The other device.
            device: units::DeviceId,
            /// Whether it ended well.
            ok: bool,
        },
    }
}
