//! One change with its place and its author's signature.

use ed25519_dalek::{Signature, VerifyingKey};

use crate::{DecodeRefused, DocId, MAX_CHANGE_BYTES, Signer};

/// Version of the envelope: of the signed message and of the encoding. It stays as it is, so that every
/// version can keep, check and pass on what a newer one wrote.
const PROTOCOL: u8 = 2;
/// Keeps a signature made here from meaning anything elsewhere.
const DOMAIN: &[u8] = b"pothook/casefile/signed-change";
const HEAD_BYTES: usize = 1 + DocId::BYTES + 8 + 1 + 64;

/// A change of one document, signed by its author.
///
/// The signature covers the protocol version, the document (pupil, book, founding, author), the
/// sequence number, the format and the BLAKE3 hash of the bytes: it holds in no other place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignedChange {
    /// The document.
    pub doc: DocId,
    /// The author's own count, from 1, without gaps.
    pub seq: u64,
    /// What the bytes are: [`SignedChange::FORMAT`], or something that only a newer version reads.
    pub format: u8,
    /// The Automerge change, uncompressed; an entry, in a log.
    pub bytes: Vec<u8>,
    /// Ed25519 signature.
    pub signature: [u8; 64],
}

impl SignedChange {
    /// The format of bytes that this version writes and reads.
    pub const FORMAT: u8 = 1;

    pub(crate) fn sign(signer: &Signer, doc: DocId, seq: u64, bytes: Vec<u8>) -> Self {
        let format = Self::FORMAT;
        let signature = signer.sign(&message(&doc, seq, format, &bytes));
        Self {
            doc,
            seq,
            format,
            bytes,
            signature,
        }
    }

    /// Whether the author signed exactly this.
    pub fn verify(&self) -> bool {
        let message = message(&self.doc, self.seq, self.format, &self.bytes);
        VerifyingKey::from_bytes(&self.doc.author.0).is_ok_and(|key| {
            key.verify_strict(&message, &Signature::from_bytes(&self.signature))
                .is_ok()
        })
    }

    /// Version, document, sequence number (little-endian), format, signature, change.
    pub fn encode(&self) -> Vec<u8> {
        let mut bytes = Vec::with_capacity(HEAD_BYTES + self.bytes.len());
        bytes.push(PROTOCOL);
        bytes.extend(self.doc.encode());
        bytes.extend(self.seq.to_le_bytes());
        bytes.push(self.format);
        bytes.extend(self.signature);
        bytes.extend(&self.bytes);
        bytes
    }

    /// The change of [`SignedChange::encode`]'s bytes. The signature is not looked at.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeRefused> {
        match bytes.first() {
            None => return Err(DecodeRefused::Length),
            Some(&PROTOCOL) => {}
            Some(&version) => return Err(DecodeRefused::UnknownVersion(version)),
        }
        if bytes.len() < HEAD_BYTES {
            return Err(DecodeRefused::Length);
        }
        if bytes.len() > HEAD_BYTES + MAX_CHANGE_BYTES {
            return Err(DecodeRefused::TooLarge);
        }
        let (doc, rest) = bytes[1..].split_at(DocId::BYTES);
        let (seq, rest) = rest.split_at(8);
        let (format, rest) = rest.split_at(1);
        let (signature, change) = rest.split_at(64);
        Ok(Self {
            doc: DocId::decode(doc)?,
            seq: u64::from_le_bytes(seq.try_into().map_err(|_| DecodeRefused::Length)?),
            format: format[0],
            bytes: change.to_vec(),
            signature: signature.try_into().map_err(|_| DecodeRefused::Length)?,
        })
    }
}

fn message(doc: &DocId, seq: u64, format: u8, bytes: &[u8]) -> Vec<u8> {
    let mut message = DOMAIN.to_vec();
    message.push(PROTOCOL);
    message.extend(doc.encode());
    message.extend(seq.to_le_bytes());
    message.push(format);
    message.extend(blake3::hash(bytes).as_bytes());
    message
}
