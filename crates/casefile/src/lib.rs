//! A pupil's documents: typed writing and reading, who may write what, signatures, and one view
//! merged from what every device wrote. Beside it, the progress over those pages.
//!
//! **May not know:** pixels, disk, network, clock. Days, moments and ids come in from outside.
//!
//! # Books and documents
//!
//! A pupil has two books: the *tutor's book* and the *home book*. The tutor also has one private
//! *practice book*: the list of pupils and notes that never leave the tutor's own devices. A book
//! is one Automerge document **for each writing device**; a device writes in its own document only
//! and the books are merged in the view. So a refused change never blocks another device's, and a
//! change rests on earlier changes of the same author alone.
//!
//! One [`CaseFile::write`] makes one Automerge change, signed by the device
//! ([`SignedChange`]). [`CaseFile::accept`] takes changes in the author's order; between authors
//! any order leads to the same view, and a repeat does nothing. The envelope of a change stays as it is
//! for ever; what only a newer version can open is kept, checked, counted and passed on unopened.
//!
//! # Who belongs
//!
//! Beside the books stands a *log* ([`Step`]): who is admitted, removed, holds the key on paper. Its
//! entries are signed by the tutor's devices and rest on those before them by hash, and a pupil's id is
//! the hash of the first. [`Standing`] is what they come to, the same for everybody who has the same
//! entries; what happens where two are written at once is said in its module. Whether an entry is taken
//! hangs on what it rests on and on nothing else, so it does not matter what came first. A removal names
//! for each document of the removed device the last change that stands: whatever comes after it is refused,
//! and let go of where it had been taken, whatever its clock says. The device itself lets go of nothing: it
//! brings it all back if it is admitted again.
//!
//! # Founding anew
//!
//! A history in Automerge cannot be shortened. To forget a page, a former name or a year, a device of
//! the tutor's *founds the books anew* ([`CaseFile::found_anew`]): it writes the present state, without
//! what is forgotten, into fresh documents (the *seed*), and the log names them, with the random ids of
//! what is forgotten and nothing else about it. Whoever reads that goes on with the old documents until
//! the whole seed is here, then takes up the new ones in one step and lets the old ones go
//! ([`CaseFile::settle`]). What a device wrote meanwhile it carries over into its own new document,
//! but for whatever names something forgotten; such edits are counted and told. (A page and what was practised
//! name the task that they answer, and go by their own id alone.) A founding that is
//! missed, done twice at once, or voided by a removal ends in one state all the same: see the tests.
//!
//! # Schema 1
//!
//! A document is one flat map at the Automerge root; every version of the schema keeps to that.
//! Ids in keys are lower-case hexadecimal.
//!
//! | key | value | kind | books |
//! |---|---|---|---|
//! | `schema` | uint, 1 | | all |
//! | `stamp` | uint: logical time of the last change | | all |
//! | `profile/FIELD` | `name` str, `year` uint, `hand` `paper` codes, `model` code or str, `ruling` bytes, `delete_by` int: day, or null, `letters_shown` true or false | register | tutor |
//! | `task/TASK/FIELD` | `set_on` int, `kind` `paper` codes, `text` str or null, `ruling` bytes, `minutes` uint, `focus` code or null | register | tutor |
//! | `page/PAGE` | bytes | record | both |
//! | `gone/PAGE` | true: taken out | record | both |
//! | `model/PAGE` | str | record | both |
//! | `text/PAGE` | str or null | register | both |
//! | `ruling/PAGE` | bytes: other than the page's own | register | both |
//! | `minutes/PAGE` | uint or null | register | both |
//! | `looked/PAGE` | int: milliseconds | register | tutor |
//! | `reading/PAGE/READING` | bytes | record | both |
//! | `mark/MARK` | bytes | record | tutor |
//! | `remark/MARK` | bytes: what it is now, as in `mark/MARK`, where page and moment stay | register | tutor |
//! | `unmark/MARK` | true | record | tutor |
//! | `amend/AMENDMENT` | bytes | record | tutor |
//! | `unamend/AMENDMENT` | true | record | tutor |
//! | `focus/FOCUS` | bytes | record | tutor |
//! | `focus_end/FOCUS` | int: day | register | tutor |
//! | `start/PAGE` | true or false: part of the starting point | register | tutor |
//! | `target/MEASURE` | bytes, or null | register | tutor |
//! | `device/DEVICE` | str: what it is called | register | tutor |
//! | `practised/ID` `setup/ID` | bytes | record | both |
//! | `unpractised/ID` | true: taken back | record | both |
//! | `reply/ID` | bytes | record | both |
//! | `ask/ID` | bytes: a wish that something be forgotten | record | both |
//! | `unask/ID` | true: put aside | record | tutor |
//! | `by/ID` | bytes: who made a record of another device that a seed carries over; `by/HEAD/ID` where two have the id | | tutor |
//! | `own/NUMBER` | bytes: fingerprints of what its author wrote and has left to a seed, 16 each, BLAKE3 of key, logical time and value | | all |
//! | `pupil/PUPIL` | true or false | register | practice |
//! | `order` | bytes: 16 for each pupil | register | practice |
//! | `note/PUPIL` | str | register | practice |
//! | `lesson/PUPIL` | uint: minutes since Monday 00:00, or null | register | practice |
//!
//! A *register* can be written again; beside it stands `KEY@` (uint), its logical time. A *record*
//! is written once; its bytes are a version (now 1) and the packed fields. Codes are numbers that
//! never change their meaning. A text is its lines, each closed by a line feed; null where the text
//! is not known. A letter model is a code for those to start from, or else its text ([`letters_text`]);
//! a page has the code in its bytes, and beside it the text of a model of the tutor's own, which
//! holds where it is by the page's author. What a reader does not know it leaves alone and reports as
//! [`PupilView::newer`]. A new key or record needs no new schema; another meaning of an old one does, and
//! then the older program shows what it understands and writes nothing.
//!
//! # How documents merge
//!
//! A change's logical time is one more than the highest that its writer had seen, so whoever writes
//! after having seen wins. Two writes that had not seen each other may share a time: then the
//! tutor's book goes before the home book, and within a book the higher device id. A time that no honest
//! writing reaches, 2^53 and the number of all changes, counts as 0.
//!
//! | both sides | outcome |
//! |---|---|
//! | add different pages, readings, marks, amendments, focuses, tasks, replies, practice, checks | all are there |
//! | set different fields of the profile or of a task | both hold |
//! | set the same field, text, minutes, end of a focus, target, moment of looking | the later logical time; at the same time the tie rule |
//! | change a mark in two ways | all of it by the later logical time; at the same time the tie rule |
//! | remove a mark, change it elsewhere | it is gone everywhere |
//! | remove a mark, see or remove it elsewhere | it is gone everywhere; a removal may come before the mark |
//! | take an amendment back, see or take it back elsewhere | it is gone everywhere; this may come before the amendment |
//! | take practice back, see or take it back elsewhere | it is gone everywhere; this may come before what it takes back |
//! | put the same thing right in two ways | both are kept, ordered by moment, then id; the later holds |
//! | take a page out, mark or answer it elsewhere | the page is gone, and what was written on it is shown no longer; it goes with the next founding |
//! | bring a record under an id that is taken | the tutor's book, then the lower device id, keeps it |
//! | measure one page twice | both readings are kept, ordered by logical time, then moment, then id |

mod author_doc;
mod blobs;
mod books;
mod bounds;
mod case_file;
mod chunk;
mod circle;
mod codes;
mod doc_id;
mod edit;
mod forgotten;
mod founding;
#[cfg(any(test, feature = "fuzz"))]
pub mod fuzz;
mod grammar;
mod letters;
mod log;
mod merged;
mod packed;
mod practice;
pub mod progress;
mod refusal;
mod signed_change;
mod signer;
mod view;

pub use case_file::CaseFile;
pub use circle::Settled;
pub use doc_id::{BookKind, DocId, FoundingId};
pub use edit::Edit;
pub use letters::{LettersRefused, MAX_LETTERS_BYTES, letters_text, read_letters};
pub use log::{CircleKind, End, Founding, MAX_ENTRIES, MAX_FORGOTTEN, Reached, Standing, Step};
pub use practice::{PracticeBook, PracticeEdit, PracticeView};
pub use refusal::{Accepted, DecodeRefused, Refused, WriteRefused};
pub use signed_change::SignedChange;
pub use signer::Signer;
pub use view::PupilView;

/// Most bytes of one change as signed and stored: 1 MiB.
pub const MAX_CHANGE_BYTES: usize = 1 << 20;
/// Most changes of one document beyond the seed that it begins with.
pub const MAX_DOCUMENT_CHANGES: u64 = 500_000;
/// Most bytes of them: 128 MiB.
pub const MAX_DOCUMENT_BYTES: u64 = 128 << 20;
/// Most bytes of a seed, which holds the state of all documents: 1 GiB.
pub const MAX_SEED_BYTES: u64 = 1 << 30;
/// Most characters of a pupil's name.
pub const MAX_NAME_CHARS: usize = 60;
/// Most characters of a mark's words, of what to try, and of one private note.
pub const MAX_WORDS_CHARS: usize = 2_000;
/// Most points of one pen stroke.
pub const MAX_PEN_POINTS: usize = 4_000;
/// Most lines of a text.
pub const MAX_TEXT_LINES: usize = 200;
/// Most characters in one line of a text.
pub const MAX_LINE_CHARS: usize = 500;
/// Most minutes of practice that a task asks for, and that writing a page takes.
pub const MAX_MINUTES: u16 = 240;
/// Most pupils in the practice book's order.
pub const MAX_PUPILS: usize = 1_000;
