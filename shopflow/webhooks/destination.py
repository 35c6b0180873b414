"""Addresses that may be posted to: on the public internet by HTTPS, and where a setting allows.

The machine that shopflow runs on often reaches what a stranger does not: routers, other servers,
a cloud's metadata service. So a name is resolved here, each address that it resolves to is judged,
and the connection goes to the address judged and not to the name again.
"""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlsplit

from shopflow.errors import ShopflowError
from shopflow.texts import gettext

Address = ipaddress.IPv4Address | ipaddress.IPv6Address
Network = ipaddress.IPv4Network | ipaddress.IPv6Network

LONGEST = 200
NAT64 = ipaddress.IPv6Network("64:ff9b::/96")
"""IPv6 addresses that stand for IPv4 ones (RFC 6052)."""


class UnfitAddressError(ShopflowError):
    """The address may not be posted to, or its name has no address."""


@dataclass(frozen=True, slots=True)
class Destination:
    """An address in its parts."""

    scheme: str
    host: str
    port: int
    target: str
    """Path and query."""


def networks(words: str) -> tuple[Network, ...]:
    """Networks separated by commas or spaces. Raises ShopflowError.

    >>> networks("127.0.0.0/8, 192.168.1.10")
    (IPv4Network('127.0.0.0/8'), IPv4Network('192.168.1.10/32'))
    """
    try:
        return tuple(ipaddress.ip_network(word) for word in words.replace(",", " ").split())
    except ValueError as error:
        raise ShopflowError(gettext("SHOPFLOW_WEBHOOK_NETWORKS: {error}", error=error)) from None


def read(url: str, allowed: Sequence[Network]) -> Destination:
    """An address in its parts. Raises ValueError, told to whoever typed it."""
    if len(url) > LONGEST or not url.isascii() or not url.isprintable() or " " in url:
        raise ValueError(gettext("enter an address like https://example.com/shopflow"))
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError:
        raise ValueError(gettext("enter an address like https://example.com/shopflow")) from None
    if parts.scheme not in ("https", "http") or not parts.hostname:
        raise ValueError(gettext("enter an address like https://example.com/shopflow"))
    if parts.username is not None or parts.password is not None or parts.fragment:
        raise ValueError(gettext("enter the address without user, password and '#'"))
    if parts.scheme == "http" and not allowed:
        raise ValueError(gettext("the address must begin with https://"))
    target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    destination = Destination(
        parts.scheme, parts.hostname, port or (443 if parts.scheme == "https" else 80), target
    )
    try:
        literal = ipaddress.ip_address(parts.hostname)
    except ValueError:
        return destination
    if not _may_be_posted_to(literal, destination.scheme, allowed):
        raise ValueError(_refusal(destination, literal))
    return destination


def resolve(destination: Destination, allowed: Sequence[Network]) -> str:
    """The address to connect to. Raises UnfitAddressError where any the name has is refused."""
    try:
        answers = socket.getaddrinfo(destination.host, destination.port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError) as error:
        raise UnfitAddressError(
            gettext("{host} has no address: {error}", host=destination.host, error=error)
        ) from None
    addresses = [ipaddress.ip_address(str(answer[4][0]).partition("%")[0]) for answer in answers]
    for address in addresses:
        if not _may_be_posted_to(address, destination.scheme, allowed):
            raise UnfitAddressError(_refusal(destination, address))
    return str(addresses[0])


def _may_be_posted_to(address: Address, scheme: str, allowed: Sequence[Network]) -> bool:
    meant = _meant(address)
    # One that stands for another is judged as both, but a translator's own network is reserved.
    judged = {meant} if address in NAT64 else {address, meant}
    if any(one in network for network in allowed for one in judged):
        return True
    return scheme == "https" and all(_is_public(one) for one in judged)


def _is_public(address: Address) -> bool:
    """True of the public internet by IANA's registries (RFC 6890); no multicast."""
    is_site_local = isinstance(address, ipaddress.IPv6Address) and address.is_site_local
    kept_apart = address.is_multicast or address.is_reserved or is_site_local
    return address.is_global and not kept_apart


def _meant(address: Address) -> Address:
    """The IPv4 address that an IPv6 one stands for, where it does."""
    if isinstance(address, ipaddress.IPv4Address):
        return address
    if address in NAT64:
        return ipaddress.IPv4Address(int(address) & 0xFFFFFFFF)
    teredo = address.teredo
    return address.ipv4_mapped or address.sixtofour or (teredo[1] if teredo else address)


def _refusal(destination: Destination, address: Address) -> str:
    if destination.scheme == "http":
        return gettext("{address} is not in SHOPFLOW_WEBHOOK_NETWORKS: use https://",
                       address=address)  # fmt: skip
    return gettext(
        "{address} is on a private network: the server must allow it in SHOPFLOW_WEBHOOK_NETWORKS",
        address=address,
    )
