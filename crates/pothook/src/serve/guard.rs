//! Who may ask: only a browser on this machine that was given the secret.
//!
//! Other pages in the same browser reach loopback too: the Host check stops names that were made
//! to point here, the Origin check stops foreign pages, and the cookie is per port, since cookies
//! are not.

use app::units::Problem;
use axum::extract::{Request, State};
use axum::http::header::{CONTENT_SECURITY_POLICY, COOKIE, HOST, ORIGIN};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::Site;
use super::routes::refused;

/// The secrets of one run and the names under which it may be asked.
pub(crate) struct Door {
    secret: String,
    session: String,
    cookie: String,
    hosts: [String; 2],
}

impl Door {
    pub fn new(port: u16) -> Result<Self, Problem> {
        Ok(Self {
            secret: token()?,
            session: token()?,
            cookie: format!("pothook-{port}"),
            hosts: [format!("127.0.0.1:{port}"), format!("localhost:{port}")],
        })
    }

    pub fn secret(&self) -> &str {
        &self.secret
    }

    /// The cookie for whoever brings the secret.
    pub fn admit(&self, secret: &str) -> Option<String> {
        same(secret, &self.secret).then(|| {
            format!(
                "{}={}; Path=/; HttpOnly; SameSite=Strict",
                self.cookie, self.session
            )
        })
    }

    fn host_fits(&self, headers: &HeaderMap) -> bool {
        let host = headers.get(HOST).and_then(|host| host.to_str().ok());
        host.is_some_and(|host| self.hosts.iter().any(|known| known == host))
    }

    fn origin_fits(&self, method: &Method, headers: &HeaderMap) -> bool {
        let Some(origin) = headers.get(ORIGIN) else {
            // Browsers leave it out only where nothing is changed.
            return method == Method::GET || method == Method::HEAD;
        };
        let origin = origin
            .to_str()
            .ok()
            .and_then(|origin| origin.strip_prefix("http://"));
        origin.is_some_and(|origin| self.hosts.iter().any(|known| known == origin))
    }

    fn session_fits(&self, headers: &HeaderMap) -> bool {
        headers
            .get_all(COOKIE)
            .iter()
            .filter_map(|cookies| cookies.to_str().ok())
            .flat_map(|cookies| cookies.split(';'))
            .filter_map(|cookie| cookie.trim().split_once('='))
            .any(|(name, value)| name == self.cookie && same(value, &self.session))
    }
}

/// Lets a request pass, or answers it here.
pub(crate) async fn check(State(site): State<Site>, request: Request, next: Next) -> Response {
    let door = &site.door;
    let path = request.uri().path();
    let open = request.method() == Method::GET && super::assets::is_asset(path);
    let passed = if !door.host_fits(request.headers())
        || !door.origin_fits(request.method(), request.headers())
    {
        Err(foreign())
    } else if open || path == "/session" || door.session_fits(request.headers()) {
        Ok(())
    } else {
        Err(no_session())
    };
    let mut response = match passed {
        Ok(()) => next.run(request).await,
        Err(response) => response,
    };
    harden(response.headers_mut());
    response
}

fn harden(headers: &mut HeaderMap) {
    const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; \
        img-src 'self' data:; font-src 'self'; connect-src 'self'; manifest-src 'self'; \
        base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
    headers.insert(CONTENT_SECURITY_POLICY, HeaderValue::from_static(POLICY));
    for (name, value) in [
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "no-referrer"),
        ("cross-origin-resource-policy", "same-origin"),
        ("cross-origin-opener-policy", "same-origin"),
    ] {
        headers.insert(
            HeaderName::from_static(name),
            HeaderValue::from_static(value),
        );
    }
    headers
        .entry("cache-control")
        .or_insert(HeaderValue::from_static("no-store"));
}

fn foreign() -> Response {
    let problem = Problem::new(
        "foreign-page",
        "This request does not come from the page that this program shows.",
        "Open the address that the program printed.",
    );
    refused(StatusCode::FORBIDDEN, &problem)
}

pub(crate) fn no_session() -> Response {
    let problem = Problem::new(
        "no-session",
        "This page is no longer connected to the program.",
        "Open the address that the program printed.",
    );
    refused(StatusCode::UNAUTHORIZED, &problem).into_response()
}

/// Compares without telling by its time how much was right.
fn same(told: &str, known: &str) -> bool {
    let (told, known) = (told.as_bytes(), known.as_bytes());
    told.len() == known.len()
        && told
            .iter()
            .zip(known)
            .fold(0, |differs, (a, b)| differs | (a ^ b))
            == 0
}

fn token() -> Result<String, Problem> {
    let bytes: [u8; 24] = app::random()?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}
