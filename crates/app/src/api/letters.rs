//! Letter models, what a person puts right, and one letter through the weeks.

use units::{
    Amendment, AmendmentId, BlobId, BoxMm, Day, FaultKind, LetterModel, PageId, PupilId, TaskKind,
};

use super::transfer;

transfer! {
    /// The letter models to start from.
    pub struct LetterModels {
        /// Unjoined, part joined, joined.
        pub models: Vec<LetterModel>,
    }

    /// A letter model to be written as a file.
    pub struct WriteLetterModel {
        /// The model.
        pub model: LetterModel,
    }

    /// A file to be saved by the screen.
    pub struct TextFile {
        /// A name for it.
        pub name: String,
        /// What stands in it.
        pub text: String,
    }

    /// The text of a letter model's file.
    pub struct ReadLetterModel {
        /// What stands in the file.
        pub text: String,
    }

    /// A letter model as read.
    pub struct LetterModelRead {
        /// The model.
        pub model: LetterModel,
    }

    /// Puts something right on a page; the page is measured again with it. Tutor only.
    pub struct Amend {
        /// Whose.
        pub pupil: PupilId,
        /// Which page.
        pub page: PageId,
        /// What is so.
        pub what: Amendment,
    }

    /// What was put right.
    pub struct Amended {
        /// Its id.
        pub amendment: AmendmentId,
    }

    /// Takes back what was put right; the page is measured again without it. Tutor only.
    pub struct TakeBack {
        /// Whose.
        pub pupil: PupilId,
        /// Which page.
        pub page: PageId,
        /// What.
        pub amendment: AmendmentId,
    }

    /// Corrections of the engine as training data, without names: opt-in, pupil by pupil.
    pub struct ExportAmendments {
        /// The pupils whose families agreed.
        pub pupils: Vec<PupilId>,
    }

    /// Asks for every instance of a letter or word.
    pub struct FindLetters {
        /// Whose.
        pub pupil: PupilId,
        /// One letter, or a word.
        pub text: String,
    }

    /// A letter or word through the weeks.
    pub struct LettersFound {
        /// As asked for.
        pub text: String,
        /// Pages on which it was found, oldest first.
        pub pages: Vec<LettersOfPage>,
        /// Letters and words that the pupil's pages have most, for choosing: most first.
        pub often: Vec<String>,
    }

    /// What one page has of it.
    pub struct LettersOfPage {
        /// Which page.
        pub page: PageId,
        /// Day it was written.
        pub written_on: Day,
        /// How the text came about.
        pub kind: TaskKind,
        /// In the order of reading; at most 12.
        pub found: Vec<Instance>,
        /// How many the page has beyond these.
        pub more: u32,
    }

    /// One letter or word on a page.
    pub struct Instance {
        /// Where it is.
        pub at: BoxMm,
        /// Its picture.
        pub crop: Crop,
        /// What is amiss with its form; empty for a word.
        pub faults: Vec<FaultKind>,
        /// Whether the engine, or a person, is sure of it.
        pub sure: bool,
    }

    /// Part of a kept page picture, in its pixels.
    #[derive(Copy, Eq, Hash)]
    pub struct Crop {
        /// The picture.
        pub of: BlobId,
        /// Left edge.
        pub x: u32,
        /// Top edge.
        pub y: u32,
        /// Width.
        pub width: u32,
        /// Height.
        pub height: u32,
    }
}
