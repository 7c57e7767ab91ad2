//! A device's secret key.

use core::fmt;

use ed25519_dalek::{Signer as _, SigningKey};
use units::DeviceId;

/// The secret key of this device; its public half is the device's id.
#[derive(Clone)]
pub struct Signer(SigningKey);

impl Signer {
    /// The signer of an Ed25519 secret key of 32 random bytes.
    pub fn from_secret(secret: [u8; 32]) -> Self {
        Self(SigningKey::from_bytes(&secret))
    }

    /// The device that signs.
    pub fn device(&self) -> DeviceId {
        DeviceId(self.0.verifying_key().to_bytes())
    }

    pub(crate) fn sign(&self, message: &[u8]) -> [u8; 64] {
        self.0.sign(message).to_bytes()
    }
}

impl fmt::Debug for Signer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // The secret stays out of logs.
        write!(f, "Signer({})", self.device())
    }
}
