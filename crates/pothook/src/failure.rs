//! How a command fails: a sentence, what to do, and an exit code.

use std::fmt;
use std::path::Path;
use std::process::ExitCode;

use app::units::Problem;

/// A command that did not do what was asked.
#[derive(Debug)]
pub(crate) enum Failure {
    /// It came to nothing.
    Problem(Problem),
    /// Some of several came to nothing; each was told as it happened.
    Some { failed: usize, of: usize },
}

impl Failure {
    pub fn code(&self) -> ExitCode {
        match self {
            Self::Problem(_) => ExitCode::from(1),
            Self::Some { .. } => ExitCode::from(2),
        }
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Problem(problem) => write!(f, "{problem} [{}]", problem.code),
            Self::Some { failed, of } => write!(f, "{failed} of {of} could not be done."),
        }
    }
}

impl From<Problem> for Failure {
    fn from(problem: Problem) -> Self {
        Self::Problem(problem)
    }
}

pub(crate) fn runtime(error: std::io::Error) -> Failure {
    Problem::new(
        "no-threads",
        format!("The system gave this program no threads ({error})."),
        "Close other programs, and try again.",
    )
    .into()
}

/// A file that cannot be read.
pub(crate) fn unreadable(path: &Path, error: &std::io::Error) -> Problem {
    let shown = path.display();
    match error.kind() {
        std::io::ErrorKind::NotFound => Problem::new(
            "file-gone",
            format!("There is no file at {shown}."),
            "Check the name, or choose the photograph again.",
        ),
        std::io::ErrorKind::PermissionDenied => Problem::new(
            "file-closed",
            format!("This program may not read {shown}."),
            "Change the file's permissions, or copy it to another folder.",
        ),
        _ => Problem::new(
            "file-unreadable",
            format!("{shown} cannot be read ({error})."),
            "Copy the file to this device, and try again.",
        ),
    }
}

/// A file or folder that cannot be written.
pub(crate) fn unwritable(path: &Path, error: &std::io::Error) -> Problem {
    let shown = path.display();
    match error.kind() {
        std::io::ErrorKind::StorageFull => Problem::new(
            "disk-full",
            format!("The disk is full: {shown} was not written."),
            "Free some space, and try again.",
        ),
        _ => Problem::new(
            "not-written",
            format!("{shown} cannot be written ({error})."),
            "Choose another folder, or change its permissions.",
        ),
    }
}
