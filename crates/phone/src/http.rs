//! The port: who is let in how far, and what is answered without a seal.

use std::convert::Infallible;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use http_body_util::{BodyExt, Full};
use hyper::body::{Body, Bytes, Incoming};
use hyper::header::{HOST, HeaderName, HeaderValue, ORIGIN};
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper::{HeaderMap, Method, Request, Response, StatusCode};
use hyper_util::rt::{TokioIo, TokioTimer};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{Semaphore, watch};
use tokio::task::JoinSet;

use crate::ask::Answer;
use crate::errand::Errand;
use crate::limits::{Limits, Seat};
use crate::seal::{SMALL, Text, with_photo};
use crate::visit::{Heard, Refused, State, Told, Visit};
use crate::{Clock, page, problem};

/// Largest photograph taken in.
const LARGEST_PHOTO: usize = 40 << 20;
/// How long a question's head may take.
const HEAD_WITHIN: Duration = Duration::from_secs(10);
/// How long a whole question may take …
const SMALL_WITHIN: Duration = Duration::from_secs(20);
/// … and one with a photograph: 40 MB at 2 Mbit/s.
const LARGE_WITHIN: Duration = Duration::from_secs(180);
/// Photographs on their way at once.
const PHOTOS_AT_ONCE: usize = 2;

/// What every question may need.
pub(crate) struct Site {
    /// Address and port, as a browser names them.
    host: String,
    visit: Mutex<Visit>,
    errand: Arc<Errand>,
    clock: Clock,
    limits: Limits,
    photos: Semaphore,
}

impl Site {
    pub fn new(host: String, visit: Mutex<Visit>, errand: Arc<Errand>, clock: Clock) -> Self {
        Self {
            host,
            visit,
            errand,
            clock,
            limits: Limits::default(),
            photos: Semaphore::new(PHOTOS_AT_ONCE),
        }
    }

    pub fn state(&self) -> State {
        let now = (self.clock)();
        self.visit().state(now)
    }

    pub fn pages(&self) -> u32 {
        self.errand.pages()
    }

    fn over(&self) -> bool {
        let now = (self.clock)();
        self.visit().over(now)
    }

    fn visit(&self) -> MutexGuard<'_, Visit> {
        // Every change of a visit is whole before anything in it can stumble.
        self.visit.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Serves until it is stopped or over. The port and every connection are closed when this ends.
pub(crate) async fn serve(listener: TcpListener, site: Arc<Site>, mut stop: watch::Receiver<bool>) {
    let mut connections = JoinSet::new();
    let mut tick = tokio::time::interval(Duration::from_secs(1));
    loop {
        tokio::select! {
            _ = stop.changed() => break,
            _ = tick.tick() => {
                if site.over() {
                    break;
                }
            }
            Some(_) = connections.join_next() => {}
            accepted = listener.accept() => match accepted {
                Ok((stream, from)) => {
                    if let Some(seat) = site.limits.seat(from.ip(), Instant::now()) {
                        connections.spawn(connection(stream, seat, Arc::clone(&site)));
                    }
                }
                // Too many files are open: the next second may be better.
                Err(_) => tokio::time::sleep(Duration::from_millis(200)).await,
            },
        }
    }
    drop(listener);
    connections.shutdown().await;
    site.errand.end().await;
}

async fn connection(stream: TcpStream, seat: Seat, site: Arc<Site>) {
    let answer = |request| {
        let (site, seat) = (&site, &seat);
        async move { Ok::<_, Infallible>(hardened(respond(request, seat, site).await)) }
    };
    // A connection that breaks is the browser's to open again.
    let _ = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD_WITHIN)
        .serve_connection(TokioIo::new(stream), service_fn(answer))
        .await;
}

async fn respond(
    request: Request<Incoming>,
    seat: &Seat,
    site: &Arc<Site>,
) -> Response<Full<Bytes>> {
    if !seat.may_ask(Instant::now()) {
        return bare(StatusCode::TOO_MANY_REQUESTS);
    }
    if site.over() {
        return bare(StatusCode::GONE);
    }
    if !from_our_page(request.headers(), &site.host) || request.uri().query().is_some() {
        return bare(StatusCode::FORBIDDEN);
    }
    let path = request.uri().path();
    match *request.method() {
        Method::GET => match page::get(path) {
            Some((kind, bytes)) => {
                let mut response = Response::new(Full::new(bytes));
                let kind = HeaderValue::from_static(kind);
                response
                    .headers_mut()
                    .insert(hyper::header::CONTENT_TYPE, kind);
                response
            }
            None => bare(StatusCode::NOT_FOUND),
        },
        Method::POST if path == "/sealed" => match sealed(request, seat, site).await {
            Ok(answer) => Response::new(Full::new(answer.into())),
            Err(status) => bare(status),
        },
        _ if path == "/sealed" || path == "/" => bare(StatusCode::METHOD_NOT_ALLOWED),
        _ => bare(StatusCode::NOT_FOUND),
    }
}

/// Names that were made to point here, and other pages in the same browser, are turned away.
fn from_our_page(headers: &HeaderMap, host: &str) -> bool {
    let mut hosts = headers.get_all(HOST).iter();
    let named = hosts.next().is_some_and(|named| named == host) && hosts.next().is_none();
    let origin = |origin: &HeaderValue| {
        let origin = origin
            .to_str()
            .ok()
            .and_then(|it| it.strip_prefix("http://"));
        origin == Some(host)
    };
    named && headers.get_all(ORIGIN).iter().all(origin)
}

async fn sealed(
    request: Request<Incoming>,
    seat: &Seat,
    site: &Arc<Site>,
) -> Result<Vec<u8>, StatusCode> {
    let body = request.into_body();
    let size = body
        .size_hint()
        .exact()
        .ok_or(StatusCode::LENGTH_REQUIRED)?;
    let size = usize::try_from(size).unwrap_or(usize::MAX);
    if size > with_photo(LARGEST_PHOTO) {
        return Err(StatusCode::PAYLOAD_TOO_LARGE);
    }
    let large = size > SMALL;
    if large && !site.visit().is_at(seat.from()) {
        return Err(StatusCode::FORBIDDEN);
    }
    // Held until the photograph has been looked at, so that memory for two is all that it can take.
    let _place = match large {
        true => Some(
            site.photos
                .try_acquire()
                .map_err(|_| StatusCode::SERVICE_UNAVAILABLE)?,
        ),
        false => None,
    };
    let within = if large { LARGE_WITHIN } else { SMALL_WITHIN };
    let body = tokio::time::timeout(within, body.collect()).await;
    let body = body.map_err(|_| StatusCode::REQUEST_TIMEOUT)?;
    let message = body.map_err(|_| StatusCode::BAD_REQUEST)?.to_bytes();

    let (from, hearing) = (seat.from(), Arc::clone(site));
    let heard = tokio::task::spawn_blocking(move || {
        let now = (hearing.clock)();
        hearing.visit().hear(message.into(), from, now)
    });
    let heard = heard.await.map_err(|_| StatusCode::INTERNAL_SERVER_ERROR)?;
    let Heard { told, back } = heard.map_err(status)?;
    let (answer, picture) = answer(told, site).await;
    let text = Text {
        json: serde_json::to_vec(&answer)
            .map_err(|_| StatusCode::INTERNAL_SERVER_ERROR)?
            .into(),
        picture,
    };
    back.seal(&text)
        .map_err(|_| StatusCode::INTERNAL_SERVER_ERROR)
}

async fn answer(told: Told, site: &Arc<Site>) -> (Answer, Bytes) {
    let done = match told {
        Told::NotAllowed => Err(problem::not_allowed()),
        Told::Greeted(greeted) => greeted.and_then(|greeted| {
            let greeted = serde_json::to_value(greeted).map_err(|_| problem::broke_off())?;
            Ok((greeted, Bytes::new()))
        }),
        Told::Asked(ask, text) => {
            // What was begun is brought to its end though the phone may have gone: a page that is kept
            // halfway is asked for again.
            let errand = Arc::clone(&site.errand);
            let run = tokio::spawn(async move { errand.run(ask, text.picture).await });
            run.await.unwrap_or_else(|_| Err(problem::broke_off()))
        }
    };
    let now = (site.clock)();
    let pulse = site.visit().pulse(now);
    match done {
        Ok((done, picture)) => {
            let done = Some(done);
            (
                Answer {
                    pulse,
                    done,
                    problem: None,
                },
                picture,
            )
        }
        Err(problem) => {
            let problem = Some(problem);
            (
                Answer {
                    pulse,
                    done: None,
                    problem,
                },
                Bytes::new(),
            )
        }
    }
}

fn status(refused: Refused) -> StatusCode {
    match refused {
        Refused::Malformed => StatusCode::BAD_REQUEST,
        Refused::WrongKey => StatusCode::FORBIDDEN,
        Refused::Replayed => StatusCode::CONFLICT,
        Refused::Over => StatusCode::GONE,
    }
}

fn bare(status: StatusCode) -> Response<Full<Bytes>> {
    let mut response = Response::new(Full::default());
    *response.status_mut() = status;
    response
}

fn hardened(mut response: Response<Full<Bytes>>) -> Response<Full<Bytes>> {
    const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src blob: data:; \
        connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
    for (name, value) in [
        ("content-security-policy", POLICY),
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "no-referrer"),
        ("cross-origin-resource-policy", "same-origin"),
        ("cache-control", "no-store"),
    ] {
        let name = HeaderName::from_static(name);
        response
            .headers_mut()
            .insert(name, HeaderValue::from_static(value));
    }
    response
}
