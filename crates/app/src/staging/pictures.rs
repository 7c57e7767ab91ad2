//! Pictures of a photograph that waits.

use std::sync::Arc;

use metrics::Photo;

use crate::App;
use crate::crops::{packed, smaller};
use crate::device::locked;
use crate::verbs::off_thread;

/// Longest side of the photograph as it is shown, to set corners on.
pub(super) const LONGEST_SHOWN: u32 = 1_600;
/// Longest side of the photograph in a list.
const LONGEST_SMALL: u32 = 240;

/// A photograph made small for a list (JPEG).
pub(super) fn small(photo: &Photo) -> Arc<[u8]> {
    packed(&smaller(&photo.rgb, LONGEST_SMALL, LONGEST_SMALL)).into()
}

impl App {
    /// The picture of a staged photograph (JPEG).
    pub fn staged_picture(&self, handle: &str) -> Option<Vec<u8>> {
        let (_, looked) = self.looked(handle).ok()?;
        Some(looked.flat.as_ref()?.picture.clone())
    }

    /// As [`App::staged_picture`], off the caller's thread.
    pub async fn staged_picture_off_thread(&self, handle: String) -> Option<Vec<u8>> {
        self.made_off_thread(move |app| app.staged_picture(&handle))
            .await
    }

    /// A staged photograph as it was taken, made smaller and without what the camera wrote into it (JPEG).
    pub fn staged_photo(&self, handle: &str) -> Option<Vec<u8>> {
        let photo = self.decoded(handle)?;
        Some(packed(&smaller(&photo.rgb, LONGEST_SHOWN, LONGEST_SHOWN)))
    }

    /// As [`App::staged_photo`], off the caller's thread.
    pub async fn staged_photo_off_thread(&self, handle: String) -> Option<Vec<u8>> {
        self.made_off_thread(move |app| app.staged_photo(&handle))
            .await
    }

    /// A staged photograph as it was taken, small (JPEG, at most 240 pixels either way). It is made once and
    /// held in memory while the photograph waits.
    pub fn small_staged_photo(&self, handle: &str) -> Option<Vec<u8>> {
        let held = locked(&self.inner.looked)
            .get(handle)
            .and_then(|seen| seen.small.clone());
        let made = match held {
            Some(made) => made,
            None => {
                let made = small(&self.decoded(handle)?);
                let held = self.remember_seen(handle, |_, seen| {
                    seen.small = Some(Arc::clone(&made));
                });
                held.ok()?;
                made
            }
        };
        Some(made.to_vec())
    }

    /// As [`App::small_staged_photo`], off the caller's thread.
    pub async fn small_staged_photo_off_thread(&self, handle: String) -> Option<Vec<u8>> {
        self.made_off_thread(move |app| app.small_staged_photo(&handle))
            .await
    }

    fn decoded(&self, handle: &str) -> Option<Photo> {
        let waiting = self.waiting_photo(handle).ok()??;
        metrics::decode(&self.file_of(&waiting).ok()?).ok()
    }

    async fn made_off_thread(
        &self,
        make: impl FnOnce(&Self) -> Option<Vec<u8>> + Send + 'static,
    ) -> Option<Vec<u8>> {
        let app = self.clone();
        let made = off_thread(move || Ok(make(&app))).await;
        made.ok().flatten()
    }
}
