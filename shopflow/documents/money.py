"""Lines with prices, and the tax on them, of quotes and invoices."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal

from shopflow.documents.snapshot import LATER
from shopflow.texts import gettext


@dataclass(frozen=True)
class LineTax:
    """An amount before tax of a line in a category of tax."""

    code: str
    """As of `TaxPart`."""

    rate_percent: Decimal
    net: Decimal


@dataclass(frozen=True)
class MoneyLine:
    """One piece of work and its price before tax."""

    head: str
    """Tag of the head it is done to."""

    what: str
    price: Decimal
    detail: str = ""
    minutes: int = 0
    waived: Decimal = field(default=Decimal(0), metadata=LATER)
    """Part of the usual price that the shop bears itself, under warranty."""

    quantity: str = field(default="", metadata=LATER)
    """As "8 pc"; empty where it is one of a kind."""

    unit_price: Decimal | None = field(default=None, metadata=LATER)
    part_number: str = field(default="", metadata=LATER)
    tax_mark: str = field(default="", metadata=LATER)
    """Rate it is taxed at, as "8.25 %", on a document with several."""

    shares: tuple[LineTax, ...] = field(default=(), metadata=LATER)
    """The price by category of tax, on a document with several."""

    is_text: bool = field(default=False, metadata=LATER)
    """True where it only says something and has no price."""

    is_included: bool = field(default=False, metadata=LATER)
    """True where a package includes it, at no price of its own."""

    group: str = field(default="", metadata=LATER)
    """Name of the group it stands in, where it is neither a head's nor the job's."""


def percent(rate: Decimal) -> str:
    """A rate as people write it.

    >>> percent(Decimal("8.250")), percent(Decimal("20"))
    ('8.25 %', '20 %')
    """
    text = f"{rate:f}"
    return f"{text.rstrip('0').rstrip('.') if '.' in text else text} %"


@dataclass(frozen=True)
class TaxPart:
    """The tax on the lines of one category."""

    code: str
    """S at a rate, Z at the zero rate, E exempt, AE reverse charge, K to another EU country, G
    export, O not subject to tax (UNTDID 5305)."""

    rate_percent: Decimal
    net: Decimal
    tax: Decimal
    exemption: str = ""


@dataclass(frozen=True)
class Tax:
    """The tax on a paper's lines."""

    net: Decimal
    rate_percent: Decimal
    tax: Decimal
    total: Decimal
    label: str = "Tax"
    exemption: str = ""
    """Reason why no tax is due, where the customer is exempt."""

    parts: tuple[TaxPart, ...] = field(default=(), metadata=LATER)
    """Tax by category, where there are several; `rate_percent` is then 0."""

    code: str = field(default="", metadata=LATER)
    """Of the only category, where no tax is due for another reason than an exemption."""

    @property
    def name(self) -> str:
        """As "Sales tax 8.25 %"; the label alone where there are several rates."""
        return self.label if self.parts else f"{self.label} {percent(self.rate_percent)}"

    @property
    def by_rate(self) -> tuple[TaxPart, ...]:
        """Each category, of which there is one at least."""
        if self.parts:
            return self.parts
        code = self.code or ("E" if self.exemption else "S" if self.rate_percent else "Z")
        return (TaxPart(code, self.rate_percent, self.net, self.tax, self.exemption),)

    def name_of(self, part: TaxPart) -> str:
        """Name of a category, as "Sales tax 8.25 %"."""
        if part.code not in ("S", "Z") and len(self.by_rate) > 1:
            return gettext("{label}, exempt", label=self.label)
        return f"{self.label} {percent(part.rate_percent)}"
