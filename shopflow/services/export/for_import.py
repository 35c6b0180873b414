"""Records as the CSV files that an import takes, so that another shop can have them.

Each row repeats all that tells its head: the job, its customer, the engine type, the casting.
Measurements that follow from others are left out: they are calculated again where they arrive.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session, contains_eager, selectinload

from shopflow.errors import NotFoundError
from shopflow.models import (
    Customer,
    EngineType,
    Head,
    HeadOwner,
    IntegrityTest,
    Job,
    Measurement,
    MeasurementKind,
    SeatProfile,
    Spring,
    Visit,
)
from shopflow.models.places import SIDES
from shopflow.services.export import archive
from shopflow.services.imports import (
    customers,
    engines,
    heads,
    integrity,
    measured,
    seats,
    springs,
)
from shopflow.services.measuring import calculated
from shopflow.services.registry.heads import owner
from shopflow.services.shop.settings import get_shop, zone
from shopflow.spreadsheet import Cell, csv_text
from shopflow.texts import gettext
from shopflow.units import Quantity

Row = dict[str, Any]
"""Cells of a row by column; those that are not given are empty."""

AT_ONCE = 500
"""Rows in memory together."""


def headings(code: str) -> list[str]:
    """Columns of a kind of file. Raises NotFoundError."""
    return [column.name for column in _file(code)[0]]


def rows(db: Session, code: str) -> Iterator[list[Cell]]:
    """Rows of a kind of file, in its columns. Raises NotFoundError."""
    names = headings(code)
    for row in _file(code)[1](db, zone(get_shop(db))):
        yield [_cell(row.get(name)) for name in names]


def chunks(db: Session, code: str) -> Iterator[bytes]:
    """A kind of file as a CSV in UTF-8, a row at a time. Raises NotFoundError."""
    yield archive.MARK.encode() + csv_text(headings(code), []).encode()
    for row in rows(db, code):
        yield csv_text(None, [row]).encode()


def _file(code: str) -> tuple[Iterable[Any], Callable[[Session, ZoneInfo], Iterator[Row]]]:
    if code not in FILES:
        raise NotFoundError(gettext("this kind of export does not exist"))
    return FILES[code]


def _cell(value: Any) -> Cell:
    if isinstance(value, bool):
        return "yes" if value else ""
    if isinstance(value, Quantity):
        return value.text
    return None if value is None else str(value)


def _customers(db: Session, _: ZoneInfo) -> Iterator[Row]:
    query = select(Customer).order_by(Customer.name, Customer.id)
    for row in db.scalars(query.options(selectinload(Customer.contacts))):
        own: Row = {column: getattr(row, name) for name, column in customers.FIELDS.items()}
        own |= {"firm": row.is_firm, "tax rate": row.tax_rate_percent}
        contacts = [
            {column: getattr(contact, name) for name, column in customers.CONTACT.items()}
            for contact in row.contacts
        ]
        yield {**own, **(contacts[0] if contacts else {})}
        yield from ({"name": row.name, **contact} for contact in contacts[1:])


def _engine_types(db: Session, _: ZoneInfo) -> Iterator[Row]:
    query = select(EngineType).order_by(EngineType.builder, EngineType.family)
    for row in db.scalars(query):
        values: Row = {column: getattr(row, name) for name, column in engines.FIELDS.items()}
        values["cooling"] = row.cooling.value
        values[engines.NAMES] = ", ".join(alias.name for alias in row.aliases)
        if row.cylinders_per_head is not None:
            values |= {column: getattr(row, name) for name, column in engines.LAYOUT.items()}
            for side in SIDES:
                names = row.valve_names(side)
                values[f"{side} valves"] = ", ".join(name or "1" for name in names)
        yield values


def _heads(db: Session, _: ZoneInfo) -> Iterator[Row]:
    query = (
        select(Head)
        .join(Head.engine_type)
        .order_by(EngineType.builder, EngineType.family, Head.casting_number, Head.serial, Head.id)
        .options(
            contains_eager(Head.engine_type),
            selectinload(Head.owners).joinedload(HeadOwner.customer),
        )
    )
    for row in db.scalars(query):
        if not row.casting_number and not row.serial:
            # Nothing tells it from another: it comes with the jobs it was on.
            continue
        owned_by = owner(row)
        values: Row = {column: getattr(row, name) for name, column in heads.FIELDS.items()}
        yield {
            **values,
            **_engine(row.engine_type),
            "customer": owned_by.name if owned_by else "",
            "status": row.status.value,
            "status reason": row.status_because,
        }


def _measurements(db: Session, in_zone: ZoneInfo) -> Iterator[Row]:
    row = Measurement
    query = _of_visits(select(row).join(row.job_head), row.job_head).join(row.kind)
    query = query.where(row.counts, MeasurementKind.code.not_in(calculated.BY_CODE))
    for item in _streamed(db, query.order_by(*_VISITS, row.at, row.id)):
        values: Row = {column: getattr(item, name) for name, column in measured.FIELDS.items()}
        yield {
            **values,
            **_head(item.job_head),
            "date": _moment(item.at, in_zone),
            "measurement": item.kind.name,
            "from": item.datum.value if item.datum else "",
            "taken": item.when.value,
        }


def _tests(db: Session, in_zone: ZoneInfo) -> Iterator[Row]:
    row = IntegrityTest
    query = _of_visits(select(row).join(row.job_head), row.job_head).where(row.counts)
    for item in _streamed(db, query.order_by(*_VISITS, row.at, row.id)):
        values: Row = {column: getattr(item, name, None)
                       for name, column in integrity.FIELDS.items()}  # fmt: skip
        yield {
            **values,
            **_head(item.job_head),
            "date": _moment(item.at, in_zone),
            "test": item.kind.value,
            "part": item.part.value,
            "verdict": item.verdict.value,
        }


def _seats(db: Session, _: ZoneInfo) -> Iterator[Row]:
    row = SeatProfile
    usual = select(row).join(row.engine_type).order_by(*_ENGINES, row.side.desc())
    of_visits = _of_visits(select(row).join(row.job_head), row.job_head)
    ordered = of_visits.order_by(*_VISITS, row.cylinder, row.side.desc(), row.valve, row.when)
    for query in (usual, ordered):
        for item in _streamed(db, query):
            own: Row = {column: getattr(item, name) for name, column in seats.FIELDS.items()}
            own |= {"side": item.side, **_of_owner(item)}
            if item.job_head is not None:
                own |= {"cylinder": item.cylinder, "valve": item.valve, "taken": item.when.value}
            for cut in item.cuts:
                yield {**own, **{column: getattr(cut, name)
                                 for name, column in seats.CUT.items()}}  # fmt: skip


def _springs(db: Session, _: ZoneInfo) -> Iterator[Row]:
    row = Spring
    usual = select(row).join(row.engine_type).order_by(*_ENGINES, row.side.desc())
    of_visits = _of_visits(select(row).join(row.job_head), row.job_head)
    for query in (usual, of_visits.order_by(*_VISITS, row.side.desc())):
        for item in _streamed(db, query):
            own: Row = {column: getattr(item, name) for name, column in springs.FIELDS.items()}
            own |= {"side": item.side, **_of_owner(item)}
            for point in item.points or [None]:
                yield {**own, **{name: getattr(point, name, None) for name in springs.POINT}}


_JOB_NAME = func.coalesce(Job.earlier_number, Job.number)
_VISITS = (_JOB_NAME, Visit.position)
_ENGINES = (EngineType.builder, EngineType.family)


def _of_visits(query: Select[Any], visit: Any) -> Select[Any]:
    """A query joined to the jobs of its visits, with all that a row says of its head."""
    loaded = contains_eager(visit)
    return (
        query.join(Visit.job)
        .join(Visit.head)
        .options(
            loaded.contains_eager(Visit.job).joinedload(Job.customer),
            loaded.contains_eager(Visit.head).joinedload(Head.engine_type),
        )
    )


def _streamed(db: Session, query: Select[Any]) -> Iterator[Any]:
    return iter(db.scalars(query.execution_options(yield_per=AT_ONCE)))


def _head(visit: Visit) -> Row:
    """Cells that tell a head on a job."""
    job, head = visit.job, visit.head
    return {
        "job": job.earlier_number or job.number,
        "head": visit.position,
        "customer": job.customer.name,
        **_engine(head.engine_type),
        "casting number": head.casting_number,
        "serial": head.serial,
    }


def _of_owner(item: SeatProfile | Spring) -> Row:
    if item.job_head is not None:
        return _head(item.job_head)
    return _engine(item.engine_type) if item.engine_type is not None else {}


def _engine(engine_type: EngineType) -> Row:
    return {
        "builder": engine_type.builder,
        "family": engine_type.family,
        "engine cylinders": engine_type.cylinders,
        "valves per cylinder": engine_type.valves_per_cylinder,
    }


def _moment(at: datetime, in_zone: ZoneInfo) -> str:
    return f"{at.astimezone(in_zone):%Y-%m-%d %H:%M}"


FILES: dict[str, tuple[Iterable[Any], Callable[[Session, ZoneInfo], Iterator[Row]]]] = {
    "customers": (customers.COLUMNS, _customers),
    "engine-types": (engines.COLUMNS, _engine_types),
    "heads": (heads.COLUMNS, _heads),
    "measurements": (measured.COLUMNS, _measurements),
    "tests": (integrity.COLUMNS, _tests),
    "seats": (seats.COLUMNS, _seats),
    "springs": (springs.COLUMNS, _springs),
}
"""Columns and rows of each file, in the order in which they are imported."""
