//! The page is part of the program: it is built again when the page is.

fn main() {
    println!("cargo:rerun-if-changed=../../ui/dist/phone");
}
