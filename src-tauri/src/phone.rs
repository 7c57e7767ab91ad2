//! The page for a phone without the program, as the screen opens and closes it.

use app::units::Problem;
use phone::{Standing, Switch, Wanted};
use tauri::State;

use crate::Opened;

/// How it stands, and the addresses to choose from.
#[tauri::command]
pub(crate) async fn phone_state(switch: State<'_, Switch>) -> Result<Standing, Problem> {
    Ok(switch.standing().await)
}

/// Begins to serve the page for one pupil.
#[tauri::command]
pub(crate) async fn phone_open(
    opened: State<'_, Opened>,
    switch: State<'_, Switch>,
    wanted: Wanted,
) -> Result<Standing, Problem> {
    switch.open(opened.app()?, wanted).await
}

/// Ends it.
#[tauri::command]
pub(crate) async fn phone_close(switch: State<'_, Switch>) -> Result<Standing, Problem> {
    Ok(switch.close().await)
}
