//! The built screens, held in the program.

use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::http::{StatusCode, Uri};
use axum::response::{Html, IntoResponse, Response};

#[derive(rust_embed::RustEmbed)]
#[folder = "../../ui/dist"]
#[allow_missing = true]
struct Dist;

/// Whether a path names part of the screens, which hold nothing of anybody.
pub(crate) fn is_asset(path: &str) -> bool {
    let name = path.trim_start_matches('/');
    name.is_empty() || name == "index.html" || Dist::get(name).is_some()
}

pub(crate) async fn get(uri: Uri) -> Response {
    let name = match uri.path().trim_start_matches('/') {
        "" => "index.html",
        name => name,
    };
    match Dist::get(name) {
        Some(file) => {
            // Built names carry a hash of their content; the page that names them does not.
            let keep = if name.starts_with("assets/") {
                "max-age=31536000"
            } else {
                "no-cache"
            };
            (
                [(CONTENT_TYPE, kind(name)), (CACHE_CONTROL, keep)],
                file.data,
            )
                .into_response()
        }
        None if name == "index.html" => Html(
            "<!doctype html><html lang=en><title>Pothook</title><p>The screens were not built \
             into this program: run <code>npm ci</code> and <code>npm run build</code> in \
             <code>ui</code>, then build again.",
        )
        .into_response(),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}

fn kind(name: &str) -> &'static str {
    match name.rsplit('.').next().unwrap_or_default() {
        "html" => "text/html; charset=utf-8",
        "js" => "text/javascript; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "svg" => "image/svg+xml",
        "png" => "image/png",
        "woff2" => "font/woff2",
        "woff" => "font/woff",
        "json" => "application/json",
        "webmanifest" => "application/manifest+json",
        "txt" => "text/plain; charset=utf-8",
        _ => "application/octet-stream",
    }
}
