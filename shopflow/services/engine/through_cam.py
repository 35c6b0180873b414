"""A head's ports through the cams of its job and engine type."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.orm import Session

from shopflow import documents, sentences
from shopflow.calc.cam_gain import cam_mean, compare_over_cams
from shopflow.calc.cycle import (
    Cycle,
    OpenPort,
    Port,
    cycle,
    side_of_cycle,
)
from shopflow.calc.cycle_curves import area_curve, blowdown_curve, overlap_curve
from shopflow.calc.gain_source import gain_sources_over_cams
from shopflow.camfile import CamDocument, Side
from shopflow.errors import RuleError
from shopflow.models import BenchSession, Cam, EngineForecast, Visit
from shopflow.services.actor import Actor
from shopflow.services.analysis import comparisons
from shopflow.services.bench import metal_cuts
from shopflow.services.bench.sessions import reduction
from shopflow.services.engine import cams, engine_results, engine_view
from shopflow.services.measuring import uncertainties
from shopflow.services.measuring.uncertainties import UsualUncertainties
from shopflow.services.paperwork import facts
from shopflow.services.paperwork.language import spoken_for
from shopflow.texts import gettext, translated

SIDES: tuple[Side, Side] = ("intake", "exhaust")
MOST_CAMS = 6


@dataclass(frozen=True)
class Chosen:
    """The flow tests of one side: the later one, and an earlier one to hold it against."""

    after: BenchSession | None = None
    before: BenchSession | None = None

    @property
    def rows(self) -> list[BenchSession]:
        """The tests there are, the earlier first."""
        return [row for row in (self.before, self.after) if row is not None]


Tests = dict[Side, Chosen]


def offered(visit: Visit, side: Side) -> list[BenchSession]:
    """Every flow test of a head's side, on whatever visit, this visit's last."""
    visits = sorted(visit.head.visits, key=lambda row: (row is visit, row.id))
    return [row for visited in visits for row in visited.sessions if row.side == side]


def suggested(visit: Visit, side: Side) -> Chosen:
    """A side's last test, and the first of the same port on this visit."""
    of_side = [row for row in visit.sessions if row.side == side] or offered(visit, side)
    if not of_side:
        return Chosen()
    last = of_side[-1]
    first = next(row for row in of_side if row.cylinder == last.cylinder)
    return Chosen(last, None if first is last else first)


def names(tests: Sequence[BenchSession]) -> list[str]:
    """Names that tell tests apart."""
    return comparisons.names(tests)


def on_offer(db: Session, visit: Visit) -> list[Cam]:
    """The cams that a head is shown through."""
    return cams.for_visit(db, visit)[:MOST_CAMS]


def through_cam(
    db: Session, visit: Visit, drawn: Cam, tests: Tests, at: datetime
) -> documents.ThroughCam:
    """A head's ports through one of its cams, and its tests against each other on all of them."""
    every = on_offer(db, visit)
    every = every if drawn in every else [drawn, *every][:MOST_CAMS]
    read = {cam.id: cams.document(cam) for cam in every}
    named = _named(tests)
    usual = uncertainties.usual(db)
    with spoken_for(db, visit.job.customer):
        return documents.ThroughCam(
            shop=facts.letterhead(db),
            display=facts.display(db, visit.job.customer),
            head=facts.identity(visit),
            job=visit.job.number,
            cam=_one_cam(drawn, read[drawn.id], tests, named),
            comparisons=tuple(
                _over_cams(side, chosen, list(read.values()), named, usual)
                for side, chosen in tests.items()
                if len(chosen.rows) == 2
            ),
            made_at=at,
            engine=_engine(db, visit, read[drawn.id], tests),
        )


def _engine(
    db: Session, visit: Visit, cam: CamDocument, tests: Tests
) -> documents.EngineView | None:
    """The engine behind the later test of the intake; None without one."""
    intake = tests["intake"]
    if intake.after is None:
        return None
    return engine_view.view(db, visit, cam, intake.after, intake.before)


def save_forecast(
    db: Session, by: Actor, visit: Visit, drawn: Cam | None, tests: Tests
) -> EngineForecast:
    """Save the forecast of air and power of a head through a cam.

    Raises RuleError where there is none to save.
    """
    intake = tests["intake"].after
    if drawn is None or intake is None:
        raise RuleError(
            gettext("there is no forecast to save: choose a cam and a flow test of the intake")
        )
    view = engine_view.view(db, visit, cams.document(drawn), intake)
    name = _named(tests)[intake.id]
    return engine_results.save_forecast(db, by, visit, drawn.name, name, view)


def _named(tests: Tests) -> dict[int, str]:
    """A name for each test, distinguished from the other of its side."""
    return {
        row.id: name
        for chosen in tests.values()
        for row, name in zip(chosen.rows, names(chosen.rows), strict=True)
    }


def _one_cam(row: Cam, cam: CamDocument, tests: Tests, named: dict[int, str]) -> documents.OneCam:
    latest = {side: chosen.after for side, chosen in tests.items()}
    earlier = {side: chosen.before or chosen.after for side, chosen in tests.items()}
    has_earlier = any(chosen.before for chosen in tests.values())
    lobes = {side: cam.lobe_of(side) for side in SIDES}
    open_ports = [_open_port(cam, side, latest[side]) for side in SIDES]
    return documents.OneCam(
        name=row.name,
        of_job=row.job_id is not None,
        speed=cam.speed.text,
        engine=f"{cam.bore} × {cam.stroke}",
        stand_ins=tuple(side for side, lobe in lobes.items() if lobe and lobe.is_stand_in),
        ports=tuple(
            _over_angle(cam, side, test, named[test.id], test is chosen.before)
            for side, chosen in tests.items()
            for test in chosen.rows
            if lobes[side] is not None
        ),
        overlap=overlap_curve(*open_ports),
        blowdown=blowdown_curve(open_ports[1]),
        latest=_cycle(cam, latest),
        earlier=_cycle(cam, earlier) if has_earlier else None,
    )


def _over_angle(
    cam: CamDocument, side: Side, row: BenchSession, name: str, is_first: bool
) -> documents.AreaOverAngle:
    port = _open_port(cam, side, row)
    if port is None:
        raise ValueError(gettext("this cam has no {side} lobe", side=translated(side)))
    motion, test = port.motion, reduction(row)
    return documents.AreaOverAngle(
        side=side,
        test=name,
        curve=area_curve(port),
        figures=side_of_cycle(port, cam.engine.speed),
        mean=cam_mean(test, motion),
        last_lift=float(test.lifts[-1]),
        is_first=is_first,
    )


def _cycle(cam: CamDocument, tests: dict[Side, BenchSession | None]) -> Cycle:
    intake, exhaust = (_open_port(cam, side, tests[side]) for side in SIDES)
    intake = intake or OpenPort(cam.intake.motion("intake"), None)
    air = None if cam.intake_temperature is None else cam.intake_temperature.si
    return cycle(cam.engine, intake, exhaust, air)


def _open_port(cam: CamDocument, side: Side, row: BenchSession | None) -> OpenPort | None:
    lobe = cam.lobe_of(side)
    if lobe is None:
        return None
    return OpenPort(lobe.motion(side), None if row is None else Port.of(reduction(row)))


def _over_cams(
    side: Side,
    chosen: Chosen,
    read: Sequence[CamDocument],
    named: dict[int, str],
    usual: UsualUncertainties,
) -> documents.OverCams:
    """A side's two tests against each other on every cam that has its lobe."""
    before, after = chosen.rows
    lobes = [cam.lobe_of(side) for cam in read]
    motions = [lobe.motion(side) for lobe in lobes if lobe is not None]
    tests = reduction(before), reduction(after)
    earlier, later = map(usual.filled, tests)
    areas = compare_over_cams(*tests, motions)
    one_port = (before.job_head.head_id, before.cylinder) == (
        after.job_head.head_id,
        after.cylinder,
    )
    cuts = metal_cuts.between(before, after) if one_port else None
    return documents.OverCams(
        side=side,
        before=named[before.id],
        after=named[after.id],
        is_gain=cuts is not None and not cuts.is_none,
        cuts="" if cuts is None else cuts.sentence,
        cams=tuple(cam.title for cam in read if cam.lobe_of(side) is not None),
        areas=areas,
        reasons=tuple(sentences.reasons(areas)),
        sources=gain_sources_over_cams(earlier, later, motions),
    )
