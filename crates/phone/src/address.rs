//! Where a phone can reach this computer.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};

use app::units::Problem;
use netdev::Interface;

use crate::problem;
use crate::shown::Reachable;

/// This computer's addresses on private networks (RFC 1918, RFC 4193), the network with the way to the
/// internet first, and of one network the shorter address before the longer.
pub fn addresses() -> Vec<Reachable> {
    of(netdev::get_interfaces())
}

fn of(mut cards: Vec<Interface>) -> Vec<Reachable> {
    cards.retain(|card| card.is_up() && !card.is_loopback() && !card.is_point_to_point());
    cards.sort_by_key(|card| !card.default);
    let mut found = Vec::new();
    for card in cards {
        let v4 = card.ipv4.iter().map(|net| IpAddr::V4(net.addr()));
        let v6 = card.ipv6.iter().map(|net| IpAddr::V6(net.addr()));
        let network = card.friendly_name.as_ref().unwrap_or(&card.name);
        found.extend(v4.chain(v6).filter(is_private).map(|address| Reachable {
            address,
            network: network.clone(),
        }));
    }
    found
}

fn is_private(address: &IpAddr) -> bool {
    match address {
        IpAddr::V4(address) => address.is_private(),
        IpAddr::V6(address) => address.is_unique_local(),
    }
}

/// The address where a person names none.
pub(crate) fn usual() -> Result<IpAddr, Problem> {
    let first = addresses().into_iter().next();
    first.map(|it| it.address).ok_or_else(problem::no_network)
}

/// An address that a person names: one, and no way to say *all of them*.
pub(crate) fn one(address: IpAddr) -> Result<IpAddr, Problem> {
    let all = [
        IpAddr::V4(Ipv4Addr::UNSPECIFIED),
        IpAddr::V6(Ipv6Addr::UNSPECIFIED),
        IpAddr::V4(Ipv4Addr::BROADCAST),
    ];
    let plain = address.to_canonical();
    if all.contains(&plain) || plain.is_multicast() {
        return Err(problem::not_one_address());
    }
    Ok(address)
}

#[cfg(test)]
mod tests {
    use super::*;

    const UP: u32 = 0x1;
    const LOOPBACK: u32 = 0x8;
    const POINT_TO_POINT: u32 = 0x10;

    fn card(name: &str, flags: u32, default: bool, v4: &[&str], v6: &[&str]) -> Interface {
        Interface {
            name: name.to_owned(),
            flags,
            default,
            ipv4: v4.iter().map(|net| net.parse().unwrap()).collect(),
            ipv6: v6.iter().map(|net| net.parse().unwrap()).collect(),
            ..Interface::dummy()
        }
    }

    #[test]
    #[cfg(unix)]
    fn private_networks_are_offered_and_the_way_out_first() {
        let found = of(vec![
            card("lo", UP | LOOPBACK, false, &["127.0.0.1/8"], &["::1/128"]),
            card("cable", UP, false, &["10.3.0.7/16", "203.0.113.4/24"], &[]),
            card("down", 0, false, &["192.168.9.9/24"], &[]),
            card("tunnel", UP | POINT_TO_POINT, false, &["10.8.0.2/24"], &[]),
            card(
                "air",
                UP,
                true,
                &["192.168.1.20/24", "169.254.3.4/16"],
                &["fe80::1/64", "fd12:3456::7/64", "2001:db8::7/64"],
            ),
        ]);
        let found: Vec<_> = found
            .iter()
            .map(|it| (it.address.to_string(), it.network.as_str()))
            .collect();
        assert_eq!(
            found,
            [
                ("192.168.1.20".to_owned(), "air"),
                ("fd12:3456::7".to_owned(), "air"),
                ("10.3.0.7".to_owned(), "cable"),
            ]
        );
    }

    #[test]
    fn whoever_names_an_address_names_one() {
        for all in [
            "0.0.0.0",
            "::",
            "::ffff:0.0.0.0",
            "255.255.255.255",
            "224.0.0.1",
            "ff02::1",
        ] {
            let told = one(all.parse().unwrap()).unwrap_err();
            assert_eq!(told.code, "not-one-address", "{all}");
        }
        for fine in ["192.168.1.20", "203.0.113.4", "127.0.0.1", "fd12::1"] {
            assert!(one(fine.parse().unwrap()).is_ok(), "{fine}");
        }
    }
}
