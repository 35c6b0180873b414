"""Addresses of clients, as they are counted."""

from __future__ import annotations

import ipaddress


def network_of(address: str) -> str:
    """The network an address is counted by: of IPv4 itself, of IPv6 its 64 bits.

    One customer of a provider has 2^64 IPv6 addresses (RFC 6177, RFC 4291 2.5.4). What is no
    address comes back as it is.

    >>> network_of("192.0.2.7"), network_of("::ffff:192.0.2.7"), network_of("2001:db8:1:2:3::4")
    ('192.0.2.7', '192.0.2.7', '2001:db8:1:2::/64')
    """
    try:
        parsed = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if isinstance(parsed, ipaddress.IPv4Address):
        return str(parsed)
    if parsed.ipv4_mapped is not None:
        return str(parsed.ipv4_mapped)
    return str(ipaddress.ip_network((parsed, 64), strict=False))
