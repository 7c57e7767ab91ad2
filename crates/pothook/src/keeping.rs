//! Commands about backups, carry files, exports, and letting go.

use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};

use app::App;
use app::api::{
    AskToForget, BackUp, BackedUp, ForgetBefore, ForgetPages, MakeCarry, Nothing, OfPage, OfPupil,
    OpenCarry, SetDeleteBy,
};
use app::units::{AskedFor, Problem, Role};
use base64::Engine;
use base64::prelude::BASE64_STANDARD;

use crate::args;
use crate::cases::{find_page, find_pupil};
use crate::devices::find_device;
use crate::failure::{Failure, unreadable, unwritable};
use crate::opening::{opener_of_new, secret, twice};

/// What no program can do, said wherever something is erased.
const NOT_RECALLED: &str = "Copies made elsewhere cannot be recalled: backups, carry files that were \
    sent, exports, screenshots and prints.";

pub(crate) fn backup(app: &App, wanted: &args::Backup) -> Result<(), Failure> {
    let passphrase = twice(secret("Passphrase for the backup: ")?)?;
    let done = app.back_up(asked(wanted, passphrase))?;
    print_backup("Saved and read back", &done);
    println!("Without the passphrase nobody can open it, you neither.");
    Ok(())
}

pub(crate) fn check_backup(wanted: &args::Backup) -> Result<(), Failure> {
    let passphrase = secret("Passphrase of the backup: ")?;
    print_backup("Whole", &App::check_backup(&asked(wanted, passphrase))?);
    Ok(())
}

pub(crate) fn restore(
    folder: &Path,
    key_file: Option<&Path>,
    wanted: &args::Backup,
) -> Result<(), Failure> {
    let passphrase = secret("Passphrase of the backup: ")?;
    let opener = opener_of_new(key_file)?;
    let done = App::restore(&wanted.file, &passphrase, folder, &opener)?;
    print_backup("Restored", &done);
    println!(
        "This is a new device now. A family's device has to be paired again. Remove the device \
         before, if it is lost."
    );
    Ok(())
}

fn asked(wanted: &args::Backup, passphrase: String) -> BackUp {
    BackUp {
        path: wanted.file.display().to_string(),
        passphrase,
    }
}

fn print_backup(what: &str, backup: &BackedUp) {
    println!(
        "{what}: {} changes, {} pictures and readings, {:.1} MB",
        backup.changes,
        backup.blobs,
        backup.bytes / 1e6
    );
}

pub(crate) fn carry_out(app: &App, wanted: &args::CarryOut) -> Result<(), Failure> {
    let to = wanted.to.as_deref().map(|name| find_device(app, name));
    let made = app.make_carry(MakeCarry {
        pupil: find_pupil(app, &wanted.pupil)?,
        to: to.transpose()?,
        part_bytes: wanted.part.map(|megabytes| megabytes << 20),
    })?;
    for file in made.files {
        let bytes = BASE64_STANDARD.decode(&file.base64).unwrap_or_default();
        let path = save_new(&wanted.folder, &file.name, &bytes)?;
        println!("{}", path.display());
    }
    Ok(())
}

/// Writes a file under a name that is not taken yet: another pupil's of the same day may be there.
fn save_new(folder: &Path, name: &str, bytes: &[u8]) -> Result<PathBuf, Problem> {
    let (stem, kind) = name.rsplit_once('.').unwrap_or((name, ""));
    let mut path = folder.join(name);
    for number in 2.. {
        if !path.exists() {
            break;
        }
        path = folder.join(format!("{stem} ({number}).{kind}"));
    }
    let write = |file: &mut File| {
        file.write_all(bytes)
            .map_err(|error| unwritable(&path, &error))
    };
    whole(&path, write)?;
    Ok(path)
}

/// Makes a file that only its owner reads: the whole of it, or none.
fn whole<T>(
    path: &Path,
    write: impl FnOnce(&mut File) -> Result<T, Problem>,
) -> Result<T, Problem> {
    let unwritable = |error: &std::io::Error| unwritable(path, error);
    let mut options = File::options();
    options.write(true).read(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut file = options.open(path).map_err(|error| unwritable(&error))?;
    let written = write(&mut file);
    let written = written.and_then(|done| {
        file.sync_all().map_err(|error| unwritable(&error))?;
        Ok(done)
    });
    if written.is_err() {
        // Half a copy is none, and nobody is to take it for one.
        let _ = std::fs::remove_file(path);
    }
    written
}

pub(crate) fn carry_in(app: &App, wanted: &args::Files) -> Result<(), Failure> {
    let of = wanted.files.len();
    let mut failed = 0;
    for path in &wanted.files {
        let read = std::fs::read(path).map_err(|error| unreadable(path, &error));
        let opened = read.and_then(|bytes| {
            let base64 = BASE64_STANDARD.encode(bytes);
            app.open_carry(OpenCarry { base64 })
        });
        match opened {
            Ok(opened) => println!(
                "{}: part {} of {}, {} new changes, {} new files, {} refused{}",
                path.display(),
                opened.part,
                opened.parts,
                opened.new_changes,
                opened.new_blobs,
                opened.refused_changes,
                if opened.waits {
                    "; something before it has not come yet"
                } else {
                    ""
                },
            ),
            Err(problem) => {
                eprintln!("{}: {problem} [{}]", path.display(), problem.code);
                failed += 1;
            }
        }
    }
    match failed {
        0 => Ok(()),
        _ => Err(Failure::Some { failed, of }),
    }
}

pub(crate) fn forget_page(app: &App, wanted: &args::Page) -> Result<(), Failure> {
    let OfPage { pupil, page } = find_page(app, wanted)?;
    if role(app)? == Role::Parent {
        let wish = AskedFor::Page { page };
        app.ask_to_forget(AskToForget { pupil, wish })?;
        println!("The tutor will see that you ask for this.");
        return Ok(());
    }
    let pages = vec![page];
    app.forget_pages(ForgetPages { pupil, pages })?;
    println!("Forgotten here; other devices follow when they meet this one. {NOT_RECALLED}");
    Ok(())
}

pub(crate) fn forget_before(app: &App, wanted: &args::ForgetBefore) -> Result<(), Failure> {
    app.forget_before(ForgetBefore {
        pupil: find_pupil(app, &wanted.pupil)?,
        day: wanted.day,
    })?;
    println!("Forgotten here; other devices follow when they meet this one. {NOT_RECALLED}");
    Ok(())
}

pub(crate) fn erase(app: &App, wanted: &args::Erase) -> Result<(), Failure> {
    let pupil = find_pupil(app, &wanted.pupil)?;
    if role(app)? == Role::Parent {
        let wish = AskedFor::Everything;
        app.ask_to_forget(AskToForget { pupil, wish })?;
        println!("The tutor will see that you ask for this.");
        return Ok(());
    }
    if !wanted.yes && !is_sure()? {
        return Err(Problem::new(
            "not-erased",
            "Nothing was erased.",
            "Say yes if you mean it.",
        )
        .into());
    }
    app.erase_pupil(OfPupil { pupil })?;
    println!("Erased here; other devices follow when they meet this one. {NOT_RECALLED}");
    Ok(())
}

fn is_sure() -> Result<bool, Failure> {
    print!("Everything about this pupil goes, on every device. Type yes to erase it: ");
    let _ = std::io::stdout().flush();
    let mut line = String::new();
    let read = std::io::stdin().read_line(&mut line);
    Ok(read.is_ok() && line.trim().eq_ignore_ascii_case("yes"))
}

pub(crate) fn delete_by(app: &App, wanted: &args::DeleteBy) -> Result<(), Failure> {
    app.set_delete_by(SetDeleteBy {
        pupil: find_pupil(app, &wanted.pupil)?,
        day: wanted.day,
    })?;
    Ok(())
}

pub(crate) fn export(app: &App, wanted: &args::Export) -> Result<(), Failure> {
    let pupil = find_pupil(app, &wanted.pupil)?;
    let lacks = whole(&wanted.file, |out| app.export_pupil(pupil, out))?;
    println!("Saved, and not encrypted: whoever has the file can read it.");
    if lacks.pages > 0 {
        println!(
            "Not all is in it: of {} page(s) the picture or the letters are not on this device (lacking.csv in the \
             file names them). Let the devices meet, and save it again.",
            lacks.pages
        );
    }
    if lacks.newer {
        println!(
            "Not all is in it: a newer version of the program has written here. Update it, and save it again."
        );
    }
    Ok(())
}

fn role(app: &App) -> Result<Role, Failure> {
    let device = app.overview(Nothing {})?.device;
    let device = device.ok_or_else(|| {
        Problem::new(
            "not-settled",
            "This device has not been set up yet.",
            "Say first whose device it is: the tutor's or a parent's.",
        )
    })?;
    Ok(device.role)
}
