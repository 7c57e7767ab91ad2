//! The data folder in use, under damage, on a full disk and under `kill -9`.

mod child;
mod crash;
mod damage;
mod folder;
mod full_disk;
mod writes;
