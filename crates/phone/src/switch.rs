//! The one place where a shell keeps what is served: off until it is switched on, and never two at once.

use std::sync::Arc;

use app::App;
use app::units::Problem;
use tokio::sync::Mutex;

use crate::shown::Standing;
use crate::{Open, Wanted, addresses};

/// Switches the page for a phone on and off. Cheap to clone; all clones are the same switch.
#[derive(Clone, Default)]
pub struct Switch(Arc<Mutex<Option<Open>>>);

impl Switch {
    /// How it stands, and the addresses to choose from.
    pub async fn standing(&self) -> Standing {
        Standing {
            addresses: addresses(),
            open: self.0.lock().await.as_ref().map(Open::shown),
        }
    }

    /// Begins to serve the page; what was served before ends.
    ///
    /// # Errors
    /// As [`crate::open`]; what was served before then goes on.
    pub async fn open(&self, app: App, wanted: Wanted) -> Result<Standing, Problem> {
        {
            let mut slot = self.0.lock().await;
            let new = crate::open(app, wanted).await?;
            if let Some(before) = slot.replace(new) {
                before.close().await;
            }
        }
        Ok(self.standing().await)
    }

    /// Ends it; the port is closed when this returns.
    pub async fn close(&self) -> Standing {
        let open = self.0.lock().await.take();
        if let Some(open) = open {
            open.close().await;
        }
        self.standing().await
    }
}
