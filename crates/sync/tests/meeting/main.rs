//! Devices meeting: over real sockets on the loopback address, and in memory with faults.

mod catching_up;
mod crowd;
mod faults;
mod forwarder;
mod found;
mod hostile_callers;
mod hostile_hosts;
mod level;
mod many;
mod members;
mod pairing;
mod parts;
mod progress;
mod quiet;
mod raw;
mod relayed;
mod rough;
mod shelf;
mod strangers;
