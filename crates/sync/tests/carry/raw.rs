//! A part written and read by hand, as the module documentation of `sync::carry` says:
//! for files that no honest device makes.

use std::io::{Read, Write};

use bech32::{Bech32, Hrp};
use ed25519_dalek::{Signer, SigningKey, VerifyingKey};
use serde::Serialize;
use sync::DeviceId;

use crate::*;

pub const MAGIC: &[u8] = b"pothook/carry";

/// The fields of a head, in their order.
#[derive(Debug, Clone, Serialize)]
pub struct Head {
    pub from: [u8; 32],
    pub to: Vec<[u8; 32]>,
    pub id: [u8; 16],
    pub part: u16,
    pub of: u16,
    pub made: u64,
    pub scope: Vec<u8>,
    pub have: Vec<(Vec<u8>, u64)>,
    pub wants: Vec<[u8; 32]>,
    pub wants_more: bool,
    pub changes: Vec<u32>,
    pub blobs: Vec<([u8; 32], u32)>,
    pub pieces: Vec<Piece>,
    pub content: [u8; 32],
}

/// The fields of a piece in a head.
#[derive(Debug, Clone, Serialize)]
pub struct Piece {
    pub id: [u8; 32],
    pub length: u32,
    pub from: u32,
    pub bytes: u32,
    pub outline: Vec<u8>,
}

/// From the parent to the tutor, with nothing in it.
pub fn head() -> Head {
    Head {
        from: device(&PARENT).0,
        to: vec![device(&TUTOR).0],
        id: [0; 16],
        part: 1,
        of: 1,
        made: 0,
        scope: SCOPE.to_vec(),
        have: Vec::new(),
        wants: Vec::new(),
        wants_more: false,
        changes: Vec::new(),
        blobs: Vec::new(),
        pieces: Vec::new(),
        content: *blake3::hash(&[]).as_bytes(),
    }
}

impl Head {
    pub fn bytes(&self) -> Vec<u8> {
        postcard::to_stdvec(self).unwrap()
    }

    /// Signed by the parent, with this content behind it and its hash told.
    pub fn with(mut self, content: &[u8]) -> Vec<u8> {
        self.content = *blake3::hash(content).as_bytes();
        let mut plain = sign(&self.bytes(), &PARENT);
        plain.extend(content);
        plain
    }
}

/// All that stands before the content.
pub fn sign(head: &[u8], secret: &[u8; 32]) -> Vec<u8> {
    let mut plain = MAGIC.to_vec();
    plain.extend([0, 1]);
    plain.extend((head.len() as u32).to_be_bytes());
    plain.extend(head);
    let signature = SigningKey::from_bytes(secret).sign(&plain);
    plain.extend(signature.to_bytes());
    plain
}

fn recipient(device: DeviceId) -> age::x25519::Recipient {
    let key = VerifyingKey::from_bytes(&device.0).unwrap().to_montgomery();
    let hrp = Hrp::parse("age").unwrap();
    let text = bech32::encode::<Bech32>(hrp, key.as_bytes()).unwrap();
    text.parse().unwrap()
}

fn identity(secret: &[u8; 32]) -> age::x25519::Identity {
    let scalar = SigningKey::from_bytes(secret).to_scalar_bytes();
    let hrp = Hrp::parse("age-secret-key-").unwrap();
    let text = bech32::encode::<Bech32>(hrp, &scalar).unwrap();
    text.to_uppercase().parse().unwrap()
}

/// What anybody can do who knows the devices' names.
pub fn encrypt(plain: &[u8], to: &[DeviceId]) -> Vec<u8> {
    let keys: Vec<_> = to.iter().map(|device| recipient(*device)).collect();
    let keys = keys.iter().map(|key| key as &dyn age::Recipient);
    let encryptor = age::Encryptor::with_recipients(keys).unwrap();
    let mut stream = encryptor.wrap_output(Vec::new()).unwrap();
    stream.write_all(plain).unwrap();
    stream.finish().unwrap()
}

/// What a receiving device can do.
pub fn decrypt(file: &[u8], secret: &[u8; 32]) -> Vec<u8> {
    let key = identity(secret);
    let decryptor = age::Decryptor::new_buffered(file).unwrap();
    let mut stream = decryptor.decrypt([&key as _].into_iter()).unwrap();
    let mut plain = Vec::new();
    stream.read_to_end(&mut plain).unwrap();
    plain
}
