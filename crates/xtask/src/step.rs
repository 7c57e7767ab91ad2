//! Running other programs: each is announced, and timed when it ends.

use std::ffi::OsStr;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, ExitStatus, Stdio};
use std::sync::OnceLock;
use std::time::Instant;

use crate::failure::Failure;
use crate::place;
use crate::tally::Tally;

/// One program to run, in the root of the repository unless told otherwise.
pub struct Step {
    title: String,
    command: Command,
}

impl Step {
    /// A step with the title that it is announced by.
    pub fn new(title: impl Into<String>, program: impl AsRef<OsStr>) -> Self {
        let mut command = Command::new(program);
        command.current_dir(place::root());
        Self {
            title: title.into(),
            command,
        }
    }

    /// cargo with these arguments, titled by them.
    pub fn cargo(args: &[&str]) -> Self {
        Self::new(format!("cargo {}", args.join(" ")), "cargo").args(args)
    }

    /// npm with these arguments in a folder of the repository.
    pub fn npm(folder: &str, args: &[&str]) -> Self {
        Self::new(format!("npm {} (in {folder})", args.join(" ")), place::NPM)
            .args(args)
            .dir(&place::root().join(folder))
    }

    /// Adds arguments.
    pub fn args<S: AsRef<OsStr>>(mut self, args: impl IntoIterator<Item = S>) -> Self {
        self.command.args(args);
        self
    }

    /// Sets an environment variable.
    pub fn env(mut self, name: &str, value: impl AsRef<OsStr>) -> Self {
        self.command.env(name, value);
        self
    }

    /// Unsets an environment variable.
    pub fn without_env(mut self, name: &str) -> Self {
        self.command.env_remove(name);
        self
    }

    /// Runs in another folder.
    pub fn dir(mut self, dir: &Path) -> Self {
        self.command.current_dir(dir);
        self
    }

    /// Runs with the output shown as it comes.
    pub fn run(mut self) -> Result<(), Failure> {
        let started = announce(&self.title);
        let status = self.command.status().map_err(|error| self.absent(&error))?;
        self.end(status, started)
    }

    /// Runs with the output shown as it comes, and counts what it says has passed and failed.
    pub fn count(mut self, tally: &mut Tally) -> Result<(), Failure> {
        let started = announce(&self.title);
        let mut child = self
            .command
            .stdout(Stdio::piped())
            .spawn()
            .map_err(|error| self.absent(&error))?;
        if let Some(output) = child.stdout.take() {
            for line in BufReader::new(output).split(b'\n').map_while(Result::ok) {
                let line = String::from_utf8_lossy(&line);
                println!("{line}");
                tally.read(&line);
            }
        }
        let status = child.wait().map_err(|error| self.absent(&error))?;
        self.end(status, started)
    }

    /// Runs without showing anything and gives what it wrote to its standard output.
    pub fn output(mut self) -> Result<String, Failure> {
        let output = self
            .command
            .stderr(Stdio::inherit())
            .output()
            .map_err(|error| self.absent(&error))?;
        if !output.status.success() {
            return Err(self.failed(output.status));
        }
        Ok(String::from_utf8_lossy(&output.stdout).into_owned())
    }

    fn end(&self, status: ExitStatus, started: Instant) -> Result<(), Failure> {
        if !status.success() {
            return Err(self.failed(status));
        }
        println!("   done in {:.1} s", started.elapsed().as_secs_f64());
        Ok(())
    }

    fn failed(&self, status: ExitStatus) -> Failure {
        Failure::new(
            format!("“{}” ended with {status}.", self.title),
            "What it printed above says why.",
        )
    }

    fn absent(&self, error: &std::io::Error) -> Failure {
        let program = self.command.get_program().to_string_lossy();
        Failure::new(
            format!(
                "{program} could not be started for “{}”: {error}.",
                self.title
            ),
            format!("Install {program} or put it on the search path, then run this again."),
        )
    }
}

/// Prints a title line with the time since the first one, and starts the clock.
pub fn announce(title: &str) -> Instant {
    static BEGAN: OnceLock<Instant> = OnceLock::new();
    let now = Instant::now();
    let since = now.duration_since(*BEGAN.get_or_init(|| now)).as_secs();
    println!("\n== {:>2}:{:02}  {title}", since / 60, since % 60);
    now
}
