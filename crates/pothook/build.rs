//! The screens are part of the program: it is built again when they are.

fn main() {
    println!("cargo:rerun-if-changed=../../ui/dist");
}
