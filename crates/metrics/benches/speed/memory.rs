//! Peak memory of one whole reading: in a process of its own, which tells its own high-water mark.

use std::path::Path;
use std::process::Command;

use crate::photos::{self, Photograph, USUAL};
use crate::table::Table;
use crate::whole;

/// Most that reading the usual photograph may take, in megabytes.
const MOST: f64 = 300.0;

/// Adds a row for each photograph. Only Linux says how much a process has used at most.
pub fn compare(photos: &[Photograph], table: &mut Table) -> Result<(), String> {
    if !cfg!(target_os = "linux") {
        return Ok(());
    }
    for (index, photo) in photos.iter().enumerate() {
        let name = format!("peak memory, {:.0} MP", photo.megapixels);
        table.memory(&name, of_child(photo)?, MOST, index == USUAL);
    }
    Ok(())
}

fn of_child(photo: &Photograph) -> Result<f64, String> {
    let file = photos::folder()?.join("once.jpg");
    let expect = photos::folder()?.join("once.json");
    let text = serde_json::to_vec(&photo.expect).map_err(|e| e.to_string())?;
    std::fs::write(&file, &photo.jpeg).map_err(|e| e.to_string())?;
    std::fs::write(&expect, text).map_err(|e| e.to_string())?;
    let this = std::env::current_exe().map_err(|e| e.to_string())?;
    let output = Command::new(this)
        .arg("--read-once")
        .arg(&file)
        .output()
        .map_err(|e| e.to_string())?;
    let said = String::from_utf8_lossy(&output.stdout);
    said.trim()
        .parse::<f64>()
        .map_err(|_| format!("the reading process said: {said}"))
}

/// Reads one photograph and prints the most memory this process has used, in megabytes.
pub fn read_once(file: &Path) -> Result<(), String> {
    let jpeg = std::fs::read(file).map_err(|e| e.to_string())?;
    let expect = std::fs::read(file.with_extension("json")).map_err(|e| e.to_string())?;
    let reading = whole::read(&Photograph {
        megapixels: 0.0,
        jpeg,
        expect: serde_json::from_slice(&expect).map_err(|e| e.to_string())?,
    });
    drop(reading);
    println!("{}", peak()?);
    Ok(())
}

/// The most memory that this process has used, in megabytes.
pub fn peak() -> Result<f64, String> {
    // proc(5): VmHWM is the peak resident set size, in kB.
    let status = std::fs::read_to_string("/proc/self/status").map_err(|e| e.to_string())?;
    let kilobytes = status
        .lines()
        .find_map(|line| line.strip_prefix("VmHWM:"))
        .and_then(|rest| rest.split_whitespace().next()?.parse::<f64>().ok())
        .ok_or("the system does not say how much memory was used")?;
    Ok(kilobytes / 1024.0)
}
