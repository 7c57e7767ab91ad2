//! Commands about other devices.

use std::io::Write;

use app::App;
use app::api::{
    ConfirmPairing, DeviceRow, Event, Exchange, JoinPairing, MakePaperKey, Nothing, Notice,
    NoticeRow, OfDevice, OfferPairing, PairingState, SetAddress, SetNetwork,
};
use app::units::{DeviceId, Problem};
use tokio::sync::broadcast::Receiver;

use crate::cases::find_pupil;
use crate::failure::Failure;
use crate::names::role_name;
use crate::opening::secret;
use crate::{args, table};

pub(crate) fn list(app: &App) -> Result<(), Failure> {
    let mut rows = vec![table::row(&[
        "device", "whose", "pupils", "last met", "", "key",
    ])];
    for device in app.devices(Nothing {})?.devices {
        rows.push(table::row(&[
            &device.name,
            role_name(device.role),
            &device.pupils.len().to_string(),
            &device
                .last_met
                .map_or("never".to_owned(), |at| at.day().to_string()),
            if device.removed { "removed" } else { "" },
            &device.device.to_string(),
        ]));
    }
    table::print(&rows);
    Ok(())
}

pub(crate) async fn offer(app: &App, wanted: &args::Pupil) -> Result<(), Failure> {
    let pupil = find_pupil(app, &wanted.pupil)?;
    offer_to(app, OfferPairing::Family { pupil }, "the parent's device").await
}

pub(crate) async fn offer_own(app: &App) -> Result<(), Failure> {
    offer_to(app, OfferPairing::OwnDevice {}, "your other device").await
}

pub(crate) async fn offer_tutor(app: &App, wanted: &args::Pupil) -> Result<(), Failure> {
    let pupil = find_pupil(app, &wanted.pupil)?;
    offer_to(
        app,
        OfferPairing::TutorAgain { pupil },
        "the tutor's device",
    )
    .await
}

async fn offer_to(app: &App, offer: OfferPairing, on: &str) -> Result<(), Failure> {
    let events = app.events();
    if let PairingState::Waiting { offered } = app.offer_pairing(offer).await? {
        println!("Type this on {on} within ten minutes:\n{}", offered.code);
    }
    compare(app, events).await
}

pub(crate) async fn join(app: &App, wanted: args::Join) -> Result<(), Failure> {
    let events = app.events();
    let paper_key = match wanted.paper_key {
        true => Some(secret("Key on paper: ")?),
        false => None,
    };
    app.join_pairing(JoinPairing {
        code: wanted.code.join(" "),
        paper_key,
    })
    .await?;
    compare(app, events).await?;
    // The command ends with the books here, not with a promise of them.
    exchange(app).await
}

pub(crate) fn remove(app: &App, wanted: &args::Device) -> Result<(), Failure> {
    let device = find_device(app, &wanted.device)?;
    app.remove_device(OfDevice { device })?;
    println!(
        "Removed here; the other devices follow when they meet this one. What the removed device \
         holds, it keeps."
    );
    Ok(())
}

pub(crate) fn address(app: &App, wanted: args::Address) -> Result<(), Failure> {
    app.set_address(SetAddress {
        device: find_device(app, &wanted.of.device)?,
        address: wanted.address,
    })?;
    Ok(())
}

pub(crate) fn paper_key(app: &App, wanted: args::MakePaperKey) -> Result<(), Failure> {
    let before = match wanted.replace {
        true => Some(secret("Key that is on paper now: ")?),
        false => None,
    };
    let key = app.make_paper_key(MakePaperKey { before })?;
    println!(
        "Write this down, and keep it where neither thief nor fire finds it with your devices:"
    );
    println!("{}", key.text);
    println!("It is shown this once, and kept nowhere.");
    Ok(())
}

pub(crate) async fn network(app: &App, wanted: args::Network) -> Result<(), Failure> {
    let on = wanted.state == "on";
    let relay = wanted.relay;
    app.set_network(SetNetwork { on, relay }).await?;
    println!("The network is {}.", wanted.state);
    Ok(())
}

/// Stays on until it is told to end.
pub(crate) async fn keep(app: &App) -> Result<(), Failure> {
    app.listen().await?;
    let overview = app.overview(Nothing {})?;
    match overview.network {
        true => println!("Keeping. Reached at: {}", overview.addresses.join(", ")),
        false => println!("Keeping, but the network is off: only this machine reaches it."),
    }
    let company = tokio::spawn(app.clone().keep_company());
    ended().await;
    company.abort();
    println!("Ended.");
    Ok(())
}

/// Waits for Ctrl-C, or for the system to end this program.
async fn ended() {
    #[cfg(unix)]
    if let Ok(mut term) = tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate())
    {
        tokio::select! {
            _ = tokio::signal::ctrl_c() => {}
            _ = term.recv() => {}
        }
        return;
    }
    let _ = tokio::signal::ctrl_c().await;
}

pub(crate) fn notices(app: &App) -> Result<(), Failure> {
    for NoticeRow { at, notice } in app.notices(Nothing {})?.notices {
        let said = match notice {
            Notice::LateEditsDropped { edits, .. } => format!(
                "{edits} late edits were dropped: they touched something that had been forgotten"
            ),
            Notice::Erased {} => "the tutor erased a pupil".to_owned(),
            Notice::Refused { from, changes, .. } => {
                format!("{changes} changes brought by {from} were refused")
            }
            Notice::CutOff {
                author, changes, ..
            } => format!(
                "{changes} changes by {author} were let go: the device that removed it had not seen them"
            ),
            Notice::Unfinished { problem } => problem.to_string(),
        };
        println!("{}: {said}", at.day());
    }
    Ok(())
}

/// The device of this name, or whose key begins so.
pub(crate) fn find_device(app: &App, wanted: &str) -> Result<DeviceId, Failure> {
    let devices = app.devices(Nothing {})?.devices;
    let fits = |row: &&DeviceRow| {
        row.name == wanted || wanted.len() >= 4 && row.device.to_string().starts_with(wanted)
    };
    let found: Vec<&DeviceRow> = devices.iter().filter(fits).collect();
    match found[..] {
        [row] => Ok(row.device),
        [] => Err(Problem::new(
            "no-such-device",
            format!("No other device is called {wanted}."),
            "See `devices` for their names and keys.",
        )
        .into()),
        _ => Err(Problem::new(
            "several-devices",
            format!("More than one device is called {wanted}."),
            "Use the beginning of its key, as `devices` shows it.",
        )
        .into()),
    }
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
