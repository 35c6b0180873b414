"""Open data brought into a shop: heads of their own, under a customer that stands for nobody.

Their tests are other shops' or the shop's own of the past. No step is on record for them, so they
are no cases of a forecast; certificates and past results leave them out by `Head.from_open_data`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.calc.reduction import Reduction
from shopflow.errors import FieldError, ValidationError
from shopflow.models import (
    Customer,
    EngineType,
    Head,
    HeadOwner,
    Job,
    JobState,
    OperationKind,
    Visit,
)
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions
from shopflow.services.counter.booking import numbered, tag_of
from shopflow.services.measuring import plausibility
from shopflow.services.numbering import next_number
from shopflow.services.open_data import validation
from shopflow.services.open_data.plain_test import file_content
from shopflow.services.registry import customers, engine_types
from shopflow.services.shop.settings import get_shop, zone
from shopflow.testfile import SessionDocument, reduced
from shopflow.texts import gettext, gettext_noop, ngettext, translated

OPEN_DATA = gettext_noop("Open data")
"""Name of the customer, and builder of engine types whose maker is not known."""

TOLERANCE = 1e-6
"""Relative, of an effective area in the file against that of its flows."""


@dataclass(frozen=True)
class Incoming:
    """A head of the file, with its tests checked."""

    key: str
    engine: Mapping[str, Any]
    tests: tuple[SessionDocument, ...]


@dataclass(frozen=True)
class Imported:
    """Effect of a file of open data."""

    heads: int
    tests: int
    already: int
    """Tests of the file that were on record."""

    def __str__(self) -> str:
        added = gettext(
            "{heads} with {tests}",
            heads=ngettext("{num:,} head", "{num:,} heads", self.heads),
            tests=ngettext("{num:,} flow test", "{num:,} flow tests", self.tests),
        )
        there = ngettext(
            "{num:,} flow test already there", "{num:,} flow tests already there", self.already
        )
        return f"{added}; {there}" if self.already else added


def bring_in(db: Session, by: Actor, content: bytes) -> Imported:
    """Write what a file of open data adds to the records; flushes, never commits.

    Raises ValidationError with every fault, each by its path in the file.
    """
    incoming = check(db, by, content)
    keys = [head.key for head in incoming]
    on_record = {
        head.open_data_key: head
        for head in db.scalars(select(Head).where(Head.open_data_key.in_(keys)))
    }
    heads = tests = already = 0
    for head in incoming:
        row = on_record.get(head.key)
        if row is not None and not row.from_open_data:
            # The shop's own data, come back.
            already += len(head.tests)
            continue
        visit = _visit(db, by, head) if row is None else row.visits[0]
        stored = [sessions.document(test) for test in visit.sessions]
        new = [test for test in head.tests if test not in stored]
        for test in new:
            sessions.store(db, by, visit, test)
        heads += row is None
        tests += len(new)
        already += len(head.tests) - len(new)
    db.flush()
    return Imported(heads, tests, already)


def check(db: Session, by: Actor, content: bytes) -> list[Incoming]:
    """The heads of a file of open data. Raises ValidationError, as `bring_in`."""
    parsed = validation.read(content)
    names = {kind.code: kind.name for kind in db.scalars(select(OperationKind))}
    faults: list[FieldError] = []
    incoming: dict[str, Incoming] = {}
    for index, head in enumerate(parsed["heads"]):
        path = f"heads[{index}]"
        tests = []
        for number, plain in enumerate(head["tests"]):
            try:
                tests.append(_document(db, by, plain, head["engine"], names))
            except ValidationError as error:
                where = f"{path}.tests[{number}]"
                faults += [FieldError(f"{where}.{item.key}", item.message) for item in error.faults]
        if head["id"] in incoming:
            faults.append(FieldError(f"{path}.id", gettext("another head has this id: remove one")))
        incoming[head["id"]] = Incoming(head["id"], head["engine"], tuple(dict.fromkeys(tests)))
    if faults:
        raise ValidationError(faults[: validation.MOST_FAULTS])
    return list(incoming.values())


def _document(
    db: Session, by: Actor, plain: Mapping[str, Any], engine: Mapping[str, Any],
    names: Mapping[str, str],
) -> SessionDocument:  # fmt: skip
    """A test of the file. Raises ValidationError by its keys."""
    faults = [
        FieldError(name, gettext("enter one for each lift"))
        for name in ("flows", "effective_area")
        if len(plain[name]) != len(plain["lifts"])
    ]
    if faults:
        raise ValidationError(faults)
    steps = ", ".join(names.get(code, code) for code in plain["steps"])
    worked = gettext("after {steps}", steps=steps) if steps else translated(plain["stage"])
    stage = plain["stage"] if plain["stage"] == "as received" else worked[:200]
    port = plain["port"]
    cylinder = str(port) if port <= engine["cylinders"] else ""
    document, results = reduced(file_content(plain, stage, cylinder))
    faults = [*sessions.unkept(document), *_areas(plain["effective_area"], results)]
    if document.measured_at is not None:
        moment = sessions.measured(document.measured_at, zone(get_shop(db)))["measured_at"]
        wrong = plausibility.test_date(moment, by.at)
        faults += [FieldError("month", wrong)] if wrong else []
    if faults:
        raise ValidationError(faults)
    return document


def _areas(stated: Sequence[float], results: Reduction) -> list[FieldError]:
    """Faults of effective areas that do not come out of the flows beside them."""
    return [
        FieldError(
            f"effective_area[{index}]",
            gettext("does not come out of the flows: correct one of them"),
        )
        for index, pair in enumerate(zip(stated, results.effective_area.tolist(), strict=True))
        if not math.isclose(*pair, rel_tol=TOLERANCE)
    ]


def _visit(db: Session, by: Actor, incoming: Incoming) -> Visit:
    """A new head on a closed job of its own, which stands on no floor."""
    customer, at = _customer(db, by), by.at
    engine_type = _engine_type(db, by, incoming.engine)
    year = at.astimezone(zone(get_shop(db))).year
    number = numbered(year, next_number(db, "job", year))
    head = Head(
        engine_type=engine_type,
        open_data_key=incoming.key,
        from_open_data=True,
        owners=[HeadOwner(customer=customer, since=at)],
    )
    job = Job(
        number=number, customer=customer, state=JobState.DEVELOPMENT, booked_in_at=at, closed_at=at,
        asked_for=gettext("Imported open data"),
    )  # fmt: skip
    visit = Visit(job=job, head=head, position=1, tag=tag_of(number, 1))
    db.add_all([head, job, visit])
    audit_log.record(db, by, job, "imported", job=job)
    db.flush()
    return visit


def _customer(db: Session, by: Actor) -> Customer:
    """The customer of all open data, added with the first."""
    earlier = select(Customer).join(Customer.jobs).join(Job.heads).join(Visit.head)
    customer = db.scalars(earlier.where(Head.from_open_data).limit(1)).first()
    if customer is not None:
        return customer
    notes = gettext("Stands for the owners of heads in imported open data.")
    return customers.create(db, by, {"name": gettext(OPEN_DATA), "notes": notes})


def _engine_type(db: Session, by: Actor, engine: Mapping[str, Any]) -> EngineType:
    """The engine type of that name and those sizes; else one of open data, added where new."""
    family = engine.get("family") or _in_words(engine)
    query = select(EngineType).where(
        EngineType.cylinders == engine["cylinders"],
        EngineType.valves_per_cylinder == engine["valves_per_cylinder"],
    )
    alike = [
        row
        for row in db.scalars(query.order_by(EngineType.id))
        if row.family.casefold() == family.casefold() and _is_of_size(row, engine)
    ]
    if len(alike) == 1:
        return alike[0]
    own = [row for row in alike if row.builder == gettext(OPEN_DATA)]
    if own:
        return own[0]
    sizes = {name: f"{1e3 * engine[name]:.6g} mm" for name in ("bore", "stroke") if name in engine}
    counts = {name: engine[name] for name in ("cylinders", "valves_per_cylinder")}
    builder = gettext(OPEN_DATA)
    same_name = EngineType.builder == builder, EngineType.family == family
    if db.scalar(select(EngineType.id).where(*same_name)) is not None:
        family = f"{family}, {_in_words(engine)}"
    named = {"builder": builder, "family": family[:200]}
    return engine_types.create(db, by, {**named, **sizes, **counts})


def _is_of_size(row: EngineType, engine: Mapping[str, Any]) -> bool:
    """True where no size that both state differs."""
    sizes = ((row.bore, engine.get("bore")), (row.stroke, engine.get("stroke")))
    return all(
        size is None or stated is None or math.isclose(size.si, stated, rel_tol=1e-4)
        for size, stated in sizes
    )


def _in_words(engine: Mapping[str, Any]) -> str:
    """An engine by its sizes, as "86 × 86 mm, 4 cylinders, 4 valves each"."""
    sizes = [f"{1e3 * engine[name]:.6g}" for name in ("bore", "stroke") if name in engine]
    counts = gettext(
        "{cylinders} cylinders, {valves} valves each",
        cylinders=engine["cylinders"],
        valves=engine["valves_per_cylinder"],
    )
    return f"{' × '.join(sizes)} mm, {counts}" if sizes else counts
