"""Ports a certificate is of: which of the head's, how far apart, and at the engine's lift."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from sqlalchemy.orm import Session

from shopflow import testfile
from shopflow.calc.results import FLOW_STANDARD
from shopflow.calc.set_up import SetUp, differing
from shopflow.documents import AtLift, PortSpread, SessionResult
from shopflow.models import BenchSession, Visit
from shopflow.models.places import SIDES
from shopflow.services.analysis.port_gains import cylinder_number
from shopflow.services.engine import cams
from shopflow.texts import gettext, listed, translated


def sampling(visit: Visit, tests: Sequence[BenchSession], reason: str) -> Iterator[str]:
    """A sentence a side: which of its ports were tested, which were not, and why."""
    for side in SIDES:
        rows = [row for row in tests if row.side == side]
        if rows:
            yield _sentence(side, _named(rows), _untested(visit, side, rows), reason.strip(" ."))


def is_sample(visit: Visit, tests: Sequence[BenchSession]) -> bool:
    """True where ports of a side tested are known to be left out, or may be."""
    by_side = ([row for row in tests if row.side == side] for side in SIDES)
    return any(_untested(visit, rows[0].side, rows) != [] for rows in by_side if rows)


def _named(rows: Sequence[BenchSession]) -> list[str]:
    return sorted({row.cylinder.strip() for row in rows} - {""}, key=lambda name: (len(name), name))


def _untested(visit: Visit, side: str, rows: Sequence[BenchSession]) -> list[str] | None:
    """Cylinders of a side without a test, of a port they share too; None where the head's ports are
    not on record."""
    plan = visit.head.plan
    tested = {cylinder_number(row.cylinder) for row in rows}
    if plan is None or None in tested:
        return None
    ports = plan.ports[side] or tuple((number,) for number in plan.cylinders)
    left = [port for port in ports if not tested & set(port)]
    return [str(number) for port in left for number in port]


def _sentence(side: str, tested: list[str], untested: list[str] | None, reason: str) -> str:
    words = {
        "side": translated(side).capitalize(),
        "tested": listed(tested) if tested else "",
        "untested": listed(untested) if untested else "",
    }
    if untested == []:
        return gettext("{side}: every port tested, cylinder {tested}", **words)
    if not tested:
        text = gettext("{side}: one port tested, its cylinder not recorded", **words)
    elif untested is None:
        text = gettext("{side}: cylinder {tested} tested, no other port", **words)
    else:
        text = gettext("{side}: cylinder {tested} tested; {untested} not tested", **words)
    return gettext("{text}. Reason: {reason}", text=text, reason=reason) if reason else text


def at_lift(db: Session, visit: Visit, tests: Sequence[SessionResult]) -> Iterator[AtLift]:
    """The last test of each side at the lift of the job, or of its cam where none is stated."""
    for side in SIDES:
        of_side = [item for item in tests if item.side == side and item.is_in_standard_air]
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
        reference_pressure=test.reference_pressure,
        tested_to=test.points[-1].lift,
        flow=flow,
        expanded_uncertainty=uncertainty,
    )


def flow_at(test: SessionResult, lift: float) -> tuple[float | None, float | None]:
    """Flow in standard air at a lift, straight between its neighbours, with the larger of their
    margins.

    Both None where the lift is outside those tested.

    """
    points = test.points
    for low, high in pairwise([points[0], *points]):
        if low.lift - TOLERANCE <= lift <= high.lift + TOLERANCE:
            wide = high.lift - low.lift
            part = min(1.0, max(0.0, (lift - low.lift) / wide)) if wide else 1.0
            margins = [p.margin(FLOW_STANDARD.key) for p in ((low, high) if part < 1 else (high,))]
            first, second = (p.value(FLOW_STANDARD.key) or 0.0 for p in (low, high))
            stated = [value for value in margins if value is not None]
            sure = max(stated) if len(stated) == len(margins) else None
            return first + part * (second - first), sure
    return None, None


TOLERANCE = 1e-7
"""m; a lift typed in inches meets the same one typed in millimetres."""


def spread(tests: Sequence[SessionResult]) -> Iterator[PortSpread]:
    """Spread of the mean effective areas of each side's ports at each stage with several.

    None of ports tested on unlike set-ups: it would not be of the ports alone.
    """
    groups: dict[tuple[str, str], dict[str, float]] = {}
    set_ups: dict[tuple[str, str], dict[str, SetUp]] = {}
    for test in tests:
        if test.mean_area is not None and test.cylinder:
            of_stage = groups.setdefault((test.side, test.stage), {})
            of_stage[test.cylinder] = test.mean_area
            stated = testfile.loads(test.file_text).set_up
            set_ups.setdefault((test.side, test.stage), {})[test.cylinder] = stated
    for (side, stage), areas in groups.items():
        if len(areas) > 1 and not differing(list(set_ups[side, stage].values())):
            least = min(areas, key=lambda cylinder: areas[cylinder])
            greatest = max(areas, key=lambda cylinder: areas[cylinder])
            mean = sum(areas.values()) / len(areas)
            difference = areas[greatest] - areas[least]
            yield PortSpread(
                side, stage, len(areas), areas[least], areas[greatest], least, greatest,
                difference / mean,
            )  # fmt: skip
