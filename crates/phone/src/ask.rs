//! What the page may ask and is answered: all of it. There is no word here for another pupil, a history,
//! a device or a setting.

use app::api::{Figure, Verdict};
use app::units::{Aspect, Day, MeasureName, PageId, Problem, Task, TaskId};
use serde::{Deserialize, Serialize};

use crate::shown::plain;

plain! {
    /// What the page asks.
    #[derive(Eq)]
    #[serde(tag = "ask", rename_all_fields = "camelCase", deny_unknown_fields)]
    pub enum Ask {
        /// Begins the visit; the only one under the code's key. Answered by [`Greeted`].
        Greet {
            /// 16 random bytes in hexadecimal that stand for this phone.
            phone: String,
        },
        /// Whether this computer is still there. Answered by [`Nothing`]; does not lengthen the visit.
        Look {},
        /// What there is to do. Answered by [`Week`].
        Week {},
        /// Looks at the photograph that goes with it. Answered by [`Looked`] and the flat page.
        Photo {
            /// Which task it answers, if any.
            task: Option<TaskId>,
        },
        /// Keeps the photograph that was looked at. Answered by [`Kept`], and again if it is asked again.
        Keep {
            /// From [`Looked`].
            handle: String,
            /// Though a check failed.
            despite: bool,
        },
        /// Drops it. Answered by [`Nothing`].
        Drop {
            /// From [`Looked`].
            handle: String,
        },
        /// What a page kept in this visit shows. Answered by [`Outcome`].
        Result {
            /// From [`Kept`].
            page: PageId,
        },
    }

    /// What comes back.
    pub struct Answer {
        /// How the visit stands.
        pub pulse: Pulse,
        /// What was asked for; `None` where it came to nothing.
        #[cfg_attr(test, ts(type = "unknown"))]
        pub done: Option<serde_json::Value>,
        /// Why it came to nothing.
        pub problem: Option<Problem>,
    }

    /// How the visit stands.
    #[derive(Copy, Eq)]
    pub struct Pulse {
        /// Seconds until it ends if nothing is asked for.
        pub seconds_left: u32,
        /// How often another phone came with the same code.
        pub turned_away: u32,
    }

    /// Nothing to say.
    #[derive(Copy, Eq)]
    pub struct Nothing {}

    /// The visit has begun.
    #[derive(Eq)]
    pub struct Greeted {
        /// Its key: 32 bytes in base64url without padding.
        pub key: String,
    }

    /// What there is to do.
    pub struct Week {
        /// First name or initials; `None` until the tutor's book has arrived.
        pub name: Option<String>,
        /// The newest task and those set in the week before it, the newest first.
        pub tasks: Vec<Asked>,
        /// The tutor's sentence on what to try; empty where there is none.
        pub try_this: String,
    }

    /// A task of this week.
    pub struct Asked {
        /// The task.
        pub task: Task,
        /// Whether a page answers it.
        pub answered: bool,
    }

    /// A photograph that was looked at. Nothing is kept yet.
    #[derive(Eq)]
    pub struct Looked {
        /// Names it.
        pub handle: String,
        /// Whether it can be read.
        pub fit: bool,
        /// What to do about each check that failed.
        pub advice: Vec<String>,
        /// Width of the flat page that comes with it (JPEG).
        pub width_px: u32,
        /// Its height.
        pub height_px: u32,
    }

    /// The page just kept.
    #[derive(Copy, Eq)]
    pub struct Kept {
        /// Its id.
        pub page: PageId,
    }

    /// What a page shows.
    pub struct Outcome {
        /// Day it was written.
        pub written_on: Day,
        /// What the pages show so far of what is worked on; `None` where there is no focus.
        pub focus: Option<FocusOutcome>,
        /// The figures of this page. Those of letters and joins wait until the tutor has looked at it.
        pub figures: Vec<Figure>,
        /// Whether the text that was set is the one on the page; `None` where that is not known.
        pub text_fits: Option<bool>,
    }

    /// What is worked on, and what the pages of this kind show so far.
    #[derive(Eq)]
    pub struct FocusOutcome {
        /// The aspect.
        pub aspect: Aspect,
        /// The tutor's sentence; may be empty.
        pub try_this: String,
        /// Measure by measure, in words.
        pub verdicts: Vec<MeasureVerdict>,
    }

    /// What may be said of one measure.
    #[derive(Copy, Eq)]
    pub struct MeasureVerdict {
        /// The measure.
        pub name: MeasureName,
        /// What may be said.
        pub verdict: Verdict,
    }
}
