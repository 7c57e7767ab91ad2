//! Writes that the system cuts short: a process that may not make a file longer than so much.

use std::io::BufReader;
use std::process::{Command, Stdio};

use crate::child::{filling, next_done, page};
use crate::ground::{blob_files, folder, id_of, open};

/// Runs the writing task in a shell that bounds the length of files, in blocks of 512 bytes. The
/// signal that would end the process is ignored, so that the system answers with an error.
fn start_bounded(folder: &std::path::Path, blocks: u32) -> std::process::Child {
    let program = std::env::current_exe().unwrap();
    let script = format!(
        "trap '' XFSZ; ulimit -f {blocks}; exec '{}' --exact child::second_process --ignored --nocapture",
        program.display()
    );
    Command::new("sh")
        .args(["-c", &script])
        .env("STORE_TEST_TASK", "write")
        .env("STORE_TEST_FOLDER", folder)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

#[cfg(unix)]
#[test]
fn a_write_that_is_cut_short_loses_nothing_that_was_acknowledged() {
    // The first stops at a photograph's file, the last at the database's log.
    for blocks in [90, 100, 300, 1200] {
        let folder = folder();
        let mut child = start_bounded(folder.path(), blocks);
        let mut out = BufReader::new(child.stdout.take().unwrap());
        let mut acknowledged = 0;
        while let Some(number) = next_done(&mut out) {
            acknowledged = number;
        }
        let ended = child.wait_with_output().unwrap();
        assert!(!ended.status.success());
        let told = String::from_utf8_lossy(&ended.stderr);
        assert!(told.contains("Disk(") || told.contains("Full"), "{told}");

        let store = open(folder.path());
        store.check().unwrap();
        let last = store
            .setting("last")
            .unwrap()
            .map_or(0, |bytes| u64::from_le_bytes(bytes.try_into().unwrap()));
        assert!(
            last == acknowledged || last == acknowledged + 1,
            "{last}, {acknowledged}"
        );
        assert_eq!(store.blobs().unwrap().len() as u64, last);
        assert_eq!(blob_files(folder.path()).len() as u64, last);
        for number in 1..=last {
            let photo = crate::child::photo(number);
            assert_eq!(store.blob(id_of(&photo)).unwrap(), Some(photo));
            let change = store.changes(b"home", number..=number).unwrap();
            assert_eq!(change, [(number, filling(number, 700))]);
        }
        store.transaction(page(last + 1)).unwrap();
        println!("{blocks} blocks: {acknowledged} pages acknowledged");
    }
}
