//! What may be typed.

use std::net::IpAddr;
use std::path::PathBuf;

use app::MAX_MINUTES;
use app::units::{Aspect, Day, Hand, LetterModel, Paper, Role, Ruling, TaskKind};
use clap::builder::RangedI64ValueParser;
use clap::{Args as Group, Parser, Subcommand};

use crate::names;

/// Measures handwriting practice pages, and keeps a tutor and a parent on the same page.
#[derive(Debug, Parser)]
#[command(name = "pothook", version, about)]
pub(crate) struct Args {
    /// Folder of this device's data.
    #[arg(long, global = true, default_value = "pothook-data")]
    pub data: PathBuf,
    /// File with the key of the data folder (32 bytes; made where there is none), instead of the system's
    /// keyring or a passphrase. Also POTHOOK_KEY_FILE.
    #[arg(long, global = true)]
    pub key_file: Option<PathBuf>,
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Measure photographs of pages; nothing is kept.
    Measure(Measure),
    /// Save a letter model as a file, to be changed.
    Letters(SaveLetters),
    /// Say whose device this data folder is.
    Settle(Settle),
    /// List the pupils.
    Pupils,
    /// Add a pupil.
    AddPupil(AddPupil),
    /// Set the week's task.
    Task(Task),
    /// Add a photographed page.
    AddPage(AddPage),
    /// List a pupil's pages.
    Pages(Pupil),
    /// Show one page.
    Page(Page),
    /// Say what stands on a page; it is measured again.
    Text(Text),
    /// Say how long the writing took; the page is measured again.
    Minutes(Minutes),
    /// Put a mark on a page.
    Mark(Mark),
    /// Say that the tutor has looked at a page.
    Look(Page),
    /// Begin a focus period.
    Focus(Focus),
    /// Show a pupil's progress.
    Progress(Pupil),
    /// Save what was put right about letters as training data, without names.
    ExportCorrections(ExportCorrections),
    /// List the other devices.
    Devices,
    /// Offer pairing to a family's device for one pupil (tutor).
    Offer(Pupil),
    /// Offer pairing to another device of your own (tutor).
    OfferOwn,
    /// Offer pairing to a tutor who has lost all devices and comes back by the key on paper (parent).
    OfferTutor(Pupil),
    /// Take up a pairing text.
    Join(Join),
    /// Remove a device: it hears nothing more, and nobody takes what it writes (tutor).
    RemoveDevice(Device),
    /// Say at which address a device can be reached.
    Address(Address),
    /// Make the key on paper, which gets you back in when every device is lost (tutor).
    PaperKey(MakePaperKey),
    /// Switch meetings over the network on or off.
    Network(Network),
    /// Meet all other devices.
    Exchange,
    /// Stay on, and meet the other devices whenever they come.
    Keep,
    /// Show what happened while nobody looked.
    Notices,
    /// Note minutes of practice.
    Practised(Practised),
    /// Make carry files about a pupil, to be sent by any messenger.
    CarryOut(CarryOut),
    /// Open carry files.
    CarryIn(Files),
    /// Forget a page, on every device (tutor), or ask for it (parent).
    ForgetPage(Page),
    /// Forget all that is older than a day, on every device (tutor).
    ForgetBefore(ForgetBefore),
    /// Erase a pupil on every device (tutor), or ask for it (parent).
    Erase(Erase),
    /// Set the day by which a pupil is to be erased (tutor).
    DeleteBy(DeleteBy),
    /// Save all of a pupil in open formats: JPEG, CSV, JSON.
    Export(Export),
    /// Save all that this device holds in one encrypted file.
    Backup(Backup),
    /// Read a backup through.
    CheckBackup(Backup),
    /// Make the data folder from a backup.
    Restore(Backup),
    /// Show the screens at a local web address.
    Serve(Serve),
    /// Let a phone without the program photograph a pupil's page, on the same Wi-Fi.
    Phone(Phone),
}

/// Photographs and what is known of them.
#[derive(Debug, Group)]
pub(crate) struct Measure {
    /// Photographs (JPEG, PNG, WebP).
    #[arg(required_unless_present = "manifest")]
    pub photos: Vec<PathBuf>,
    /// Paper: a4, a5, us-letter.
    #[arg(long, value_parser = names::paper, default_value = "a4")]
    pub paper: Paper,
    /// Ruling in mm: plain, lines:8, squares:5, squares:5x2, four-line:12/4.
    #[arg(long, value_parser = names::ruling, default_value = "lines:8")]
    pub ruling: Ruling,
    #[command(flatten)]
    pub letters: Letters,
    /// File with the text, a written line a line; crossed-out words left out.
    #[arg(long)]
    pub text: Option<PathBuf>,
    /// Whole minutes that the writing took, where it was timed.
    #[arg(long, value_parser = whole_minutes())]
    pub minutes: Option<u16>,
    /// Print JSON, one object a photograph.
    #[arg(long)]
    pub json: bool,
    /// Folder for a picture of each stage.
    #[arg(long)]
    pub stages: Option<PathBuf>,
    /// Measure every page of a manifest.
    #[arg(long, requires = "out", conflicts_with = "photos")]
    pub manifest: Option<PathBuf>,
    /// Folder for the results of a manifest.
    #[arg(long)]
    pub out: Option<PathBuf>,
}

/// The letters that are taught.
#[derive(Debug, Group)]
pub(crate) struct Letters {
    /// Letter model: unjoined, joined (some letters apart), joined-throughout.
    #[arg(long, value_parser = names::model, default_value = "unjoined")]
    pub model: LetterModel,
    /// File with a letter model of one's own.
    #[arg(long, conflicts_with = "model")]
    pub letters: Option<PathBuf>,
}

/// A letter model as a file.
#[derive(Debug, Group)]
pub(crate) struct SaveLetters {
    /// Letter model to start from: unjoined, joined, joined-throughout.
    #[arg(value_parser = names::model)]
    pub model: LetterModel,
    /// The file.
    pub file: PathBuf,
}

/// Corrections as a file.
#[derive(Debug, Group)]
pub(crate) struct ExportCorrections {
    /// A pupil whose family agreed; say it once for each.
    #[arg(long, required = true)]
    pub pupil: Vec<String>,
    /// The file.
    pub file: PathBuf,
}

/// Whose device.
#[derive(Debug, Group)]
pub(crate) struct Settle {
    /// tutor or parent.
    #[arg(value_parser = names::role)]
    pub role: Role,
    /// The name that the other side sees.
    pub name: String,
}

/// A new pupil.
#[derive(Debug, Group)]
pub(crate) struct AddPupil {
    /// A first name or initials.
    pub name: String,
    /// School year, 0 to 13.
    #[arg(long, value_parser = clap::value_parser!(u8).range(0..=13))]
    pub year: u8,
    /// Writing hand: left, right.
    #[arg(long, value_parser = names::hand)]
    pub hand: Hand,
    #[command(flatten)]
    pub letters: Letters,
    /// Usual paper.
    #[arg(long, value_parser = names::paper, default_value = "a4")]
    pub paper: Paper,
    /// Usual ruling.
    #[arg(long, value_parser = names::ruling, default_value = "lines:8")]
    pub ruling: Ruling,
}

/// A pupil.
#[derive(Debug, Group)]
pub(crate) struct Pupil {
    /// Name, id, or the beginning of one.
    pub pupil: String,
}

/// A new task.
#[derive(Debug, Group)]
pub(crate) struct Task {
    /// Name, id, or the beginning of one.
    pub pupil: String,
    /// copied, dictated, own-words.
    #[arg(long, value_parser = names::kind)]
    pub kind: TaskKind,
    /// The text; say it once for each line.
    #[arg(long)]
    pub line: Vec<String>,
    /// Ruling, if not the usual one.
    #[arg(long, value_parser = names::ruling)]
    pub ruling: Option<Ruling>,
    /// Paper, if not the usual one.
    #[arg(long, value_parser = names::paper)]
    pub paper: Option<Paper>,
    /// Minutes of practice.
    #[arg(long, default_value_t = 10)]
    pub minutes: u16,
    /// The aspect to work on.
    #[arg(long, value_parser = names::aspect)]
    pub focus: Option<Aspect>,
}

/// A new page.
#[derive(Debug, Group)]
pub(crate) struct AddPage {
    /// Name, id, or the beginning of one.
    pub pupil: String,
    /// The photograph.
    pub photo: PathBuf,
    /// The task it answers: an id, or `newest`.
    #[arg(long)]
    pub task: Option<String>,
    /// Kind, where it answers no task.
    #[arg(long, value_parser = names::kind)]
    pub kind: Option<TaskKind>,
    /// Day it was written, YYYY-MM-DD.
    #[arg(long)]
    pub on: Option<Day>,
    /// Keep it though a check failed.
    #[arg(long)]
    pub despite: bool,
}

/// A page.
#[derive(Debug, Group)]
pub(crate) struct Page {
    /// Name, id, or the beginning of one.
    pub pupil: String,
    /// Id, the beginning of one, or `newest`.
    pub page: String,
}

/// What stands on a page.
#[derive(Debug, Group)]
pub(crate) struct Text {
    #[command(flatten)]
    pub of: Page,
    /// The text; say it once for each line.
    #[arg(long, required = true)]
    pub line: Vec<String>,
}

/// How long the writing took.
#[derive(Debug, Group)]
pub(crate) struct Minutes {
    #[command(flatten)]
    pub of: Page,
    /// Whole minutes; left out where nobody timed it.
    #[arg(value_parser = whole_minutes())]
    pub minutes: Option<u16>,
}

/// A new mark.
#[derive(Debug, Group)]
pub(crate) struct Mark {
    #[command(flatten)]
    pub of: Page,
    /// The sentence.
    #[arg(long, default_value = "")]
    pub words: String,
    /// A place for the sentence: x,y in mm.
    #[arg(long, value_parser = names::point, conflicts_with_all = ["around", "stroke"])]
    pub at: Option<app::units::PointMm>,
    /// A box: x0,y0,x1,y1 in mm.
    #[arg(long, value_parser = names::bounds, conflicts_with = "stroke")]
    pub around: Option<app::units::BoxMm>,
    /// A pen stroke: x,y points in mm.
    #[arg(long, value_parser = names::point, num_args = 2..)]
    pub stroke: Vec<app::units::PointMm>,
    /// The aspect it speaks of.
    #[arg(long, value_parser = names::aspect)]
    pub aspect: Option<Aspect>,
    /// It praises.
    #[arg(long)]
    pub praise: bool,
}

/// A new focus period.
#[derive(Debug, Group)]
pub(crate) struct Focus {
    /// Name, id, or the beginning of one.
    pub pupil: String,
    /// The aspect.
    #[arg(value_parser = names::aspect)]
    pub aspect: Aspect,
    /// First day, YYYY-MM-DD.
    #[arg(long)]
    pub from: Option<Day>,
    /// The tutor's sentence on what to try.
    #[arg(long, default_value = "")]
    pub try_this: String,
}

/// A pairing text.
#[derive(Debug, Group)]
pub(crate) struct Join {
    /// The text that the other device shows.
    #[arg(required = true)]
    pub code: Vec<String>,
    /// Come back by the key on paper; it is asked for.
    #[arg(long)]
    pub paper_key: bool,
}

/// A device.
#[derive(Debug, Group)]
pub(crate) struct Device {
    /// Its name, or the beginning of its key.
    pub device: String,
}

/// A device and its address.
#[derive(Debug, Group)]
pub(crate) struct Address {
    #[command(flatten)]
    pub of: Device,
    /// Address and port, as the other device shows it.
    pub address: String,
}

/// The key on paper.
#[derive(Debug, Group, Clone, Copy)]
pub(crate) struct MakePaperKey {
    /// Replace the key that there is; it is asked for.
    #[arg(long)]
    pub replace: bool,
}

/// On or off.
#[derive(Debug, Group)]
pub(crate) struct Network {
    /// on or off.
    #[arg(value_parser = ["on", "off"])]
    pub state: String,
    /// A relay that carries meetings where there is no direct way.
    #[arg(long)]
    pub relay: Option<String>,
}

/// Practice that was done.
#[derive(Debug, Group)]
pub(crate) struct Practised {
    /// Name, id, or the beginning of one.
    pub pupil: String,
    /// Whole minutes.
    #[arg(value_parser = whole_minutes())]
    pub minutes: u16,
    /// The day, YYYY-MM-DD.
    #[arg(long)]
    pub on: Option<Day>,
}

/// Carry files to be made.
#[derive(Debug, Group)]
pub(crate) struct CarryOut {
    /// Name, id, or the beginning of one.
    pub pupil: String,
    /// Folder for the files.
    pub folder: PathBuf,
    /// For one device only: its name, or the beginning of its key.
    #[arg(long)]
    pub to: Option<String>,
    /// Most megabytes of one file.
    #[arg(long, value_parser = clap::value_parser!(u32).range(1..=64))]
    pub part: Option<u32>,
}

/// Files.
#[derive(Debug, Group)]
pub(crate) struct Files {
    /// The files.
    #[arg(required = true)]
    pub files: Vec<PathBuf>,
}

/// A day before which everything goes.
#[derive(Debug, Group)]
pub(crate) struct ForgetBefore {
    /// Name, id, or the beginning of one.
    pub pupil: String,
    /// The first day that stays, YYYY-MM-DD.
    pub day: Day,
}

/// A pupil to be erased.
#[derive(Debug, Group)]
pub(crate) struct Erase {
    /// Name, id, or the beginning of one.
    pub pupil: String,
    /// Do not ask again.
    #[arg(long)]
    pub yes: bool,
}

/// A day by which everything goes.
#[derive(Debug, Group)]
pub(crate) struct DeleteBy {
    /// Name, id, or the beginning of one.
    pub pupil: String,
    /// The day, YYYY-MM-DD; left out for none.
    pub day: Option<Day>,
}

/// A pupil to be saved.
#[derive(Debug, Group)]
pub(crate) struct Export {
    /// Name, id, or the beginning of one.
    pub pupil: String,
    /// The file (zip).
    pub file: PathBuf,
}

/// A backup. Its passphrase is asked for.
#[derive(Debug, Group)]
pub(crate) struct Backup {
    /// The file.
    pub file: PathBuf,
}

/// The local web page.
#[derive(Debug, Group, Clone, Copy)]
pub(crate) struct Serve {
    /// Port on this machine; 0 lets the system choose.
    #[arg(long, default_value_t = 0)]
    pub port: u16,
}

/// A phone without the program.
#[derive(Debug, Group)]
pub(crate) struct Phone {
    /// Name, id, or the beginning of one.
    pub pupil: String,
    /// Address of this machine on the phone's network; the first private one where none is named.
    #[arg(long)]
    pub address: Option<IpAddr>,
}

/// How long the writing of a page may take.
fn whole_minutes() -> RangedI64ValueParser<u16> {
    clap::value_parser!(u16).range(1..=i64::from(MAX_MINUTES))
}
