//! A home folder that a driven program has to itself.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

use crate::failure::Failure;

/// An empty home with a runtime folder that only its owner may enter; gone when dropped.
pub struct PrivateHome(PathBuf);

impl PrivateHome {
    /// Makes one below the system's folder for temporary files.
    pub fn new() -> Result<Self, Failure> {
        static MADE: AtomicU32 = AtomicU32::new(0);
        let nth = MADE.fetch_add(1, Ordering::Relaxed);
        let path = std::env::temp_dir().join(format!("pothook-home-{}-{nth}", std::process::id()));
        let made = || -> std::io::Result<()> {
            let runtime = path.join("runtime");
            fs::create_dir_all(&runtime)?;
            only_for_me(&path)?;
            only_for_me(&runtime)
        };
        made().map_err(|error| {
            Failure::new(
                format!("No folder could be made at {}: {error}.", path.display()),
                "Make room there or set TMPDIR to a folder that can be written to.",
            )
        })?;
        Ok(Self(path))
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for PrivateHome {
    fn drop(&mut self) {
        // A browser that is still closing may hold a file; the system clears the rest.
        let _ = fs::remove_dir_all(&self.0);
    }
}

#[cfg(unix)]
fn only_for_me(path: &Path) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(path, fs::Permissions::from_mode(0o700))
}

#[cfg(not(unix))]
fn only_for_me(_: &Path) -> std::io::Result<()> {
    Ok(())
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::os::unix::fs::PermissionsExt;

    #[test]
    fn nobody_else_may_enter_and_it_goes_away() {
        let home = PrivateHome::new().unwrap();
        let path = home.path().to_path_buf();
        let mode = fs::metadata(path.join("runtime"))
            .unwrap()
            .permissions()
            .mode();
        assert_eq!(mode & 0o777, 0o700);
        drop(home);
        assert!(!path.exists());
    }
}
