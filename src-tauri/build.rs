//! Reads the shell's configuration and the built screens into the program.

fn main() {
    tauri_build::build();
}
