//! The program that lets a test drive the real window.

use std::path::PathBuf;

use super::tool;
use crate::failure::Failure;

/// Builds the driver once, inside the target folder, and says where it is.
pub fn ready() -> Result<PathBuf, Failure> {
    let folder = tool::ready("tauri-driver", "2.1.0", "The window's test driver")?;
    Ok(folder.join(format!("tauri-driver{}", std::env::consts::EXE_SUFFIX)))
}
