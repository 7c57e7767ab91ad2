//! The page for a phone without the program: started from the command line, and from the local screens.

use std::io::IsTerminal;
use std::time::Duration;

use app::App;
use app::units::Problem;
use axum::extract::State;
use axum::extract::rejection::JsonRejection;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use axum::{Json, Router};
use phone::{Ended, Open, Shown, Stage, Switch, Wanted};

use crate::args;
use crate::cases::find_pupil;
use crate::failure::Failure;

/// Said wherever it is opened.
const CAUTION: &str = "Use it on home Wi-Fi only. Somebody who listens on the network learns how much is sent, and \
    when, and nothing else; somebody who changes the page on its way to the phone is not stopped. On a network that \
    is not yours, send a carry file instead, or bring the photograph over by cable.";

/// Serves the page until Ctrl-C, or until its time is up.
pub(crate) async fn run(app: &App, wanted: &args::Phone) -> Result<(), Failure> {
    let wanted = Wanted {
        pupil: find_pupil(app, &wanted.pupil)?,
        address: wanted.address,
    };
    let open = phone::open(app.clone(), wanted).await?;
    print_code(&open)?;
    tokio::select! {
        () = tell(&open) => {}
        _ = tokio::signal::ctrl_c() => {}
    }
    open.close().await;
    Ok(())
}

fn print_code(open: &Open) -> Result<(), Problem> {
    println!(
        "Open this on the phone, on the same Wi-Fi:\n{}\n",
        open.url()
    );
    let terminal = std::io::stdout().is_terminal();
    for line in open.qr_text()?.lines() {
        // White on black whatever the terminal's own colours are: a scanner wants the dark parts dark.
        match terminal {
            true => println!("\u{1b}[97;40m{line}\u{1b}[0m"),
            false => println!("{line}"),
        }
    }
    println!(
        "\nIt works for one phone, once, within a quarter of an hour. Ctrl-C ends it.\n{CAUTION}"
    );
    Ok(())
}

/// Says what happens, as it happens, until it is over.
async fn tell(open: &Open) {
    let mut before = open.shown();
    while before.stage != Stage::Ended {
        tokio::time::sleep(Duration::from_millis(500)).await;
        let now = open.shown();
        for line in news(&before, &now) {
            println!("{line}");
        }
        before = now;
    }
}

fn news(before: &Shown, now: &Shown) -> Vec<String> {
    let mut lines = Vec::new();
    if before.stage == Stage::Waiting && now.stage == Stage::InUse {
        lines.push("A phone has opened the page.".to_owned());
    }
    if now.pages > before.pages {
        lines.push(format!("Pages that have come in: {}.", now.pages));
    }
    if now.turned_away > before.turned_away {
        lines.push(
            "Another phone has tried to use the code and was turned away. If it was nobody of yours, press \
             Ctrl-C."
                .to_owned(),
        );
    }
    if before.ended.is_none() {
        lines.extend(now.ended.map(|ended| match ended {
            Ended::Expired => "The time is up, and the page is closed.".to_owned(),
            Ended::WrongKeys => {
                "Somebody tried too often with a wrong key, and the page is closed.".to_owned()
            }
        }));
    }
    lines
}

/// What a screen asks: how it stands, open it, end it.
#[derive(Clone)]
struct Screen {
    app: App,
    switch: Switch,
}

/// The routes for the local screens, behind the same door as all others.
pub(crate) fn routes<S: Clone + Send + Sync + 'static>(app: App) -> Router<S> {
    let switch = Switch::default();
    let standing = get(standing).post(open).delete(close);
    Router::new()
        .route("/phone", standing)
        .with_state(Screen { app, switch })
}

async fn standing(State(screen): State<Screen>) -> Response {
    Json(screen.switch.standing().await).into_response()
}

async fn open(State(screen): State<Screen>, body: Result<Json<Wanted>, JsonRejection>) -> Response {
    let opened = match body {
        Ok(Json(wanted)) => screen.switch.open(screen.app, wanted).await,
        Err(_) => Err(Problem::new(
            "bad-input",
            "This request cannot be read.",
            "Reload the page, and try again.",
        )),
    };
    match opened {
        Ok(standing) => Json(standing).into_response(),
        Err(problem) => (StatusCode::UNPROCESSABLE_ENTITY, Json(problem)).into_response(),
    }
}

async fn close(State(screen): State<Screen>) -> Response {
    Json(screen.switch.close().await).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;
    use app::units::{Moment, PupilId};

    fn shown(stage: Stage, ended: Option<Ended>, pages: u32, turned_away: u32) -> Shown {
        Shown {
            pupil: PupilId([1; 16]),
            url: String::new(),
            qr_svg: String::new(),
            expires_at: Moment(0),
            stage,
            ended,
            pages,
            turned_away,
        }
    }

    #[test]
    fn what_happens_is_said_once() {
        let waiting = shown(Stage::Waiting, None, 0, 0);
        let in_use = shown(Stage::InUse, None, 0, 0);
        let kept = shown(Stage::InUse, None, 1, 0);
        let warned = shown(Stage::InUse, None, 1, 1);
        let over = shown(Stage::Ended, Some(Ended::Expired), 1, 1);
        assert_eq!(news(&waiting, &in_use), ["A phone has opened the page."]);
        assert_eq!(news(&in_use, &kept), ["Pages that have come in: 1."]);
        assert_eq!(news(&kept, &warned).len(), 1);
        assert_eq!(
            news(&warned, &over),
            ["The time is up, and the page is closed."]
        );
        for same in [&waiting, &in_use, &kept, &warned, &over] {
            assert!(news(same, same).is_empty());
        }
    }
}
