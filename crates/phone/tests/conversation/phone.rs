//! A phone, written from the format's description alone.

use base64::Engine;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;
use ring::aead::{Aad, CHACHA20_POLY1305, LessSafeKey, Nonce, UnboundKey};
use serde_json::{Value, json};

use crate::wire::{self, Answer};

const STEP: usize = 65_536;

/// What a sealed answer holds.
#[derive(Debug)]
pub struct Opened {
    pub json: Value,
    pub picture: Vec<u8>,
}

/// One phone.
pub struct Phone {
    host: String,
    id: String,
    code: [u8; 32],
    visit: Option<[u8; 32]>,
    number: u32,
    wire: Vec<u8>,
    questions: Vec<Vec<u8>>,
    sizes: Vec<(usize, usize)>,
}

impl Phone {
    pub fn scans(url: &str) -> Self {
        let (_, key) = url.split_once("/#").expect("a key behind the #");
        Self {
            host: wire::host(url),
            id: random::<16>()
                .iter()
                .map(|byte| format!("{byte:02x}"))
                .collect(),
            code: BASE64_URL_SAFE_NO_PAD
                .decode(key)
                .unwrap()
                .try_into()
                .unwrap(),
            visit: None,
            number: 0,
            wire: Vec::new(),
            questions: Vec::new(),
            sizes: Vec::new(),
        }
    }

    /// Greets; it must be let in.
    pub fn greets(&mut self) {
        let greeted = self.greeted().unwrap();
        let key = greeted["done"]["key"].as_str().expect("a key").to_owned();
        self.visit = Some(
            BASE64_URL_SAFE_NO_PAD
                .decode(key)
                .unwrap()
                .try_into()
                .unwrap(),
        );
    }

    /// Greets; gives the answer or the status without one.
    pub fn greeted(&mut self) -> Result<Value, u16> {
        self.under_code("greet", json!({"phone": self.id}))
    }

    pub fn under_code(&mut self, ask: &str, rest: Value) -> Result<Value, u16> {
        let visit = self.visit.take();
        let told = self.ask(ask, rest, b"");
        self.visit = visit;
        told.map(|opened| opened.json)
    }

    /// Asks, and what is asked must come about.
    pub fn done(&mut self, ask: &str, rest: Value) -> Value {
        let told = self.ask(ask, rest, b"").unwrap().json;
        assert!(told["problem"].is_null(), "{ask}: {told}");
        told["done"].clone()
    }

    pub fn photographs(&mut self, task: &Value, photo: &[u8]) -> (Value, Vec<u8>) {
        let told = self.ask("photo", json!({"task": task}), photo).unwrap();
        assert!(told.json["problem"].is_null(), "{}", told.json);
        (told.json["done"].clone(), told.picture)
    }

    pub fn ask(&mut self, ask: &str, rest: Value, picture: &[u8]) -> Result<Opened, u16> {
        let question = self.sealed(ask, rest, picture);
        let answer = self.sends_again(&question);
        if answer.status != 200 {
            return Err(answer.status);
        }
        self.wire.extend_from_slice(&answer.bytes);
        self.sizes.push((question.len(), answer.body.len()));
        let opened = self
            .opens(&question, &answer.body)
            .expect("an answer that opens");
        self.questions.push(question);
        Ok(opened)
    }

    pub fn sealed(&mut self, ask: &str, rest: Value, picture: &[u8]) -> Vec<u8> {
        self.number += 1;
        let mut json = rest;
        json["ask"] = ask.into();
        let json = serde_json::to_vec(&json).unwrap();
        let mut text = (json.len() as u32).to_be_bytes().to_vec();
        text.extend((picture.len() as u32).to_be_bytes());
        text.extend(&json);
        text.extend(picture);
        text.resize(text.len().div_ceil(STEP) * STEP, 0);

        let mut question = vec![u8::from(self.visit.is_some())];
        question.extend(self.number.to_be_bytes());
        let nonce = random::<24>();
        let bound = [b"pothook phone 1\0", question.as_slice()].concat();
        xchacha(
            self.visit.as_ref().unwrap_or(&self.code),
            &nonce,
            |key, nonce| {
                key.seal_in_place_append_tag(nonce, Aad::from(&bound), &mut text)
                    .unwrap();
            },
        );
        question.extend(nonce);
        question.extend(text);
        question
    }

    /// Sends bytes as they are.
    pub fn sends_again(&self, question: &[u8]) -> Answer {
        let origin = format!("http://{}", self.host);
        let headers = [("Host", self.host.as_str()), ("Origin", &origin)];
        wire::send(&self.host, "POST /sealed HTTP/1.1", &headers, question)
    }

    pub fn opens(&self, question: &[u8], answer: &[u8]) -> Option<Opened> {
        let key = if question[0] == 1 {
            self.visit.as_ref()?
        } else {
            &self.code
        };
        let (nonce, sealed) = answer.split_at_checked(24)?;
        let bound = [b"pothook phone 1\x01", &question[..29]].concat();
        let mut text = sealed.to_vec();
        let opened = xchacha(key, nonce.try_into().ok()?, |key, nonce| {
            key.open_in_place(nonce, Aad::from(&bound), &mut text)
                .ok()
                .map(|text| text.to_vec())
        })?;
        let length =
            |at: usize| u32::from_be_bytes(opened[at..at + 4].try_into().unwrap()) as usize;
        let (json, picture) = opened[8..8 + length(0) + length(4)].split_at(length(0));
        Some(Opened {
            json: serde_json::from_slice(json).unwrap(),
            picture: picture.to_vec(),
        })
    }

    /// All that went over the wire, both ways, in conversations that were answered.
    pub fn wire(&self) -> &[u8] {
        &self.wire
    }

    pub fn questions(&self) -> Vec<Vec<u8>> {
        self.questions.clone()
    }

    /// Bytes of every question and its answer.
    pub fn sizes(&self) -> &[(usize, usize)] {
        &self.sizes
    }

    pub fn code_in_text(&self) -> String {
        BASE64_URL_SAFE_NO_PAD.encode(self.code)
    }
}

fn random<const N: usize>() -> [u8; N] {
    app::random().unwrap()
}

/// XChaCha20-Poly1305 from ChaCha20-Poly1305 (draft-irtf-cfrg-xchacha-03, section 2.3).
fn xchacha<T>(key: &[u8; 32], nonce: &[u8; 24], work: impl FnOnce(&LessSafeKey, Nonce) -> T) -> T {
    let (first, rest) = nonce.split_at(16);
    let subkey = hchacha(key, first.try_into().unwrap());
    let mut short = [0; 12];
    short[4..].copy_from_slice(rest);
    let key = LessSafeKey::new(UnboundKey::new(&CHACHA20_POLY1305, &subkey).unwrap());
    work(&key, Nonce::assume_unique_for_key(short))
}

/// HChaCha20 (draft-irtf-cfrg-xchacha-03, section 2.2).
fn hchacha(key: &[u8; 32], nonce: [u8; 16]) -> [u8; 32] {
    let word = |bytes: &[u8]| u32::from_le_bytes(bytes.try_into().unwrap());
    let constants = *b"expand 32-byte k";
    let words = constants
        .chunks(4)
        .chain(key.chunks(4))
        .chain(nonce.chunks(4))
        .map(word);
    let mut state: [u32; 16] = words.collect::<Vec<_>>().try_into().unwrap();
    for _ in 0..10 {
        for [a, b, c, d] in [
            [0, 4, 8, 12],
            [1, 5, 9, 13],
            [2, 6, 10, 14],
            [3, 7, 11, 15],
            [0, 5, 10, 15],
            [1, 6, 11, 12],
            [2, 7, 8, 13],
            [3, 4, 9, 14],
        ] {
            for (x, y, z, turn) in [(a, b, d, 16), (c, d, b, 12), (a, b, d, 8), (c, d, b, 7)] {
                state[x] = state[x].wrapping_add(state[y]);
                state[z] = (state[z] ^ state[x]).rotate_left(turn);
            }
        }
    }
    let ends = [&state[..4], &state[12..]].concat();
    let bytes: Vec<u8> = ends.iter().flat_map(|word| word.to_le_bytes()).collect();
    bytes.try_into().unwrap()
}

/// The worked example of draft-irtf-cfrg-xchacha-03, section 2.2.1.
#[test]
fn the_published_example_of_hchacha_comes_out() {
    let key: [u8; 32] = core::array::from_fn(|at| at as u8);
    let nonce = [
        0x00, 0x00, 0x00, 0x09, 0x00, 0x00, 0x00, 0x4a, 0x00, 0x00, 0x00, 0x00, 0x31, 0x41, 0x59,
        0x27,
    ];
    let wanted = [
        0x82, 0x41, 0x3b, 0x42, 0x27, 0xb2, 0x7b, 0xfe, 0xd3, 0x0e, 0x42, 0x50, 0x8a, 0x87, 0x7d,
        0x73, 0xa0, 0xf9, 0xe4, 0xd5, 0x8a, 0x74, 0xa8, 0x53, 0xc1, 0x2e, 0xc4, 0x13, 0x26, 0xd3,
        0xec, 0xdc,
    ];
    assert_eq!(hchacha(&key, nonce), wanted);
}
