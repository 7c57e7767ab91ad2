//! The demo's command: draws pages, and builds the invented practice.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use demo::{Drawn, Fonts, manifest, sets};

/// Draws an invented practice: pages of pupils who do not exist.
#[derive(Parser)]
#[command(version, about)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Draws a few large pages with their truth, to look at.
    Pages {
        /// Folder to draw into.
        #[arg(long)]
        out: PathBuf,
    },
    /// Draws the small pages that tests measure. The same bytes come out every time.
    TestPages {
        /// Folder to draw into.
        #[arg(long)]
        out: PathBuf,
    },
    /// Draws the example that the program carries with it.
    #[cfg(feature = "practice")]
    Example {
        /// Folder to draw into.
        #[arg(long)]
        out: PathBuf,
    },
    /// Builds the invented practice: a tutor's and a family's data folder.
    #[cfg(feature = "practice")]
    Practice {
        /// Folder to build in; its parts must not be there yet.
        #[arg(long)]
        out: PathBuf,
    },
}

fn main() -> ExitCode {
    match run(Arguments::parse().command) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

fn run(command: Command) -> Result<(), Box<dyn std::error::Error>> {
    let fonts = Fonts::load(&Fonts::folder())?;
    let say = |id: &str, drawn: &Drawn| {
        let lines = drawn.truth.lines.len();
        let kilobytes = drawn.jpeg.len() / 1024;
        println!("{id}: {lines} lines, {kilobytes} kB");
        if drawn.left_over > 0 {
            println!("{id}: {} words found no room", drawn.left_over);
        }
    };
    match command {
        Command::Pages { out } => manifest::write(&fonts, &sets::large_pages(), &out, say)?,
        Command::TestPages { out } => manifest::write(&fonts, &sets::test_pages(), &out, say)?,
        #[cfg(feature = "practice")]
        Command::Example { out } => demo::practice::draw_example(&fonts, &out, now()?)?,
        #[cfg(feature = "practice")]
        Command::Practice { out } => build(&fonts, &out)?,
    }
    Ok(())
}

#[cfg(feature = "practice")]
fn now() -> Result<units::Moment, Box<dyn std::error::Error>> {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH)?;
    Ok(units::Moment(i64::try_from(since.as_millis())?))
}

#[cfg(feature = "practice")]
fn build(fonts: &Fonts, out: &std::path::Path) -> Result<(), Box<dyn std::error::Error>> {
    let now = now()?;
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()?;
    runtime.block_on(demo::practice::build(fonts, out, now, |step| {
        println!("{step}")
    }))?;
    Ok(())
}
