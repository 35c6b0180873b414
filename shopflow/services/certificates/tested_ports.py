"""Ports a certificate is of: how many of the head's, how far apart, and at the engine's lift."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from sqlalchemy.orm import Session

from shopflow.documents import AtLift, PortSpread, SessionResult
from shopflow.models import BenchSession, PlaceKind, Visit
from shopflow.models.places import SIDES
from shopflow.services.engine import cams
from shopflow.texts import gettext, translated


def sampling(visit: Visit, tests: Sequence[BenchSession], reason: str) -> Iterator[str]:
    """A sentence a side: how many of its ports were tested, which, and why not all."""
    plan = visit.head.plan
    for side in SIDES:
        rows = [row for row in tests if row.side == side]
        if not rows:
            continue
        cylinders = sorted({row.cylinder for row in rows if row.cylinder})
        tested = max(len(cylinders), 1)
        ports = [p for p in plan.places(PlaceKind.PORT) if p.side == side] if plan else []
        yield _sentence(side, tested, len(ports), cylinders, reason.strip(" ."))


def _sentence(side: str, tested: int, ports: int, cylinders: Sequence[str], reason: str) -> str:
    side_name = translated(side).capitalize()
    named = ", ".join(cylinders) or gettext("not recorded")
    if not ports:
        return gettext(
            "{side}: cylinder {cylinders} tested; the head's number of ports is not recorded",
            side=side_name, cylinders=named,
        )  # fmt: skip
    if tested >= ports:
        return gettext("{side}: all {ports} ports tested", side=side_name, ports=ports)
    return gettext(
        "{side}: {tested} of {ports} ports tested, cylinder {cylinders}, {reason}",
        side=side_name, tested=tested, ports=ports, cylinders=named,
        reason=gettext("because: {reason}", reason=reason) if reason
        else gettext("for a reason not recorded"),
    )  # fmt: skip


def at_lift(db: Session, visit: Visit, tests: Sequence[SessionResult]) -> Iterator[AtLift]:
    """The last test of each side at the lift of the job, or of its cam where none is stated."""
    for side in SIDES:
        of_side = [item for item in tests if item.side == side and item.is_as_tested]
        wanted = _lift(db, visit, side)
        if of_side and wanted is not None:
            yield _at(of_side[-1], *wanted)


def _lift(db: Session, visit: Visit, side: str) -> tuple[float, str] | None:
    job = visit.job
    stated = job.intake_lift if side == "intake" else job.exhaust_lift
    if stated is not None:
        return stated.si, gettext("stated by the customer")
    for cam in cams.for_visit(db, visit):
        for of_side, motion in cams.document(cam).motions.items():
            if of_side == side:
                return motion.greatest_lift, gettext("of the cam {cam}", cam=cam.name)
    return None


def _at(test: SessionResult, lift: float, source: str) -> AtLift:
    flow, uncertainty = flow_at(test, lift)
    return AtLift(
        side=test.side,
        lift=lift,
        source=source,
        session=test.name,
        test_pressure=test.test_pressure,
        tested_to=test.points[-1].lift,
        flow=flow,
        expanded_uncertainty=uncertainty,
    )


def flow_at(test: SessionResult, lift: float) -> tuple[float | None, float | None]:
    """Flow as tested at a lift, straight between its neighbours, with the larger of their margins.

    Both None where the lift is outside those tested.

    """
    points = test.points
    for low, high in pairwise([points[0], *points]):
        if low.lift - TOLERANCE <= lift <= high.lift + TOLERANCE:
            wide = high.lift - low.lift
            part = min(1.0, max(0.0, (lift - low.lift) / wide)) if wide else 1.0
            margins = [p.margin("flow_as_tested") for p in ((low, high) if part < 1 else (high,))]
            first, second = low.flow_as_tested or 0.0, high.flow_as_tested or 0.0
            stated = [value for value in margins if value is not None]
            sure = max(stated) if len(stated) == len(margins) else None
            return first + part * (second - first), sure
    return None, None


TOLERANCE = 1e-7
"""m; a lift typed in inches meets the same one typed in millimetres."""


def spread(tests: Sequence[SessionResult]) -> Iterator[PortSpread]:
    """Spread of the mean effective areas of each side's ports at each stage with several."""
    groups: dict[tuple[str, str], dict[str, float]] = {}
    for test in tests:
        if test.mean_area is not None and test.cylinder:
            of_stage = groups.setdefault((test.side, test.stage), {})
            of_stage[test.cylinder] = test.mean_area
    for (side, stage), areas in groups.items():
        if len(areas) > 1:
            least = min(areas, key=lambda cylinder: areas[cylinder])
            greatest = max(areas, key=lambda cylinder: areas[cylinder])
            mean = sum(areas.values()) / len(areas)
            difference = areas[greatest] - areas[least]
            yield PortSpread(
                side, stage, len(areas), areas[least], areas[greatest], least, greatest,
                difference / mean,
            )  # fmt: skip
