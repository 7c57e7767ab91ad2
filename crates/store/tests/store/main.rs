//! The data folder in use: encrypted, under damage, on failing disks, cut short at every step, under
//! `kill -9`, backed up and brought back.

mod backup;
mod backup_damage;
mod child;
mod crash;
mod cuts;
mod cuts_of_keys;
mod damage;
mod erased;
mod faults;
mod folder;
mod full_disk;
mod ground;
mod key_file;
mod openers;
mod parts;
mod renewal;
mod scene;
mod short_writes;
mod speed;
mod taken_in;
mod torn;
mod version_before;
mod writes;
