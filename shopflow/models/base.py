"""Base of every table: naming of constraints, column types, and the version counter."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Any

from sqlalchemy import BigInteger, DateTime, Dialect, Enum, Float, MetaData, String, Text
from sqlalchemy.orm import (
    Composite,
    DeclarativeBase,
    Mapped,
    composite,
    declared_attr,
    mapped_column,
)
from sqlalchemy.types import TypeDecorator

from shopflow.texts import gettext
from shopflow.units import Quantity

NAMING = {
    "ix": "ix_%(column_0_N_label)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class UtcDateTime(TypeDecorator[datetime]):
    """A moment, stored in UTC and always read back with its zone."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Refuse a time without a zone: it could mean any of them."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(gettext("a stored time needs its zone"))
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """SQLite gives the zone no place; what was stored is UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Money(TypeDecorator[Decimal]):
    """An exact amount with two decimals, stored as whole hundredths."""

    impl = BigInteger
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> int | None:
        """Refuse what two decimals cannot hold, rather than round it."""
        if value is None:
            return None
        hundredths = value * 100
        if hundredths != hundredths.to_integral_value():
            raise ValueError(gettext("{value} has more than two decimals", value=value))
        return int(hundredths)

    def process_result_value(self, value: int | None, dialect: Dialect) -> Decimal | None:
        """The amount with its two decimals."""
        return None if value is None else Decimal(value).scaleb(-2)


class Thousandths(TypeDecorator[Decimal]):
    """An exact quantity with up to three decimals, stored as whole thousandths."""

    impl = BigInteger
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> int | None:
        """Refuse what three decimals cannot hold, rather than round it."""
        if value is None:
            return None
        thousandths = value * 1000
        if thousandths != thousandths.to_integral_value():
            raise ValueError(gettext("{value} has more than three decimals", value=value))
        return int(thousandths)

    def process_result_value(self, value: int | None, dialect: Dialect) -> Decimal | None:
        """The quantity without zeros at its end, as 8 or 0.25."""
        if value is None:
            return None
        wholes, rest = divmod(int(value), 1000)
        return Decimal(int(value)).scaleb(-3).normalize() if rest else Decimal(wholes)


class DecimalText(TypeDecorator[Decimal]):
    """A decimal exactly as typed, its trailing zeros included, stored as text."""

    impl = String(40)
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> str | None:
        """The digits as they were typed."""
        return None if value is None else str(value)

    def process_result_value(self, value: str | None, dialect: Dialect) -> Decimal | None:
        """The same digits back."""
        return None if value is None else Decimal(value)


class DecimalsText(TypeDecorator[tuple[Decimal, ...]]):
    """Decimals exactly as typed, stored as text with a space between them."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: tuple[Decimal, ...] | None, dialect: Dialect) -> str:
        """The digits as they were typed; empty for none."""
        return " ".join(map(str, value or ()))

    def process_result_value(self, value: str | None, dialect: Dialect) -> tuple[Decimal, ...]:
        """The same digits back."""
        return tuple(map(Decimal, (value or "").split()))


class Base(DeclarativeBase):
    """Base of every model."""

    metadata = MetaData(naming_convention=NAMING)


Id = Annotated[int, mapped_column(primary_key=True)]
Name = Annotated[str, mapped_column(String(200))]
Line = Annotated[str, mapped_column(String(200), default="")]
Words = Annotated[str, mapped_column(Text, default="")]
Stated = Annotated[str, mapped_column(String(200), default="", server_default="")]
Unit = Annotated[str, mapped_column(String(10), default="", server_default="")]
Decimals = Annotated[
    tuple[Decimal, ...], mapped_column(DecimalsText, default=(), server_default="")
]
Moment = Annotated[datetime, mapped_column(UtcDateTime)]
Amount = Annotated[Decimal, mapped_column(Money, default=Decimal(0))]
Count = Annotated[Decimal, mapped_column(Thousandths)]
"""A quantity of a part."""

Price = Annotated[Decimal | None, mapped_column(Money)]
"""An amount that may be blank: not priced yet."""


class Versioned:
    """A counter that makes a second writer of the same row fail instead of overwrite it."""

    version: Mapped[int] = mapped_column(default=1)

    @declared_attr.directive
    def __mapper_args__(cls) -> dict[str, Any]:  # noqa: N805
        """Let the mapper count, and raise StaleDataError for the later of two writers."""
        return {"version_id_col": cls.version}


def choice(kind: type[StrEnum], name: str = "") -> Enum:
    """Column type of an enumeration, kept as its text and checked by the database.

    `name` tells the check of a second column of the kind in one table from the first.
    """
    return Enum(
        kind,
        native_enum=False,
        create_constraint=True,
        length=30,
        name=name or kind.__name__.lower(),
        values_callable=lambda members: [member.value for member in members],
    )


def quantity(name: str, *, optional: bool = False) -> Composite[Any]:
    """A quantity in two columns: `<name>_typed` as written, `<name>_si` for the database."""
    return composite(
        Quantity,
        mapped_column(f"{name}_typed", String(60), nullable=optional),
        mapped_column(f"{name}_si", Float, nullable=optional),
        return_none_on=lambda text, si: text is None,
    )
