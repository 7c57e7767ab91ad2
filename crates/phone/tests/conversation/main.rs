//! Whole conversations of a phone with this computer, over a real port. The phone here shares no code with
//! the crate: its sealing is HChaCha20 written out on top of another library's ChaCha20-Poly1305.

mod ending;
mod keys;
mod phone;
mod port;
mod reach;
mod scene;
mod whole;
mod wire;
