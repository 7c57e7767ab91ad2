//! A phone without the program: a page that this computer serves to one phone on the same Wi-Fi, for
//! one pupil and a short time. It takes a photograph in, says whether it can be read, keeps it, and
//! shows what it shows.
//!
//! **May not know:** any room but `app`; windows, the command line, any pupil but the one it is for.
//!
//! # What is served
//!
//! One address of this computer, one port that the system draws, plain HTTP/1.1. `GET /` and the script
//! and style it names hold nothing of anybody. Everything else goes through `POST /sealed`. `Host` must
//! be this address and port, and so must `Origin` where a browser sends one.
//!
//! The address is `http://ADDRESS:PORT/#KEY`: `KEY` is 32 random bytes in base64url (RFC 4648 section 5)
//! without padding. A browser never sends what stands behind the `#`.
//!
//! # A sealed message
//!
//! | bytes | of a question |
//! |---|---|
//! | 1 | under which key: 0 the code's, 1 the visit's |
//! | 4 | number, big-endian; every question of a phone has a higher one than all before |
//! | 24 | nonce, random |
//! | … | the sealed text and its tag of 16 bytes |
//!
//! An answer is a nonce of its own and the sealed text. Sealed is with XChaCha20-Poly1305
//! (draft-irtf-cfrg-xchacha-03). What is authenticated besides the text:
//!
//! - of a question: `pothook phone 1`, a byte 0, the key's byte, the number;
//! - of an answer: `pothook phone 1`, a byte 1, the key's byte, the number, the question's nonce.
//!
//! So neither can pass for the other, and an answer fits its own question only. The text is
//!
//! | bytes | |
//! |---|---|
//! | 4 | length of the JSON, big-endian |
//! | 4 | length of the picture, big-endian; 0 for none |
//! | … | JSON (an `Ask` or an `Answer`, see `ask.rs`), then the picture |
//! | … | noughts, up to a whole multiple of 64 KiB |
//!
//! What is asked stands in the JSON, so it is authenticated and not readable either.
//!
//! # One visit
//!
//! 1. The phone greets under the code's key with 16 random bytes that stand for itself. The first that
//!    does is the one phone of this code; the answer holds 32 random bytes, the visit's key. The same phone
//!    may greet again, with a higher number, and gets another key. Any other is refused, and the first one
//!    is told with its next answer.
//! 2. All else is asked under the visit's key. A number that is not higher than the last is refused.
//! 3. It ends 15 minutes after the last thing that was asked for, at most 60 after it began; when it is
//!    stopped; or after 10 questions that the key does not open. Then the port is closed.
//!
//! Refused without a sealed answer: 400 no message, 403 not opened by the key or from another page,
//! 409 a number that was there before, 410 over, 411 and 413 size, 429 too often, 503 two photographs
//! on their way already.
//!
//! # What it withstands, and what not
//!
//! Who listens learns the sizes, in steps of 64 KiB, and the times. Who alters or repeats a message is
//! refused. There is no forward secrecy: who recorded a visit and learns the code later can read it. Who
//! alters *the page* on its way to the phone can make it do anything, and nothing here stops that: hence
//! home Wi-Fi only. Who is on the network can close a visit by guessing ten times.

mod address;
mod ask;
#[cfg(test)]
mod bindings;
mod errand;
mod http;
mod limits;
mod page;
mod problem;
mod qr;
mod seal;
mod shown;
mod switch;
mod visit;

use std::net::{IpAddr, SocketAddr};
use std::sync::{Arc, Mutex};
use std::time::SystemTime;

use app::App;
use app::units::{Problem, PupilId};
use base64::Engine;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;
use serde::{Deserialize, Serialize};
use tokio::net::TcpListener;
use tokio::sync::watch;
use tokio::task::JoinHandle;

pub use address::addresses;
pub use shown::{Ended, Reachable, Shown, Stage, Standing};
pub use switch::Switch;

/// Tells the time. Handed in, so that an hour can pass in a test.
pub type Clock = Arc<dyn Fn() -> SystemTime + Send + Sync>;

/// For whom, and where.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS))]
#[serde(rename_all = "camelCase", deny_unknown_fields)]
pub struct Wanted {
    /// The one pupil.
    pub pupil: PupilId,
    /// The one address of this computer; the first of [`addresses`] where none is named.
    pub address: Option<IpAddr>,
}

/// A page that is served now. It ends when this is dropped.
pub struct Open {
    pupil: PupilId,
    url: String,
    qr_svg: String,
    site: Arc<http::Site>,
    stop: watch::Sender<bool>,
    served: JoinHandle<()>,
}

/// Begins to serve the page, within a Tokio runtime.
///
/// # Errors
/// There is no such pupil, this computer is on no private network, or the address cannot be used.
pub async fn open(app: App, wanted: Wanted) -> Result<Open, Problem> {
    open_with(app, wanted, Arc::new(SystemTime::now)).await
}

/// As [`open`], by a clock of the caller's.
///
/// # Errors
/// As [`open`].
pub async fn open_with(app: App, wanted: Wanted, clock: Clock) -> Result<Open, Problem> {
    let errand = Arc::new(errand::Errand::new(app, wanted.pupil));
    // Tells at once where there is no such pupil.
    errand.week().await?;
    let address = match wanted.address {
        Some(address) => address::one(address)?,
        None => address::usual()?,
    };
    let unusable = |error: std::io::Error| problem::address_unusable(address, &error);
    let listener = TcpListener::bind(SocketAddr::new(address, 0)).await;
    let listener = listener.map_err(unusable)?;
    let host = listener.local_addr().map_err(unusable)?.to_string();

    let key = app::random::<32>()?;
    let url = format!("http://{host}/#{}", BASE64_URL_SAFE_NO_PAD.encode(key));
    let qr_svg = qr::svg(&url)?;
    let visit = Mutex::new(visit::Visit::new(&key, clock()));
    let site = Arc::new(http::Site::new(host, visit, errand, clock));
    let (stop, stopped) = watch::channel(false);
    let served = tokio::spawn(http::serve(listener, Arc::clone(&site), stopped));
    Ok(Open {
        pupil: wanted.pupil,
        url,
        qr_svg,
        site,
        stop,
        served,
    })
}

impl Open {
    /// Where the phone goes. Whoever has it first is the one phone.
    pub fn url(&self) -> &str {
        &self.url
    }

    /// The address as a QR picture made of characters: light on dark, as terminals are.
    ///
    /// # Errors
    /// None in practice: the address always fits.
    pub fn qr_text(&self) -> Result<String, Problem> {
        qr::text(&self.url)
    }

    /// How it stands.
    pub fn shown(&self) -> Shown {
        let state = self.site.state();
        Shown {
            pupil: self.pupil,
            url: self.url.clone(),
            qr_svg: self.qr_svg.clone(),
            expires_at: state.expires_at,
            stage: state.stage,
            ended: state.ended,
            pages: self.site.pages(),
            turned_away: state.turned_away,
        }
    }

    /// Ends it; the port is closed when this returns.
    pub async fn close(self) {
        self.stop.send_replace(true);
        // A server that stumbled has closed its port all the same.
        let _ = self.served.await;
    }
}
