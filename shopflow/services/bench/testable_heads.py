"""Heads that a flow test can be taken of, and the ports of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.calc.sanity import impossible
from shopflow.models import (
    OPEN_STEP_STATES,
    BenchSession,
    Customer,
    EngineType,
    Head,
    Job,
    Operation,
    OperationKind,
    PlaceKind,
    Visit,
)
from shopflow.models.head import identity
from shopflow.models.places import SIDES
from shopflow.services.bench.sessions import reduction
from shopflow.services.jobs.jobs import IN_ORDER, OPEN_JOBS

FLOW_TEST = "flow-test"
"""Code of the step that a flow test belongs to."""

_HEADS = (
    select(
        Visit.id, Visit.tag, Customer.name, EngineType.builder, EngineType.family,
        Head.casting_number, Head.serial,
    )
    .join(Visit.job)
    .join(Job.customer)
    .join(Visit.head)
    .join(Head.engine_type)
    .where(Visit.job_id.in_(OPEN_JOBS))
    .order_by(*IN_ORDER)
)  # fmt: skip
_STEPS = (
    select(Operation.job_head_id, OperationKind.code, OperationKind.name)
    .join(Operation.kind)
    .join(Operation.job_head)
    .where(Visit.job_id.in_(OPEN_JOBS), Operation.state.in_(OPEN_STEP_STATES))
    .order_by(Operation.position.desc())
)
"""Open steps, the next of each head last."""


@dataclass(frozen=True, slots=True)
class TestableHead:
    """A head in the shop, as it is chosen for a test."""

    visit_id: int
    tag: str
    customer: str
    engine_type: str
    identity: str
    next_step: str
    """Name of its next step; empty where none is open."""

    awaits_test: bool
    """True where the next step is the flow test."""


@dataclass(frozen=True, slots=True)
class Port:
    """A port of a head, with its last test on this visit."""

    side: str
    cylinder: str
    """Number of its cylinder, the first of those that share it; empty where none is stated."""

    label: str
    last: BenchSession | None

    @property
    def is_doubtful(self) -> bool:
        """True where the last test has a reading that cannot be."""
        return self.last is not None and bool(impossible(reduction(self.last)))


def heads(db: Session) -> list[TestableHead]:
    """Every head of an open job: those that await a flow test, then the rest, each as promised."""
    following = {visit: (code, name) for visit, code, name in db.execute(_STEPS)}
    rows = []
    for key, tag, customer, builder, family, casting, serial in db.execute(_HEADS):
        code, step = following.get(key, ("", ""))
        rows.append(
            TestableHead(
                visit_id=key,
                tag=tag,
                customer=customer,
                engine_type=f"{builder} {family}",
                identity=identity(casting, serial),
                next_step=step,
                awaits_test=code == FLOW_TEST,
            )
        )
    return sorted(rows, key=lambda row: not row.awaits_test)


def ports(visit: Visit) -> dict[str, list[Port]]:
    """Ports of a head by side: those of its layout, else one for each cylinder of the engine."""
    return {side: [_port(visit, side, number) for number in _cylinders(visit, side)]
            for side in SIDES}  # fmt: skip


def _cylinders(visit: Visit, side: str) -> Sequence[str]:
    plan = visit.head.plan
    if plan is None:
        return [*map(str, range(1, visit.head.engine_type.cylinders + 1)), ""]
    numbers = [port.cylinder for port in plan.places(PlaceKind.PORT) if port.side == side]
    # Where every valve has a port of its own, a test names the cylinder alone.
    return [str(number) for number in dict.fromkeys(numbers)]


def _port(visit: Visit, side: str, cylinder: str) -> Port:
    tests = [row for row in visit.sessions if (row.side, row.cylinder) == (side, cylinder)]
    return Port(side, cylinder, _label(visit, side, cylinder), tests[-1] if tests else None)


def _label(visit: Visit, side: str, cylinder: str) -> str:
    """Number of a port on its side, with the cylinders that share it, as "2 + 3"."""
    plan = visit.head.plan
    for shared in (plan.ports.get(side) or ()) if plan else ():
        if cylinder in map(str, shared):
            return " + ".join(map(str, shared))
    return cylinder
