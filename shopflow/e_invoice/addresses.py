"""A postal address as typed, line by line, as the parts that EN 16931 has."""

from __future__ import annotations

import re
from dataclasses import dataclass

_TOWN = re.compile(
    r"(?:[A-Z]{1,2}-)?(?P<code>\d{3} \d{2}|\d{2}-\d{3}|\d{4} [A-Z]{2}|\d{4}-\d{3}|\d{4,5}) +"
    r"(?P<city>\D.*)"
)
"""A line of postal code and town, as in the countries of the EU."""


@dataclass(frozen=True)
class Address:
    """Parts of an address; what is not told apart stands in the lines."""

    lines: tuple[str, ...]
    """Three at most."""

    post_code: str = ""
    city: str = ""


def address_of(text: str) -> Address:
    """The parts of an address; postal code and town are the last line that reads as both.

    >>> address_of("Dock Road 5\\n10115 Berlin")
    Address(lines=('Dock Road 5',), post_code='10115', city='Berlin')
    >>> address_of("5 Dock Road, Marlow Fork")
    Address(lines=('5 Dock Road, Marlow Fork',), post_code='', city='')
    """
    lines = [" ".join(line.split()) for line in text.splitlines() if line.strip()]
    for at in range(len(lines) - 1, -1, -1):
        town = _TOWN.fullmatch(lines[at])
        if town:
            rest = [*lines[:at], *lines[at + 1 :]]
            return Address(_three(rest), town["code"], town["city"])
    return Address(_three(lines))


def _three(lines: list[str]) -> tuple[str, ...]:
    if len(lines) <= 3:
        return tuple(lines)
    return (*lines[:2], ", ".join(lines[2:]))
