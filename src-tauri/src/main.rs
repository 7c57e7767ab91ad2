//! The desktop program; phones enter through the library.

#![cfg_attr(not(debug_assertions), windows_subsystem = "windows")]

fn main() {
    pothook_shell::run();
}
