//! Marks that a person puts on a page.

use units::{Aspect, MarkId, MarkShape, PageId, PupilId};

use super::transfer;

transfer! {
    /// Puts a mark on a page.
    pub struct AddMark {
        /// Whose.
        pub pupil: PupilId,
        /// Which page.
        pub page: PageId,
        /// A box, a stroke of the pen, or only words at a place.
        pub shape: MarkShape,
        /// The sentence with it; a note needs one.
        pub words: String,
        /// The aspect it speaks of.
        pub aspect: Option<Aspect>,
        /// Whether it praises.
        pub praise: bool,
    }

    /// The mark just made.
    pub struct MarkAdded {
        /// Its id.
        pub mark: MarkId,
    }

    /// Alters a mark that is there; answers to it stay with it.
    pub struct ChangeMark {
        /// Whose.
        pub pupil: PupilId,
        /// Which.
        pub mark: MarkId,
        /// A box, a stroke of the pen, or only words at a place.
        pub shape: MarkShape,
        /// The sentence with it; a note needs one.
        pub words: String,
        /// The aspect it speaks of.
        pub aspect: Option<Aspect>,
        /// Whether it praises.
        pub praise: bool,
    }

    /// Takes a mark off again.
    #[derive(Copy, Eq)]
    pub struct RemoveMark {
        /// Whose.
        pub pupil: PupilId,
        /// Which.
        pub mark: MarkId,
    }
}
