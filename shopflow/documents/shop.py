"""The shop a paper comes from, how it shows figures and times, and whom it goes to."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from shopflow.documents import amounts, dates, snapshot
from shopflow.texts import SOURCE
from shopflow.unit_choices import Choices, units_chosen
from shopflow.units import UnitSystem


@dataclass(frozen=True)
class Display:
    """Units, formats and time zone for values and times."""

    unit_system: str = "us"
    time_zone: str = "UTC"
    paper_size: str = "Letter"
    date_format: str = "iso"
    """A key of dates.FORMATS."""

    currency: str = "USD"
    language: str = field(default=SOURCE, metadata=snapshot.LATER)
    """Language the document is in, whenever it is drawn: a key of texts.LANGUAGES."""

    unit_choices: Choices = field(default=(), metadata=snapshot.LATER)
    """Units of single quantities in place of the system's own."""

    @property
    def units(self) -> UnitSystem:
        """The units themselves."""
        return units_chosen(self.unit_system, self.unit_choices)

    def day(self, value: date | None) -> str:
        """A date as this shop writes it, or a dash."""
        return dates.day(value, self.date_format)

    def money(self, amount: Decimal) -> str:
        """An amount in the shop's currency."""
        return amounts.written(amount, self.currency)

    def moment(self, value: datetime | None, *, clock: bool = False) -> str:
        """A moment's day in the shop's zone, with its time where `clock`; or a dash."""
        return dates.moment(value, self.time_zone, self.date_format, clock=clock)


@dataclass(frozen=True)
class Letterhead:
    """The shop a paper comes from."""

    name: str
    address: str = ""
    phone: str = ""
    email: str = ""
    logo: bytes = b""
    """A picture file, or nothing."""

    accent: str = "#0f4c75"
    second: str = "#5a6472"
    """House colours of the bar over each page, and of its rules and kind."""


@dataclass(frozen=True)
class SigningKey:
    """The key that a document is signed with, to be compared, and where it is verified."""

    key: str
    """First half of the SHA-256 of its certificate, in groups."""

    verify_at: str = ""
    """Address of the verification page, where the shop has one."""


@dataclass(frozen=True)
class Party:
    """A customer."""

    name: str
    address: str = ""
    phone: str = ""
    email: str = ""
