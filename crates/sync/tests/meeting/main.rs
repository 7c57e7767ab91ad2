//! Devices meeting over real sockets on the loopback address.

mod catching_up;
mod hostile_callers;
mod hostile_hosts;
mod level;
mod pairing;
mod raw;
mod shelf;
mod strangers;
