"""Reading field values as people give them, whichever door they come in by.

A specification maps a field's name to a reader; `read` applies it to a mapping and reports every
fault in one go, each under its field's name.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from typing import Any

from shopflow import units
from shopflow.errors import FieldError, ValidationError
from shopflow.texts import gettext

Reader = Callable[[Any], Any]
Specification = Mapping[str, Reader]

LARGEST_AMOUNT = Decimal("99999999.99")
LARGEST_COUNT = 1_000_000


def read(specification: Specification, values: Mapping[str, Any]) -> dict[str, Any]:
    """The values that are given, checked and converted.

    Raises ValidationError naming each field that cannot be, and each that the noun does not have.
    """
    clean: dict[str, Any] = {}
    faults: list[FieldError] = []
    for name, value in values.items():
        if name not in specification:
            faults.append(FieldError(name, gettext("this field does not exist: remove it")))
            continue
        try:
            clean[name] = specification[name](value)
        except ValueError as error:
            faults.append(FieldError(name, str(error)))
    if faults:
        raise ValidationError(faults)
    return clean


def require(specification: Specification, values: Mapping[str, Any], *names: str) -> dict[str, Any]:
    """As `read`, for a new record: these fields must be among the values given."""
    return read(specification, {**dict.fromkeys(names, None), **values})


def line_ends(value: str) -> str:
    """Text with one kind of line end: browsers send CR and LF, files and programs LF alone."""
    return value.replace("\r\n", "\n").replace("\r", "\n")


def text(*, required: bool = False, most: int = 200) -> Reader:
    """A line of text, trimmed."""

    def reader(value: Any) -> str:
        line = "" if value is None else line_ends(str(value)).strip()
        if "\x00" in line:
            raise ValueError(gettext("contains a character that cannot be stored: remove it"))
        if required and not line:
            raise ValueError(gettext("required: enter a value"))
        if len(line) > most:
            raise ValueError(
                gettext(
                    "{count} characters is too long: enter at most {most}",
                    count=len(line),
                    most=most,
                )
            )
        return line

    return reader


def words() -> Reader:
    """Several lines of text."""
    return text(most=20_000)


def count(*, least: int = 0, required: bool = False) -> Reader:
    """A whole number."""

    def reader(value: Any) -> int | None:
        if value is None or value == "":
            if required:
                raise ValueError(gettext("required: enter a value"))
            return None
        try:
            number = int(str(value))
        except ValueError:
            raise ValueError(gettext("'{value}' is not a whole number", value=value)) from None
        if not least <= number <= LARGEST_COUNT:
            raise ValueError(
                gettext(
                    "'{value}' is out of range: enter a whole number from {least} to "
                    "{largest_count}",
                    value=value,
                    least=least,
                    largest_count=LARGEST_COUNT,
                )
            )
        return number

    return reader


def decimal(*, places: int | None = None, least: Decimal | None = Decimal(0)) -> Reader:
    """An exact decimal, empty for none."""

    def reader(value: Any) -> Decimal | None:
        if value is None or value == "":
            return None
        try:
            number = Decimal(str(value).strip())
        except InvalidOperation:
            raise ValueError(gettext("'{value}' is not a number", value=value)) from None
        if not number.is_finite() or number.copy_abs() > LARGEST_AMOUNT:
            raise ValueError(
                gettext(
                    "'{value}' is out of range: enter a number up to {largest_amount}",
                    value=value,
                    largest_amount=LARGEST_AMOUNT,
                )
            )
        if least is not None and number < least:
            raise ValueError(
                gettext("'{value}' is too low: enter {least} or more", value=value, least=least)
            )
        if len(str(number)) > 40:
            raise ValueError(gettext("too long: enter at most 40 characters"))
        if places is not None and number != round(number, places):
            raise ValueError(
                gettext(
                    "'{value}' has too many decimals: enter at most {places}",
                    value=value,
                    places=places,
                )
            )
        return number

    return reader


def amount() -> Reader:
    """An amount of money; nothing given means none."""
    reader = decimal(places=2)
    return lambda value: reader(value) or Decimal(0)


def price() -> Reader:
    """A price; blank means that there is none yet, which is not the same as 0.00."""
    return decimal(places=2)


def quantity(dimension: str, *, required: bool = False, above: float | None = None) -> Reader:
    """A quantity typed with its unit, as "44.0 mm"; `above` in SI is a bound it must exceed."""

    def reader(value: Any) -> units.Quantity | None:
        if isinstance(value, units.Quantity):
            value = value.text
        if value is None or not str(value).strip():
            if required:
                raise ValueError(gettext("required: enter a value"))
            return None
        parsed = units.parse(str(value).strip(), dimension)
        if above is not None and parsed.si <= above:
            bound = (
                gettext("more than {bound:g}", bound=above) if above >= 0 else gettext("0 or more")
            )
            raise ValueError(gettext("'{text}' must be {bound}", text=parsed.text, bound=bound))
        if len(parsed.text) > 60:
            raise ValueError(gettext("too long: enter at most 60 characters"))
        return parsed

    return reader


def one_of(kind: type[StrEnum]) -> Reader:
    """One of an enumeration's words."""

    def reader(value: Any) -> StrEnum:
        try:
            return kind(value)
        except ValueError:
            raise ValueError(
                gettext(
                    "'{value}' is not a choice: choose {kind}", value=value, kind=", ".join(kind)
                )
            ) from None

    return reader


def among(*choices: str) -> Reader:
    """One of these words."""

    def reader(value: Any) -> str:
        if value not in choices:
            raise ValueError(
                gettext(
                    "'{value}' is not a choice: choose {choices}",
                    value=value,
                    choices=", ".join(choices),
                )
            )
        return str(value)

    return reader


def flag() -> Reader:
    """Yes or no."""
    return bool


def day() -> Reader:
    """A date, or its ISO form, or none."""

    def reader(value: Any) -> date | None:
        if value is None or value == "":
            return None
        if isinstance(value, datetime):
            return value.date()
        if isinstance(value, date):
            return value
        try:
            return date.fromisoformat(str(value).strip())
        except ValueError:
            raise ValueError(
                gettext("'{value}' is not a date: enter it like 2026-03-14", value=value)
            ) from None

    return reader
