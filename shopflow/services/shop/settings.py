"""The shop's own settings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from sqlalchemy.orm import Session

from shopflow.errors import RuleError
from shopflow.models import Shop
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.shop import built_in_kinds, shim_sizes, tax_ids
from shopflow.testfile.keys import UNITS as FILE_UNITS
from shopflow.testfile.values import HIGHEST, LOWEST
from shopflow.texts import LANGUAGES, SOURCE, gettext, spoken
from shopflow.unit_choices import QUANTITIES, units_chosen
from shopflow.units import UNIT_SYSTEMS, Quantity, UnitSystem

ALTITUDE_UNITS = FILE_UNITS["altitude"]

PAPER_SIZES = ("Letter", "A4")


def _time_zone(value: Any) -> str:
    if value not in available_timezones():
        raise ValueError(
            gettext("'{value}' is not a time zone: choose one like America/Chicago", value=value)
        )
    return str(value)


def _web_address(value: Any) -> str:
    address = str(fields.text()(value)).rstrip("/")
    if address and not address.startswith(("http://", "https://")):
        raise ValueError(gettext("enter an address that starts with http:// or https://"))
    return address


def _altitude(value: Any) -> Quantity | None:
    altitude: Quantity | None = fields.quantity("length")(value)
    if altitude is None:
        return None
    if altitude.unit not in ALTITUDE_UNITS:
        raise ValueError(
            gettext(
                "'{altitude}' is not an altitude: enter it in {altitude_units}",
                altitude=altitude,
                altitude_units=" or ".join(ALTITUDE_UNITS),
            )
        )
    if not LOWEST <= altitude.si <= HIGHEST:
        raise ValueError(
            gettext(
                "'{altitude}' is outside {lowest:.0f} to {highest:.0f} m: check its unit",
                altitude=altitude,
                lowest=LOWEST,
                highest=HIGHEST,
            )
        )
    return altitude


def _currency(value: Any) -> str:
    code = str(value or "").strip().upper()
    if len(code) != 3 or not code.isascii() or not code.isalpha():
        raise ValueError(gettext("enter a three-letter code like USD"))
    return code


SPECIFICATION: fields.Specification = {
    "name": fields.text(required=True),
    "address": fields.words(),
    "country": tax_ids.country,
    "phone": fields.text(),
    "email": fields.text(),
    "web_address": _web_address,
    "language": fields.among(*LANGUAGES),
    "time_zone": _time_zone,
    "unit_system": fields.among(*UNIT_SYSTEMS),
    **{f"{quantity}_unit": fields.among("", *units) for quantity, units in QUANTITIES.items()},
    "paper_size": fields.among(*PAPER_SIZES),
    "altitude": _altitude,
    "spring_shims": shim_sizes.reader,
    "currency": _currency,
    "tax_rate_percent": lambda value: fields.decimal()(value) or 0,
    "reduced_tax_rate_percent": lambda value: fields.decimal()(value) or 0,
    "exempt_reason": fields.text(),
    "bench_day_reminder": fields.flag(),
    "uses_parts": fields.flag(),
}


def shop_or_none(db: Session) -> Shop | None:
    """The shop, or none before it has been set up."""
    # The session forgets a row that nobody holds, and would read it at every call.
    db.info["shop"] = shop = db.get(Shop, 1)
    return shop


def get_shop(db: Session) -> Shop:
    """The shop, where it must have been set up; RuleError otherwise."""
    shop = shop_or_none(db)
    if shop is None:
        raise RuleError(gettext("the shop has not been set up yet: open it in a browser first"))
    return shop


def set_up(db: Session, by: Actor, values: Mapping[str, Any]) -> Shop:
    """Make the shop and the kinds of work it starts with. Raises ValidationError, RuleError."""
    if shop_or_none(db) is not None:
        raise RuleError(gettext("the shop is set up already"))
    shop = Shop(id=1, **fields.require(SPECIFICATION, values, "name"))
    db.add(shop)
    built_in_kinds.ensure(db)
    audit_log.record(db, by, shop, "set up")
    return shop


def change(db: Session, by: Actor, shop: Shop, values: Mapping[str, Any]) -> Shop:
    """Change the shop's settings. Raises ValidationError."""
    audit_log.change(db, by, shop, fields.read(SPECIFICATION, values))
    return shop


def language(shop: Shop | None) -> str:
    """The language of the shop; that of the source before it is set up."""
    return shop.language if shop is not None else SOURCE


@contextmanager
def language_spoken(db: Session) -> Iterator[None]:
    """Have texts in the shop's language for a while."""
    with spoken(language(shop_or_none(db))):
        yield


def unit_system(shop: Shop) -> UnitSystem:
    """The units the shop reads its figures in."""
    return units_chosen(shop.unit_system, shop.unit_choices)


def zone(shop: Shop) -> ZoneInfo:
    """The shop's time zone."""
    return ZoneInfo(shop.time_zone)
