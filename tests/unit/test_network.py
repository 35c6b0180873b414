"""Addresses of clients, as they are counted."""

from __future__ import annotations

import pytest

from shopflow.network import network_of


@pytest.mark.parametrize(
    ("address", "counted"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("::ffff:192.0.2.7", "192.0.2.7"),
        ("2001:db8:1:2:3::4", "2001:db8:1:2::/64"),
        ("fe80::1%eth0", "fe80::/64"),
        ("2001:DB8:0001:2::", "2001:db8:1:2::/64"),
        ("unknown", "unknown"),
        ("", ""),
    ],
)
def test_an_address_is_counted_by_its_network(address: str, counted: str):
    assert network_of(address) == counted
