//! The `pothook` command line: headless use, and the local web page.
//!
//! **May not know:** any room but `app`.

mod args;
mod cases;
mod devices;
mod failure;
mod keeping;
mod letters;
mod manifest;
mod measure;
mod names;
mod opening;
mod paper;
mod phone;
mod result;
mod serve;
mod table;

use std::process::ExitCode;

use app::App;
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
        Command::CheckBackup(wanted) => keeping::check_backup(&wanted),
        Command::Restore(wanted) => keeping::restore(&args.data, args.key_file.as_deref(), &wanted),
        command => {
            let app = opening::open(&args.data, args.key_file.as_deref())?;
            let runtime = tokio::runtime::Runtime::new().map_err(failure::runtime)?;
            runtime.block_on(with_data(app, command))
        }
    }
}

async fn with_data(app: App, command: Command) -> Result<(), Failure> {
    let done = match command {
        Command::Measure(_)
        | Command::Letters(_)
        | Command::CheckBackup(_)
        | Command::Restore(_) => {
            unreachable!("this needs no open data folder")
        }
        Command::Serve(wanted) => serve::run(app.clone(), wanted).await,
        Command::Phone(wanted) => phone::run(&app, &wanted).await,
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
        Command::Practised(wanted) => cases::practised(&app, &wanted),
        Command::ExportCorrections(wanted) => letters::export(&app, &wanted),
        Command::Devices => devices::list(&app),
        Command::Offer(wanted) => devices::offer(&app, &wanted).await,
        Command::OfferOwn => devices::offer_own(&app).await,
        Command::OfferTutor(wanted) => devices::offer_tutor(&app, &wanted).await,
        Command::Join(wanted) => devices::join(&app, wanted).await,
        Command::RemoveDevice(wanted) => devices::remove(&app, &wanted),
        Command::Address(wanted) => devices::address(&app, wanted),
        Command::PaperKey(wanted) => devices::paper_key(&app, wanted),
        Command::Network(wanted) => devices::network(&app, wanted).await,
        Command::Exchange => devices::exchange(&app).await,
        Command::Keep => devices::keep(&app).await,
        Command::Notices => devices::notices(&app),
        Command::CarryOut(wanted) => keeping::carry_out(&app, &wanted),
        Command::CarryIn(wanted) => keeping::carry_in(&app, &wanted),
        Command::ForgetPage(wanted) => keeping::forget_page(&app, &wanted),
        Command::ForgetBefore(wanted) => keeping::forget_before(&app, &wanted),
        Command::Erase(wanted) => keeping::erase(&app, &wanted),
        Command::DeleteBy(wanted) => keeping::delete_by(&app, &wanted),
        Command::Export(wanted) => keeping::export(&app, &wanted),
        Command::Backup(wanted) => keeping::backup(&app, &wanted),
    };
    app.close().await;
    done
}
