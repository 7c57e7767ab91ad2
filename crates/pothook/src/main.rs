//! The `pothook` command line: headless use, and the local web page.
//!
//! **May not know:** any room but `app`.

mod args;
mod cases;
mod devices;
mod failure;
mod letters;
mod manifest;
mod measure;
mod names;
mod paper;
mod result;
mod serve;
mod table;

use std::process::ExitCode;

use clap::Parser;

use args::{Args, Command};
use failure::Failure;

fn main() -> ExitCode {
    match run(Args::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("{failure}");
            failure.code()
        }
    }
}

fn run(args: Args) -> Result<(), Failure> {
    match args.command {
        Command::Measure(wanted) => measure::run(&wanted),
        Command::Letters(wanted) => letters::save(&wanted),
        command => {
            let runtime = tokio::runtime::Runtime::new().map_err(failure::runtime)?;
            runtime.block_on(with_data(&args.data, command))
        }
    }
}

async fn with_data(folder: &std::path::Path, command: Command) -> Result<(), Failure> {
    let app = app::App::open(folder)?;
    let done = match command {
        Command::Measure(_) | Command::Letters(_) => {
            unreachable!("this needs no data folder")
        }
        Command::Serve(wanted) => serve::run(app.clone(), wanted).await,
        Command::Settle(wanted) => cases::settle(&app, wanted),
        Command::Pupils => cases::pupils(&app),
        Command::AddPupil(wanted) => cases::add_pupil(&app, wanted),
        Command::Task(wanted) => cases::task(&app, wanted),
        Command::AddPage(wanted) => cases::add_page(&app, wanted),
        Command::Pages(wanted) => cases::pages(&app, &wanted),
        Command::Page(wanted) => cases::page(&app, &wanted),
        Command::Text(wanted) => cases::text(&app, wanted),
        Command::Minutes(wanted) => cases::minutes(&app, &wanted),
        Command::Mark(wanted) => cases::mark(&app, wanted),
        Command::Look(wanted) => cases::look(&app, &wanted),
        Command::Focus(wanted) => cases::focus(&app, wanted),
        Command::Progress(wanted) => cases::progress(&app, &wanted),
        Command::ExportCorrections(wanted) => letters::export(&app, &wanted),
        Command::Devices => devices::list(&app),
        Command::Offer(wanted) => devices::offer(&app, &wanted).await,
        Command::Join(wanted) => devices::join(&app, wanted).await,
        Command::Exchange => devices::exchange(&app).await,
    };
    app.close().await;
    done
}
