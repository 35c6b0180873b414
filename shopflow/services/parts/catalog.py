"""The catalog of parts: adding, changing and finding them, with their stock."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session, joinedload

from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import Part, Shop, TaxClass
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.parts import stock, suppliers
from shopflow.texts import gettext

LARGEST_QUANTITY = Decimal(100_000)
A_PAGE = 50


def quantity(*, required: bool = True, above_zero: bool = True) -> fields.Reader:
    """A quantity of a part, with up to three decimals."""
    number = fields.decimal(places=3)

    def reader(value: Any) -> Decimal | None:
        read: Decimal | None = number(value)
        if read is None:
            if required:
                raise ValueError(gettext("required: enter a value"))
            return None
        if read > LARGEST_QUANTITY or (above_zero and read == 0):
            raise ValueError(
                gettext(
                    "'{value}' is out of range: enter a number above 0, up to {most}",
                    value=value,
                    most=LARGEST_QUANTITY,
                )
            )
        return Decimal(f"{read:f}")

    return reader


SPECIFICATION: fields.Specification = {
    "number": fields.text(required=True, most=60),
    "name": fields.text(required=True),
    "unit": fields.text(most=20),
    "supplier_id": fields.count(),
    "supplier_number": fields.text(),
    "cost": fields.price(),
    "price": fields.price(),
    "tax_class": fields.one_of(TaxClass),
    "bin": fields.text(),
    "reorder_point": quantity(required=False, above_zero=False),
    "notes": fields.words(),
    "active": fields.flag(),
}


@dataclass(frozen=True, slots=True)
class Stocked:
    """A part and what lies of it."""

    part: Part
    on_hand: Decimal

    @property
    def is_low(self) -> bool:
        """True where no more lies there than where more is ordered."""
        point = self.part.reorder_point
        return point is not None and self.on_hand <= point


def must_be_used(shop: Shop | None) -> None:
    """Refuse where the shop does not use parts. Raises NotFoundError."""
    if shop is None or not shop.uses_parts:
        raise NotFoundError(gettext("parts are switched off: the owner can switch them on"))


def get(db: Session, part_id: int) -> Part:
    """The part with this key. Raises NotFoundError."""
    row = db.get(Part, part_id)
    if row is None:
        raise NotFoundError(gettext("this part does not exist"))
    return row


def offered(db: Session) -> list[Part]:
    """Parts that can be chosen, by name."""
    query = select(Part).where(Part.active).order_by(func.lower(Part.name), Part.number)
    return list(db.scalars(query))


def search(db: Session, words: str = "", *, skip: int = 0) -> list[Stocked]:
    """Parts that match every word, those low in stock first: a page, and one more if there is."""
    on_hand = func.coalesce(stock.ON_HAND, Decimal(0))
    query = (
        select(Part, on_hand)
        .options(joinedload(Part.supplier))
        .where(*(_matches(word) for word in words.split()))
        .order_by(
            Part.active.desc(),
            func.coalesce(on_hand <= Part.reorder_point, False).desc(),
            func.lower(Part.name),
            Part.id,
        )
        .offset(skip)
        .limit(A_PAGE + 1)
    )
    return [Stocked(part, level) for part, level in db.execute(query)]


def low(db: Session) -> list[Stocked]:
    """Parts of which no more lies there than where more is ordered."""
    on_hand = func.coalesce(stock.ON_HAND, Decimal(0))
    query = select(Part, on_hand).where(Part.active, on_hand <= Part.reorder_point)
    return [Stocked(part, level) for part, level in db.execute(query.order_by(Part.id))]


def add(db: Session, by: Actor, values: Mapping[str, Any]) -> Part:
    """Add a part to the catalog. Raises ValidationError."""
    row = Part(**_read(db, {"number": None, "name": None, **values}))
    db.add(row)
    audit_log.record(db, by, row, "added", note=row.title)
    return row


def change(db: Session, by: Actor, row: Part, values: Mapping[str, Any]) -> Part:
    """Change a part; lines that name it keep their prices. Raises ValidationError, RuleError."""
    clean = _read(db, values, row)
    if clean.get("active") is False and stock.on_hand(db, row):
        raise RuleError(gettext("some of this part is in stock: correct the stock to 0 first"))
    audit_log.change(db, by, row, clean)
    return row


def as_line(part: Part) -> dict[str, Any]:
    """The fields of a job's line for a part."""
    return {
        "description": part.name,
        "part_number": part.number,
        "unit": part.unit,
        "unit_price": part.price,
        "tax_class": part.tax_class,
    }


def by_number(db: Session, number: str) -> Part | None:
    """The part with this number."""
    return db.scalars(select(Part).where(Part.number == number)).one_or_none()


def _matches(word: str) -> Any:
    columns: Sequence[Any] = (Part.number, Part.name, Part.supplier_number, Part.bin)
    return or_(*(column.icontains(word, autoescape=True) for column in columns))


def _read(db: Session, values: Mapping[str, Any], row: Part | None = None) -> dict[str, Any]:
    clean = fields.read(SPECIFICATION, values)
    if "supplier_id" in clean:
        supplier = suppliers.chosen(db, clean.pop("supplier_id"))
        clean["supplier_id"] = supplier.id if supplier else None
    other = by_number(db, clean["number"]) if "number" in clean else None
    if other is not None and other is not row:
        message = gettext("part {number} is in the catalog already", number=clean["number"])
        raise ValidationError([FieldError("number", message)])
    return clean
