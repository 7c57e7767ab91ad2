//! The reminder for the weekly page, by the system's own notification.

use std::time::Duration;

use app::App;
use app::units::Day;
use tauri::AppHandle;
use tauri_plugin_notification::NotificationExt;
use time::OffsetDateTime;

/// How often the clock on the wall is looked at.
const EVERY: Duration = Duration::from_secs(60);

/// Reminds as long as the window is there.
pub(crate) async fn keep_reminding(window: AppHandle, app: App) {
    app.can_remind();
    loop {
        let (day, minute) = on_the_wall();
        let asked = app.clone();
        let due =
            tauri::async_runtime::spawn_blocking(move || asked.is_time_to_remind(day, minute));
        if matches!(due.await, Ok(Ok(true))) {
            // A system that shows none has been asked once; the page can be sent without it.
            let _ = window
                .notification()
                .builder()
                .title("Pothook")
                .body("This week's page can be photographed whenever it suits.")
                .show();
        }
        tokio::time::sleep(EVERY).await;
    }
}

/// The day, and the minutes since midnight, where this device stands; in UTC where the system does not say.
fn on_the_wall() -> (Day, u16) {
    let now = OffsetDateTime::now_local().unwrap_or_else(|_| OffsetDateTime::now_utc());
    let day = now.date().to_julian_day() - JULIAN_DAY_OF_1970;
    (
        Day(day),
        u16::from(now.hour()) * 60 + u16::from(now.minute()),
    )
}

/// The Julian day number that began at noon of 1970-01-01.
const JULIAN_DAY_OF_1970: i32 = 2_440_588;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_day_on_the_wall_is_within_a_day_of_utc() {
        let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
        let days = since.expect("after 1970").as_secs() / 86_400;
        let (day, minute) = on_the_wall();
        assert!((i64::from(day.0) - days as i64).abs() <= 1);
        assert!(minute < 1_440);
    }
}
