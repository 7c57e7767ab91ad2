//! How much one address may want at a time.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// Connections at once from one address; a browser opens up to six.
const CONNECTIONS_OF_ONE: u32 = 8;
/// Connections at once in all.
const CONNECTIONS: u32 = 24;
/// Requests that one address may make at once …
const AT_ONCE: f64 = 40.0;
/// … and in every second after.
const A_SECOND: f64 = 4.0;
/// Addresses that are remembered.
const ADDRESSES: usize = 256;
/// After which an address without a connection is forgotten: its requests are all given back by then.
const FORGOTTEN: Duration = Duration::from_secs(10);

/// The addresses that came lately.
#[derive(Default, Clone)]
pub(crate) struct Limits(Arc<Mutex<HashMap<IpAddr, Visitor>>>);

struct Visitor {
    connections: u32,
    left: f64,
    at: Instant,
}

/// A connection's place; given back when dropped.
pub(crate) struct Seat {
    limits: Limits,
    from: IpAddr,
}

impl Limits {
    /// A place for a connection, if there is one.
    pub fn seat(&self, from: IpAddr, now: Instant) -> Option<Seat> {
        let mut known = self.known();
        known.retain(|_, visitor| {
            visitor.connections > 0 || now.saturating_duration_since(visitor.at) < FORGOTTEN
        });
        let all: u32 = known.values().map(|visitor| visitor.connections).sum();
        let new = !known.contains_key(&from);
        if all >= CONNECTIONS || (new && known.len() >= ADDRESSES) {
            return None;
        }
        let visitor = known.entry(from).or_insert(Visitor {
            connections: 0,
            left: AT_ONCE,
            at: now,
        });
        if visitor.connections >= CONNECTIONS_OF_ONE {
            return None;
        }
        visitor.connections += 1;
        Some(Seat {
            limits: self.clone(),
            from,
        })
    }

    fn known(&self) -> MutexGuard<'_, HashMap<IpAddr, Visitor>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Seat {
    /// Whose it is.
    pub fn from(&self) -> IpAddr {
        self.from
    }

    /// Whether one more request may be made now.
    pub fn may_ask(&self, now: Instant) -> bool {
        let mut known = self.limits.known();
        let Some(visitor) = known.get_mut(&self.from) else {
            return false;
        };
        let passed = now.saturating_duration_since(visitor.at).as_secs_f64();
        visitor.left = (visitor.left + passed * A_SECOND).min(AT_ONCE);
        visitor.at = now;
        let may = visitor.left >= 1.0;
        if may {
            visitor.left -= 1.0;
        }
        may
    }
}

impl Drop for Seat {
    fn drop(&mut self) {
        if let Some(visitor) = self.limits.known().get_mut(&self.from) {
            visitor.connections -= 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::net::Ipv4Addr;

    fn address(last: u8) -> IpAddr {
        IpAddr::V4(Ipv4Addr::new(192, 168, 1, last))
    }

    #[test]
    fn one_address_has_eight_connections_and_all_have_twenty_four() {
        let (limits, now) = (Limits::default(), Instant::now());
        let seats: Vec<Seat> = (0..8)
            .map(|_| limits.seat(address(1), now).unwrap())
            .collect();
        assert!(limits.seat(address(1), now).is_none());
        let others: Vec<Seat> = (0..16)
            .map(|at| limits.seat(address(2 + at / 8), now).unwrap())
            .collect();
        assert!(limits.seat(address(9), now).is_none(), "all are taken");
        drop(others);
        assert!(limits.seat(address(9), now).is_some());
        drop(seats);
        assert!(limits.seat(address(1), now).is_some());
    }

    #[test]
    fn forty_requests_at_once_then_four_a_second() {
        let (limits, now) = (Limits::default(), Instant::now());
        let seat = limits.seat(address(1), now).unwrap();
        assert_eq!((0..60).filter(|_| seat.may_ask(now)).count(), 40);
        let later = now + Duration::from_secs(2);
        assert_eq!((0..60).filter(|_| seat.may_ask(later)).count(), 8);
        let other = limits.seat(address(2), now).unwrap();
        assert!(other.may_ask(now), "another address is not held back");
    }

    #[test]
    fn a_new_connection_gives_no_new_requests() {
        let (limits, now) = (Limits::default(), Instant::now());
        let seat = limits.seat(address(1), now).unwrap();
        (0..40).for_each(|_| assert!(seat.may_ask(now)));
        drop(seat);
        let again = limits.seat(address(1), now).unwrap();
        assert!(!again.may_ask(now));
    }

    #[test]
    fn only_so_many_addresses_are_remembered_and_not_for_long() {
        let (limits, now) = (Limits::default(), Instant::now());
        for at in 0..=255 {
            drop(limits.seat(address(at), now).unwrap());
        }
        let other = IpAddr::V4(Ipv4Addr::new(10, 0, 0, 1));
        assert!(limits.seat(other, now).is_none());
        assert!(limits.seat(other, now + FORGOTTEN).is_some());
        assert_eq!(limits.known().len(), 1);
    }
}
