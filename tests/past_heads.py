"""Past heads of known gain: tested, cut and tested again, a day each."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from datetime import timedelta
from decimal import Decimal

from sqlalchemy.orm import Session

from shopflow import testfile
from shopflow.models import EngineType, Visit
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions
from shopflow.services.routing import operations
from tests import factories
from tests.cli.sessions import INTAKE_US
from tests.factories import NOW

GAINS = (1.030, 1.045, 1.050, 1.055, 1.062, 1.040)


def at(by: Actor, days: float) -> Actor:
    return dataclasses.replace(by, at=NOW + timedelta(days=days))


def flow_test(db: Session, by: Actor, visit: Visit, scale: float = 1.0, cylinder: str = "") -> None:
    """A test whose readings are scaled, just now."""
    document = testfile.loads(INTAKE_US)
    flows = tuple(
        tuple((run * Decimal(str(scale))).quantize(Decimal("0.0001")) for run in runs)
        for runs in document.flows
    )
    no_leak = testfile.loads(INTAKE_US.replace("0.8 cfm", "0 cfm")).leakage
    document = dataclasses.replace(
        document, measured_at=by.at, cylinder=cylinder, stage="", flows=flows, leakage=no_leak
    )
    sessions.store(db, by, visit, document)


def plan(
    db: Session, engine_type: EngineType, kinds: Sequence[str] = ("port-work",), **job: str
) -> Visit:
    """A head on an approved job with these steps planned."""
    visit = factories.create_visit(db, engine_type=engine_type, **job)
    for kind in kinds:
        factories.create_operation(db, visit, kind)
    factories.approve(db, factories.BY, visit.job)
    return visit


def sign_off(db: Session, by: Actor, visit: Visit) -> None:
    """All open steps of a head done."""
    for step in visit.operations:
        if step.is_open:
            operations.sign_off(db, by, step, {"not_measured_because": "measured on the bench"})


def cut(
    db: Session,
    by: Actor,
    engine_type: EngineType,
    gain: float,
    days: float,
    kinds: Sequence[str] = ("port-work",),
) -> Visit:
    """A head that gained this by these steps, all done on one day."""
    visit = plan(db, engine_type, kinds)
    flow_test(db, at(by, days), visit)
    sign_off(db, at(by, days + 0.1), visit)
    flow_test(db, at(by, days + 0.2), visit, gain)
    return visit


def shop_of_past(db: Session, by: Actor, gains: Sequence[float] = GAINS) -> EngineType:
    """An engine type with so many heads ported on days that follow one another."""
    engine_type = factories.create_engine_type(db)
    for day, gain in enumerate(gains):
        cut(db, by, engine_type, gain, day)
    db.flush()
    return engine_type
