//! What a person may hand in by mistake: a clear sentence with what to do, an exit code that is
//! not 0, and nothing lost.

use std::fs;
use std::io::{BufRead, BufReader, Cursor};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use image::{DynamicImage, ImageFormat, Rgb, RgbImage};

const POTHOOK: &str = env!("CARGO_BIN_EXE_pothook");

/// The program, with a key that all tests share.
fn program() -> Command {
    let mut program = Command::new(POTHOOK);
    program.env(
        "POTHOOK_KEY_FILE",
        concat!(env!("CARGO_TARGET_TMPDIR"), "/key"),
    );
    program
}

fn pothook(arguments: &[&str]) -> Output {
    program()
        .args(arguments)
        .stdin(Stdio::null())
        .output()
        .expect("the program runs")
}

/// The program fails with this code and says what to do; it never shows a panic.
fn assert_refused(output: &Output, code: &str) {
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(
        !output.status.success(),
        "must fail with {code}, said: {said}"
    );
    assert!(
        output.status.code().is_some_and(|code| code < 100),
        "crashed: {said}"
    );
    assert!(
        said.contains(&format!("[{code}]")),
        "expected {code}, said: {said}"
    );
    assert!(!said.contains("panicked"), "{said}");
    let sentences = said
        .lines()
        .next()
        .unwrap_or_default()
        .matches(['.', '?', '…'])
        .count();
    assert!(sentences >= 2, "says what happened and what to do: {said}");
}

fn measure(folder: &Path, name: &str, bytes: &[u8]) -> Output {
    let path = folder.join(name);
    fs::write(&path, bytes).unwrap();
    pothook(&["measure", path.to_str().unwrap(), "--ruling", "lines:8"])
}

fn jpeg(picture: RgbImage) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    DynamicImage::from(picture)
        .write_to(&mut bytes, ImageFormat::Jpeg)
        .unwrap();
    bytes.into_inner()
}

/// A little unevenness from a fixed recipe, as any surface has.
fn grain(x: u32, y: u32) -> i32 {
    let mixed =
        (x.wrapping_mul(0x9E37_79B1) ^ y.wrapping_mul(0x85EB_CA77)).wrapping_mul(0xC2B2_AE3D);
    (mixed >> 28) as i32 - 8
}

fn surface(width: u32, height: u32, colour: impl Fn(u32, u32) -> [i32; 3]) -> RgbImage {
    RgbImage::from_fn(width, height, |x, y| {
        let shade = grain(x, y) / 2;
        Rgb(colour(x, y).map(|value| (value + shade).clamp(0, 255) as u8))
    })
}

fn desk() -> Vec<u8> {
    jpeg(surface(1600, 2000, |x, y| {
        let wave = (f64::from(y) / 37.0 + (f64::from(x) / 211.0).sin() * 2.0).sin() * 14.0;
        [
            120 + wave as i32,
            82 + wave as i32,
            50 + (wave * 0.6) as i32,
        ]
    }))
}

fn blank_page() -> Vec<u8> {
    jpeg(surface(1600, 2200, |x, y| {
        let on_sheet = (150..1450).contains(&x) && (180..2018).contains(&y);
        if on_sheet {
            [238, 236, 230]
        } else {
            [92, 70, 52]
        }
    }))
}

fn test_page() -> (PathBuf, image::RgbImage) {
    let pages = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/pages");
    let mut names: Vec<_> = fs::read_dir(&pages)
        .expect("the test pages are there")
        .filter_map(|entry| entry.ok().map(|entry| entry.path()))
        .filter(|path| path.extension().is_some_and(|ending| ending == "jpg"))
        .collect();
    names.sort();
    let first = names.swap_remove(0);
    let picture = image::open(&first).unwrap().to_rgb8();
    (first, picture)
}

#[test]
fn files_that_are_no_readable_photograph() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    assert_refused(
        &measure(folder, "letter.jpg", b"Dear tutor, here is the page."),
        "not-a-photo",
    );
    assert_refused(&measure(folder, "empty.jpg", b""), "not-a-photo");
    assert_refused(
        &measure(folder, "dot.jpg", &jpeg(RgbImage::new(1, 1))),
        "photo-too-small",
    );

    let heic = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic and then the rest";
    assert_refused(&measure(folder, "IMG_0001.HEIC", heic), "photo-heic");

    let (_, page) = test_page();
    let whole = jpeg(page);
    assert_refused(
        &measure(folder, "cut.jpg", &whole[..whole.len() / 3]),
        "photo-cut-short",
    );
}

#[test]
fn a_header_that_promises_thirty_thousand_pixels_a_side_takes_no_memory() {
    let folder = tempfile::tempdir().unwrap();
    // PNG signature and an IHDR chunk of 30,000 × 30,000, RGB, with its CRC (ISO/IEC 15948).
    let mut png = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec();
    png.extend(30_000_u32.to_be_bytes());
    png.extend(30_000_u32.to_be_bytes());
    png.extend([8, 2, 0, 0, 0]);
    png.extend(crc32(&png[12..]).to_be_bytes());
    png.extend(b"\0\0\0\0IDAT\x35\xaf\x06\x1e");
    assert_refused(&measure(folder.path(), "huge.png", &png), "photo-too-large");
}

/// The CRC of a PNG chunk (ISO/IEC 15948, annex D).
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |crc, _| {
            if crc & 1 == 1 {
                0xEDB8_8320 ^ (crc >> 1)
            } else {
                crc >> 1
            }
        })
    })
}

#[test]
fn photographs_that_show_no_readable_page() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    assert_refused(&measure(folder, "desk.jpg", &desk()), "no-page-found");
    assert_refused(&measure(folder, "blank.jpg", &blank_page()), "page-unfit");

    let (_, page) = test_page();
    let blurred = image::imageops::blur(&page, 14.0);
    assert_refused(&measure(folder, "shaken.jpg", &jpeg(blurred)), "page-unfit");
}

#[test]
fn a_path_that_is_gone_does_not_stop_the_others() {
    let (page, _) = test_page();
    let output = pothook(&[
        "measure",
        "/nowhere/page.jpg",
        page.to_str().unwrap(),
        "--paper",
        "a5",
    ]);
    assert!(!output.status.success());
    assert!(String::from_utf8_lossy(&output.stderr).contains("[file-gone]"));
    assert!(String::from_utf8_lossy(&output.stdout).contains("x_height"));
}

#[test]
fn a_second_start_on_one_data_folder_is_refused_and_harms_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().to_str().unwrap();
    assert!(
        pothook(&["--data", data, "settle", "tutor", "Study"])
            .status
            .success()
    );
    let mut first = program()
        .args(["--data", data, "serve"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(first.stdout.as_mut().unwrap())
        .read_line(&mut line)
        .unwrap();
    assert!(line.starts_with("Open http://127.0.0.1:"), "{line}");
    let second = pothook(&["--data", data, "pupils"]);
    first.kill().unwrap();
    first.wait().unwrap();
    assert_refused(&second, "data-in-use");
    assert!(pothook(&["--data", data, "pupils"]).status.success());
}

#[test]
fn a_folder_with_something_else_in_it_is_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("notes.txt");
    fs::write(&file, "mine").unwrap();
    let output = pothook(&["--data", file.to_str().unwrap(), "pupils"]);
    assert_refused(&output, "data-closed");
    assert_eq!(fs::read_to_string(&file).unwrap(), "mine");
}

#[test]
fn a_full_disk_is_said_and_costs_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let Some(disk) = SmallDisk::mount(folder.path()) else {
        println!("not run: this machine does not let a small disk be mounted");
        return;
    };
    let data = disk.0.join("data");
    let data = data.to_str().unwrap();
    assert!(
        pothook(&["--data", data, "settle", "tutor", "Study"])
            .status
            .success()
    );
    let add = |name: &str| {
        pothook(&[
            "--data",
            data,
            "add-pupil",
            name,
            "--year",
            "3",
            "--hand",
            "left",
        ])
    };
    assert!(add("Before").status.success());
    // Fill what is left, then ask for more.
    let filler = disk.0.join("filler");
    let mut size = 64 << 10;
    let mut held = Vec::new();
    while size >= 512 {
        held.resize(held.len() + size, 7);
        if fs::write(&filler, &held).is_err() {
            held.truncate(held.len() - size);
            size /= 2;
        }
    }
    let _ = fs::write(&filler, &held);
    assert_refused(&add("During"), "disk-full");
    fs::remove_file(&filler).unwrap();
    assert!(add("After").status.success());
    let listed = pothook(&["--data", data, "pupils"]);
    let listed = String::from_utf8_lossy(&listed.stdout).into_owned();
    assert!(
        listed.contains("Before") && listed.contains("After"),
        "{listed}"
    );
    assert!(!listed.contains("During"), "{listed}");
}

/// A disk of 1 MiB in memory, where the machine lets one be mounted.
struct SmallDisk(PathBuf);

impl SmallDisk {
    fn mount(at: &Path) -> Option<Self> {
        let mounted = Command::new("mount")
            .args(["-t", "tmpfs", "-o", "size=1m", "tmpfs"])
            .arg(at)
            .stderr(Stdio::null())
            .status();
        mounted
            .is_ok_and(|status| status.success())
            .then(|| Self(at.to_owned()))
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(&self.0).status();
    }
}
