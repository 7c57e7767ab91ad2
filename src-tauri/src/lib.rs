//! The window shell, for desktop and phone: it opens the data folder, hands verbs to `app` and
//! events to the screen, and shows pictures. No logic.
//!
//! **May not know:** any room but `app`.

mod data;
mod phone;
mod pictures;
mod reminder;

use std::path::Path;
use std::sync::{Mutex, PoisonError};

use app::api::{Event, Staged, TakenPhoto};
use app::units::Problem;
use app::{App, Opener, Opening};
use serde_json::Value;
use tauri::ipc::{InvokeBody, Request};
use tauri::{AppHandle, Emitter, Manager, State};
use tokio::sync::broadcast::error::RecvError;

/// The data folder once it is open. Where it cannot be opened the window says why, and every new
/// try opens it anew: the program that held it may have been closed meanwhile.
struct Opened {
    window: AppHandle,
    app: Mutex<Option<App>>,
}

impl Opened {
    fn app(&self) -> Result<App, Problem> {
        let mut slot = self.app.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(app) = &*slot {
            return Ok(app.clone());
        }
        let app = App::open_with(opening(&data::folder(&self.window)?)?)?;
        Ok(self.opened(&mut slot, app))
    }

    /// Opens a folder that a passphrase locks, or a new one with it where the system has no keyring.
    fn unlock(&self, passphrase: &str) -> Result<(), Problem> {
        let mut slot = self.app.lock().unwrap_or_else(PoisonError::into_inner);
        if slot.is_some() {
            return Ok(());
        }
        let folder = data::folder(&self.window)?;
        let new = App::opened_with(&folder)?.is_none();
        let app = App::open(&folder, app::passphrase(passphrase, new)?)?;
        self.opened(&mut slot, app);
        Ok(())
    }

    fn opened(&self, slot: &mut Option<App>, app: App) -> App {
        tauri::async_runtime::spawn(tell(self.window.clone(), app.clone()));
        tauri::async_runtime::spawn(app.clone().keep_company());
        tauri::async_runtime::spawn(reminder::keep_reminding(self.window.clone(), app.clone()));
        *slot = Some(app.clone());
        app
    }
}

/// What opens the folder without a person: a key file, or the system's keyring.
fn opening(folder: &Path) -> Result<Opening, Problem> {
    match data::key_file() {
        Some(file) => Opening::with_key_file(folder, &file),
        None => Ok(Opening::new(folder, Opener::Keyring)),
    }
}

/// Runs the window until it is closed.
///
/// # Panics
/// Where the system has no web view to draw in.
#[cfg_attr(mobile, tauri::mobile_entry_point)]
pub fn run() {
    tauri::Builder::default()
        .plugin(tauri_plugin_notification::init())
        .register_asynchronous_uri_scheme_protocol("pothook", |context, request, responder| {
            let opened = context.app_handle().state::<Opened>().app();
            let path = request.uri().path().to_owned();
            // Reading a picture from disk must not hold up the window.
            tauri::async_runtime::spawn_blocking(move || {
                responder.respond(pictures::answer(opened.ok().as_ref(), &path));
            });
        })
        .invoke_handler(tauri::generate_handler![
            call,
            stage_photo,
            unlock,
            phone::phone_state,
            phone::phone_open,
            phone::phone_close
        ])
        .setup(|tauri| {
            let opened = Opened {
                window: tauri.handle().clone(),
                app: Mutex::new(None),
            };
            // A failure is told by the first verb that the screen sends.
            let _ = opened.app();
            tauri.manage(opened);
            tauri.manage(::phone::Switch::default());
            Ok(())
        })
        .run(tauri::generate_context!())
        .expect("the system's web view opens");
}

/// Passes events on to the screen.
async fn tell(window: AppHandle, app: App) {
    let mut events = app.events();
    loop {
        // A screen that fell behind asks for everything again.
        let event = match events.recv().await {
            Ok(event) => event,
            Err(RecvError::Lagged(_)) => Event::Changed { pupil: None },
            Err(RecvError::Closed) => return,
        };
        // A window that is closing hears nothing more.
        let _ = window.emit("event", event);
    }
}

#[tauri::command]
async fn call(opened: State<'_, Opened>, verb: String, input: Value) -> Result<Value, Problem> {
    opened.app()?.call(&verb, input).await
}

#[tauri::command]
async fn unlock(opened: State<'_, Opened>, passphrase: String) -> Result<(), Problem> {
    opened.unlock(&passphrase)
}

#[tauri::command]
async fn stage_photo(opened: State<'_, Opened>, request: Request<'_>) -> Result<Staged, Problem> {
    let app = opened.app()?;
    let about = about(&request)?;
    let InvokeBody::Raw(bytes) = request.body() else {
        return Err(unreadable());
    };
    app.stage_photo_off_thread(bytes.clone(), about).await
}

/// What the photograph answers, and whose place it takes: JSON in the header `about`, percent-encoded, since headers are ASCII.
fn about(request: &Request<'_>) -> Result<TakenPhoto, Problem> {
    let header = request
        .headers()
        .get("about")
        .and_then(|about| about.to_str().ok());
    let json = header
        .map(pictures::percent_decoded)
        .ok_or_else(unreadable)?;
    serde_json::from_slice(&json).map_err(|_| unreadable())
}

fn unreadable() -> Problem {
    Problem::new(
        "bad-input",
        "This photograph could not be taken in.",
        "Choose it again, or take another one.",
    )
}
