//! The page itself, held in the program: one document with its script and style.

use hyper::body::Bytes;

#[derive(rust_embed::RustEmbed)]
#[folder = "../../ui/dist/phone"]
#[allow_missing = true]
struct Dist;

/// What the page is called where it is built.
const DOCUMENT: &str = "phone.html";

const NOT_BUILT: &str = "<!doctype html><html lang=en><title>Pothook</title><p>This page was not built into \
     the program: run <code>npm ci</code> and <code>npm run build</code> in <code>ui</code>, then build again.";

/// The bytes at a path and their media type; `None` for all that the page does not name.
pub(crate) fn get(path: &str) -> Option<(&'static str, Bytes)> {
    if path == "/" {
        let document = Dist::get(DOCUMENT).map_or_else(
            || Bytes::from_static(NOT_BUILT.as_bytes()),
            |file| file.data.into_owned().into(),
        );
        return Some(("text/html; charset=utf-8", document));
    }
    let name = path.strip_prefix('/')?;
    let inside = name.strip_prefix("assets/")?;
    let kind = match inside.rsplit_once('.')?.1 {
        "js" => "text/javascript; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        _ => return None,
    };
    let file = Dist::get(name)?;
    Some((kind, file.data.into_owned().into()))
}
