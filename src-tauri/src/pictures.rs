//! Pictures for the screen, under the scheme `pothook:`.

use app::App;
use app::api::Crop;
use app::units::Problem;
use tauri::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE};
use tauri::http::{Response, StatusCode};

/// The picture at `/blob/ID.jpg`, `/thumb/ID.jpg`, `/crop/ID/X-Y-WIDTH-HEIGHT.jpg`, `/staged/HANDLE.jpg`,
/// `/photo/HANDLE.jpg` or, small, `/photo/HANDLE/small.jpg`.
pub(crate) fn answer(app: Option<&App>, path: &str) -> Response<Vec<u8>> {
    let path = String::from_utf8(percent_decoded(path)).unwrap_or_default();
    let parts: Vec<&str> = path.trim_start_matches('/').split('/').collect();
    if let ["export", name] = parts[..] {
        return export(app, name);
    }
    let found = app.and_then(|app| match parts[..] {
        ["blob", name] => {
            let id = name.trim_end_matches(".jpg").parse().ok()?;
            app.picture(id).ok().flatten()
        }
        ["crop", id, name] => app.crop(Crop::from_address(id, name)?).ok().flatten(),
        ["thumb", name] => {
            let id = name.trim_end_matches(".jpg").parse().ok()?;
            app.thumb(id).ok().flatten()
        }
        ["photo", handle, "small.jpg"] => app.small_staged_photo(handle),
        ["photo", name] => app.staged_photo(name.trim_end_matches(".jpg")),
        ["staged", name] => app.staged_picture(name.trim_end_matches(".jpg")),
        _ => None,
    });
    let (status, bytes) = match found {
        Some(bytes) => (StatusCode::OK, bytes),
        None => (StatusCode::NOT_FOUND, Vec::new()),
    };
    Response::builder()
        .status(status)
        .header(CONTENT_TYPE, "image/jpeg")
        .header(CACHE_CONTROL, "no-store")
        .body(bytes)
        .expect("fixed headers always fit")
}

/// All of a pupil as a zip file, at `/export/PUPIL.zip`.
fn export(app: Option<&App>, name: &str) -> Response<Vec<u8>> {
    let pupil = name.strip_suffix(".zip").and_then(|id| id.parse().ok());
    let made = app.zip(pupil).map(|(app, pupil)| {
        let mut file = std::io::Cursor::new(Vec::new());
        app.export_pupil(pupil, &mut file)?;
        Ok(file.into_inner())
    });
    // What is no copy is not offered as a file: nobody is to take it for one.
    let answer = Response::builder().header(CACHE_CONTROL, "no-store");
    let answer = match made {
        Some(Ok(bytes)) => answer
            .header(CONTENT_TYPE, "application/zip")
            .header(
                CONTENT_DISPOSITION,
                format!("attachment; filename=\"pothook-{name}\""),
            )
            .body(bytes),
        Some(Err(problem)) => answer
            .status(StatusCode::UNPROCESSABLE_ENTITY)
            .header(CONTENT_TYPE, "text/plain; charset=utf-8")
            .body(told(&problem)),
        None => answer.status(StatusCode::NOT_FOUND).body(Vec::new()),
    };
    answer.unwrap_or_default()
}

/// A problem as a text to read.
fn told(problem: &Problem) -> Vec<u8> {
    format!("{} {}", problem.message, problem.what_to_do).into_bytes()
}

/// Undoes percent-encoding (RFC 3986 section 2.1); a broken escape stays as it is.
pub(crate) fn percent_decoded(text: &str) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.as_bytes();
    while let [first, tail @ ..] = rest {
        let digit = |at: usize| tail.get(at).and_then(|byte| (*byte as char).to_digit(16));
        match (*first == b'%', digit(0), digit(1)) {
            (true, Some(high), Some(low)) => {
                bytes.push((high * 16 + low) as u8);
                rest = &tail[2..];
            }
            _ => {
                bytes.push(*first);
                rest = tail;
            }
        }
    }
    bytes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percent_encoding_is_undone() {
        assert_eq!(percent_decoded("a%20b%C3%A9"), "a b\u{e9}".as_bytes());
        assert_eq!(percent_decoded("50%"), b"50%");
        assert_eq!(percent_decoded("%zz"), b"%zz");
    }

    #[test]
    fn without_a_data_folder_there_are_no_pictures() {
        for path in [
            "/blob/00.jpg",
            "/crop/00/1-2-3-4.jpg",
            "/staged/00.jpg",
            "/",
            "",
        ] {
            assert_eq!(answer(None, path).status(), StatusCode::NOT_FOUND);
        }
    }
}
