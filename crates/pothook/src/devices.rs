//! Commands about other devices.

use std::io::Write;

use app::App;
use app::api::{ConfirmPairing, Event, Exchange, JoinPairing, Nothing, OfPupil, PairingState};
use app::units::Problem;
use tokio::sync::broadcast::Receiver;

use crate::cases::find_pupil;
use crate::failure::Failure;
use crate::names::role_name;
use crate::{args, table};

pub(crate) fn list(app: &App) -> Result<(), Failure> {
    let mut rows = vec![table::row(&[
        "device", "whose", "pupils", "last met", "key",
    ])];
    for device in app.devices(Nothing {})?.devices {
        rows.push(table::row(&[
            &device.name,
            role_name(device.role),
            &device.pupils.len().to_string(),
            &device
                .last_met
                .map_or("never".to_owned(), |at| at.day().to_string()),
            &device.device.to_string(),
        ]));
    }
    table::print(&rows);
    Ok(())
}

pub(crate) async fn offer(app: &App, wanted: &args::Pupil) -> Result<(), Failure> {
    let pupil = find_pupil(app, &wanted.pupil)?;
    let events = app.events();
    if let PairingState::Waiting { offered } = app.offer_pairing(OfPupil { pupil }).await? {
        println!(
            "Type this on the parent's device within ten minutes:\n{}",
            offered.code
        );
    }
    compare(app, events).await
}

pub(crate) async fn join(app: &App, wanted: args::Join) -> Result<(), Failure> {
    let events = app.events();
    app.join_pairing(JoinPairing {
        code: wanted.code.join(" "),
    })
    .await?;
    compare(app, events).await?;
    // The command ends with the books here, not with a promise of them.
    exchange(app).await
}

/// Shows the words, asks, and waits until it is settled.
async fn compare(app: &App, mut events: Receiver<Event>) -> Result<(), Failure> {
    let mut asked = false;
    loop {
        match app.pairing(Nothing {})? {
            PairingState::Compare { words } if !asked => {
                asked = true;
                let same = ask(&words).await?;
                app.confirm_pairing(ConfirmPairing { same }).await?;
            }
            PairingState::Done { device } => {
                println!("Paired with {}.", device.name);
                return Ok(());
            }
            PairingState::Failed { problem } => return Err(problem.into()),
            _ => drop(events.recv().await),
        }
    }
}

async fn ask(words: &[String]) -> Result<bool, Failure> {
    println!("Words: {}", words.join(" "));
    print!("Does the other device show the same words? Type yes or no: ");
    let _ = std::io::stdout().flush();
    let line = tokio::task::spawn_blocking(|| {
        let mut line = String::new();
        std::io::stdin().read_line(&mut line).map(|_| line)
    });
    match line.await {
        Ok(Ok(line)) => Ok(line.trim().eq_ignore_ascii_case("yes")),
        _ => Err(Problem::new(
            "no-answer",
            "The answer could not be read.",
            "Run this in a terminal, or hand the answer in.",
        )
        .into()),
    }
}

pub(crate) async fn exchange(app: &App) -> Result<(), Failure> {
    let meetings = app.exchange(Exchange { device: None }).await?.meetings;
    let of = meetings.len();
    let mut failed = 0;
    for meeting in meetings {
        match meeting.problem {
            Some(problem) => {
                eprintln!("{}: {problem} [{}]", meeting.name, problem.code);
                failed += 1;
            }
            None => println!(
                "{}: sent {} changes and {} files, received {} changes and {} files, refused {}",
                meeting.name,
                meeting.sent_changes,
                meeting.sent_blobs,
                meeting.received_changes,
                meeting.received_blobs,
                meeting.refused_changes,
            ),
        }
    }
    if failed > 0 {
        Err(Failure::Some { failed, of })
    } else {
        Ok(())
    }
}
