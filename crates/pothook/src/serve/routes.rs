//! What can be asked at the local web address.

use std::convert::Infallible;

use app::api::{Crop, TakenPhoto};
use app::units::{BlobId, Problem};
use axum::body::Bytes;
use axum::extract::rejection::{BytesRejection, JsonRejection};
use axum::extract::{DefaultBodyLimit, Path, Query, State};
use axum::http::StatusCode;
use axum::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, SET_COOKIE};
use axum::response::sse::{Event as ServerEvent, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Json, Router, middleware};
use serde::Deserialize;
use serde_json::Value;
use tokio_stream::wrappers::BroadcastStream;
use tokio_stream::{Stream, StreamExt};

use super::{Site, assets, guard};

/// Largest photograph taken in.
const LARGEST_PHOTO: usize = 40 << 20;
/// Largest request of any other kind; a long pen stroke takes about 200 KB.
const LARGEST_CALL: usize = 2 << 20;

/// Largest carry file with what base64 and JSON add to it.
const LARGEST_CARRY: usize = 90 << 20;

pub(crate) fn router(site: Site) -> Router {
    let photo = post(photo).layer(DefaultBodyLimit::max(LARGEST_PHOTO));
    let carry = post(open_carry).layer(DefaultBodyLimit::max(LARGEST_CARRY));
    Router::new()
        .route("/session", post(session))
        .route("/call/{verb}", post(call))
        .route("/call/open_carry", carry)
        .route("/export/{name}", get(export))
        .route("/photo", photo)
        .route("/blob/{name}", get(blob))
        .route("/thumb/{name}", get(thumb))
        .route("/photo/{name}", get(staged_photo))
        .route("/photo/{name}/small.jpg", get(small_staged_photo))
        .route("/crop/{blob}/{name}", get(crop))
        .route("/staged/{name}", get(staged))
        .route("/events", get(events))
        .merge(crate::phone::routes(site.app.clone()))
        .fallback(assets::get)
        .layer(DefaultBodyLimit::max(LARGEST_CALL))
        .layer(middleware::from_fn_with_state(site.clone(), guard::check))
        .with_state(site)
}

#[derive(Deserialize)]
struct Knock {
    secret: String,
}

async fn session(State(site): State<Site>, body: Result<Json<Knock>, JsonRejection>) -> Response {
    match body
        .ok()
        .and_then(|Json(knock)| site.door.admit(&knock.secret))
    {
        Some(cookie) => ([(SET_COOKIE, cookie)], StatusCode::NO_CONTENT).into_response(),
        None => guard::no_session(),
    }
}

async fn open_carry(site: State<Site>, body: Result<Json<Value>, JsonRejection>) -> Response {
    call(site, Path("open_carry".to_owned()), body).await
}

/// All of a pupil as a file to be saved.
async fn export(State(site): State<Site>, Path(name): Path<String>) -> Response {
    let Some(pupil) = name.strip_suffix(".zip").and_then(|id| id.parse().ok()) else {
        return StatusCode::NOT_FOUND.into_response();
    };
    match site.app.export_off_thread(pupil).await {
        Ok(bytes) => {
            let saved = format!("attachment; filename=\"pothook-{pupil}.zip\"");
            let headers = [
                (CONTENT_TYPE, "application/zip".to_owned()),
                (CONTENT_DISPOSITION, saved),
                (CACHE_CONTROL, "no-store".to_owned()),
            ];
            (headers, bytes).into_response()
        }
        Err(problem) => refused(StatusCode::UNPROCESSABLE_ENTITY, &problem),
    }
}

async fn call(
    State(site): State<Site>,
    Path(verb): Path<String>,
    body: Result<Json<Value>, JsonRejection>,
) -> Response {
    let Ok(Json(input)) = body else {
        return refused(StatusCode::BAD_REQUEST, &unreadable());
    };
    match site.app.call(&verb, input).await {
        Ok(output) => Json(output).into_response(),
        Err(problem) => refused(StatusCode::UNPROCESSABLE_ENTITY, &problem),
    }
}

#[derive(Deserialize)]
struct About {
    about: String,
}

async fn photo(
    State(site): State<Site>,
    Query(About { about }): Query<About>,
    body: Result<Bytes, BytesRejection>,
) -> Response {
    let Ok(about) = serde_json::from_str::<TakenPhoto>(&about) else {
        return refused(StatusCode::BAD_REQUEST, &unreadable());
    };
    let Ok(bytes) = body else {
        let problem = Problem::new(
            "photo-too-large",
            "This file is larger than any photograph of a page.",
            "Choose the photograph itself (JPEG, PNG or WebP).",
        );
        return refused(StatusCode::PAYLOAD_TOO_LARGE, &problem);
    };
    match site.app.stage_photo_off_thread(bytes, about).await {
        Ok(staged) => Json(staged).into_response(),
        Err(problem) => refused(StatusCode::UNPROCESSABLE_ENTITY, &problem),
    }
}

async fn blob(State(site): State<Site>, Path(name): Path<String>) -> Response {
    let id = name
        .strip_suffix(".jpg")
        .and_then(|id| id.parse::<BlobId>().ok());
    let picture = id.and_then(|id| site.app.picture(id).ok().flatten());
    jpeg(picture)
}

async fn thumb(State(site): State<Site>, Path(name): Path<String>) -> Response {
    let id = name.strip_suffix(".jpg").and_then(|id| id.parse().ok());
    let made = match id {
        Some(id) => site.app.thumb_off_thread(id).await.ok().flatten(),
        None => None,
    };
    jpeg(made)
}

async fn staged_photo(State(site): State<Site>, Path(name): Path<String>) -> Response {
    let made = match name.strip_suffix(".jpg") {
        Some(handle) => site.app.staged_photo_off_thread(handle.to_owned()).await,
        None => None,
    };
    jpeg(made)
}

async fn small_staged_photo(State(site): State<Site>, Path(handle): Path<String>) -> Response {
    let made = site.app.small_staged_photo_off_thread(handle).await;
    jpeg(made)
}

async fn crop(State(site): State<Site>, Path((blob, name)): Path<(String, String)>) -> Response {
    let picture = match Crop::from_address(&blob, &name) {
        Some(crop) => site.app.crop_off_thread(crop).await.ok().flatten(),
        None => None,
    };
    jpeg(picture)
}

async fn staged(State(site): State<Site>, Path(name): Path<String>) -> Response {
    let made = match name.strip_suffix(".jpg") {
        Some(handle) => site.app.staged_picture_off_thread(handle.to_owned()).await,
        None => None,
    };
    jpeg(made)
}

/// A browser keeps none of it: it would lie on the disk unencrypted, and be there still once it is forgotten.
fn jpeg(picture: Option<Vec<u8>>) -> Response {
    let headers = [(CONTENT_TYPE, "image/jpeg"), (CACHE_CONTROL, "no-store")];
    match picture {
        Some(bytes) => (headers, bytes).into_response(),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}

async fn events(
    State(site): State<Site>,
) -> Sse<impl Stream<Item = Result<ServerEvent, Infallible>>> {
    let events = BroadcastStream::new(site.app.events()).map(|event| {
        // A screen that fell behind asks for everything again.
        let event = event.unwrap_or(app::api::Event::Changed { pupil: None });
        Ok(ServerEvent::default().json_data(event).unwrap_or_default())
    });
    Sse::new(events).keep_alive(KeepAlive::default())
}

/// A problem as an answer.
pub(crate) fn refused(status: StatusCode, problem: &Problem) -> Response {
    (status, Json(problem)).into_response()
}

fn unreadable() -> Problem {
    Problem::new(
        "bad-input",
        "This request cannot be read.",
        "Reload the page, and try again.",
    )
}
