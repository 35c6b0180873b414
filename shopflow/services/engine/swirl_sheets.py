"""Swirl and tumble tests with their results, and their ratios through the cams of a head."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

from sqlalchemy.orm import Session

from shopflow.calc.array_types import Floats
from shopflow.calc.swirl import SwirlTest as SwirlInSi
from shopflow.calc.swirl_ratio import SwirlEngine, swirl_ratios
from shopflow.documents.swirl import SwirlPoint, SwirlResult, SwirlSheet, SwirlThroughCam
from shopflow.models import BenchSession, SwirlMeterKind, SwirlTest
from shopflow.services.bench import swirl_tests
from shopflow.services.bench.test_names import file_name, session_name
from shopflow.services.engine import cams
from shopflow.services.paperwork import facts
from shopflow.services.paperwork.language import spoken_for

MOST_CAMS = 6


def sheet(db: Session, row: SwirlTest, at: datetime) -> SwirlSheet:
    """A test as page and paper show it."""
    visit = row.session.job_head
    with spoken_for(db, visit.job.customer):
        return SwirlSheet(
            shop=facts.letterhead(db),
            display=facts.display(db, visit.job.customer),
            head=facts.identity(visit),
            job=visit.job.number,
            content=result(db, row),
            made_at=at,
        )


def of_sessions(db: Session, tests: Sequence[BenchSession]) -> tuple[SwirlResult, ...]:
    """Results of the swirl and tumble tests beside these flow tests."""
    return tuple(result(db, row) for row in swirl_tests.of_sessions(db, list(tests)))


def result(db: Session, row: SwirlTest) -> SwirlResult:
    """A test with its results."""
    test, session = swirl_tests.in_si(row), row.session
    efficiency = test.meter.efficiency
    low, high = test.meter.efficiencies
    uncertainty = row.efficiency_uncertainty
    return SwirlResult(
        motion=row.motion.value,
        test=session_name(session),
        test_file=file_name(session),
        meter_kind=row.meter_kind.value,
        meter=row.meter,
        bore=row.bore.text,
        adapter=row.adapter,
        rotation=row.rotation.value,
        pressure=(row.pressure or session.test_pressure).text,
        velocity=test.velocity,
        efficiency="" if row.efficiency is None else str(row.efficiency),
        efficiency_uncertainty="" if uncertainty is None else str(uncertainty),
        is_torque=row.meter_kind is SwirlMeterKind.TORQUE,
        points=tuple(_points(test)),
        ratios=tuple(_through_cams(db, row, test)),
        reverses_below=test.reverses_below,
        is_outside_published=efficiency is not None and not low <= efficiency <= high,
        notes=row.notes,
    )


def _points(test: SwirlInSi) -> Iterator[SwirlPoint]:
    count = len(test.lifts)

    def column(values: Floats | None) -> list[float | None]:
        return [None] * count if values is None else list(map(float, values.tolist()))

    columns = zip(
        test.lifts.tolist(),
        map(len, test.runs),
        test.discharge_coefficients.tolist(),
        test.momentum_fluxes.tolist(),
        test.momentum_per_mass.tolist(),
        test.indicated.tolist(),
        column(test.expanded(is_corrected=False)),
        column(test.coefficients),
        column(test.expanded() if test.coefficients is not None else None),
        strict=True,
    )
    yield from (SwirlPoint(*row) for row in columns)


def _through_cams(db: Session, row: SwirlTest, test: SwirlInSi) -> Iterator[SwirlThroughCam]:
    for cam in cams.for_visit(db, row.session.job_head)[:MOST_CAMS]:
        document = cams.document(cam)
        rod = document.rod_length
        engine = SwirlEngine(
            document.intake.motion("intake"), document.stroke.si, None if rod is None else rod.si
        )
        ratios = swirl_ratios(test, engine)
        piston = ratios.by_piston
        yield SwirlThroughCam(
            cam=cam.name,
            over_cam=ratios.over_cam.value,
            over_cam_margin=ratios.over_cam.expanded,
            by_piston=None if piston is None else piston.value,
            by_piston_margin=None if piston is None else piston.expanded,
            share_beyond=ratios.share_beyond,
        )
