"""The flow tests of a certificate through an engine's cam, and the same worked out again."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping, Sequence

from sqlalchemy.orm import Session

from shopflow import camfile
from shopflow.calc.area_gain import AreaGain
from shopflow.calc.cam_gain import CamMean, cam_mean, compare_over_cams
from shopflow.calc.comparison import across_set_ups
from shopflow.calc.cycle import OpenPort, Port, SideOfCycle, side_of_cycle
from shopflow.calc.cycle_curves import Curve, area_curve, blowdown_curve, overlap_curve
from shopflow.calc.reduction import Reduction
from shopflow.camfile import CamDocument, Side
from shopflow.documents import AreaOverAngle, CertifiedCam, GainOverCam
from shopflow.models import BenchSession, Cam
from shopflow.sentences import reasons
from shopflow.services.bench import metal_cuts, set_up_confirmations, set_ups
from shopflow.services.bench.sessions import reduction
from shopflow.services.bench.test_names import file_name, session_name
from shopflow.services.engine import cams
from shopflow.texts import gettext

SIDES: tuple[Side, Side] = ("intake", "exhaust")
Pairs = Sequence[tuple[BenchSession, BenchSession]]
Figure = float | int | str | None
Compared = Iterator[tuple[str, Figure, Figure]]

FIGURES = ("opens", "closes", "max_lift", "mean_effective_area", "time_area", "share_beyond_test")
MEANS = ("area", "expanded_uncertainty", "share_beyond_test")
GAINS = {
    "low": "low",
    "high": "high",
    "area_before": "before",
    "area_after": "after",
    "expanded_uncertainty": "expanded_uncertainty",
    "verdict": "verdict",
}
"""Fields of a gain as stated, and as calculated."""


@dataclasses.dataclass(frozen=True)
class _Opened:
    """One test over the open period of its valve."""

    port: OpenPort
    curve: Curve
    figures: SideOfCycle
    mean: CamMean
    last_lift: float

    @classmethod
    def of(cls, cam: CamDocument, test: Reduction) -> _Opened | None:
        """A test through a cam; None where the cam has no lobe for its side."""
        lobe = cam.lobe_of(test.test.side)
        if lobe is None:
            return None
        port = OpenPort(lobe.motion(test.test.side), Port.of(test))
        return cls(
            port,
            area_curve(port),
            side_of_cycle(port, cam.engine.speed),
            cam_mean(test, port.motion),
            float(test.lifts[-1]),
        )


def certified(db: Session, row: Cam, tests: Sequence[BenchSession], pairs: Pairs) -> CertifiedCam:
    """A certificate's tests through a cam, each later one against the one it is compared with."""
    text = camfile.dumps(dataclasses.replace(cams.document(row), notes=""))
    cam = camfile.loads(text)
    opened = {test.id: _Opened.of(cam, reduction(test)) for test in tests}
    shown = [(test, through) for test in tests if (through := opened[test.id]) is not None]
    best = {side: _best(side, shown, pairs) for side in SIDES}
    drawn = {test.id for rows in best.values() for test in rows}
    ends = [opened[best[side][-1].id] if best[side] else None for side in SIDES]
    intake, exhaust = (None if end is None else end.port for end in ends)
    lobes = {side: cam.lobe_of(side) for side in SIDES}
    return CertifiedCam(
        name=row.name,
        of_job=row.job_id is not None,
        speed=cam.speed.text,
        engine=f"{cam.bore} × {cam.stroke}",
        stand_ins=tuple(side for side, lobe in lobes.items() if lobe and lobe.is_stand_in),
        ports=tuple(
            _over_angle(test, through, pairs, is_drawn=test.id in drawn) for test, through in shown
        ),
        overlap=overlap_curve(intake, exhaust),
        blowdown=blowdown_curve(exhaust),
        test_files=tuple(file_name(test) for test, _ in shown),
        gains=tuple(_gains(db, cam, pairs)),
        file_name=f"cam-{row.id}.toml",
        file_text=text,
    )


def recomputed(stated: CertifiedCam, reductions: Mapping[str, Reduction], text: str) -> Compared:
    """Each figure stated of a cam, with the one from its file and the tests' files.

    Raises ValidationError where the file of the cam is none.
    """
    cam = camfile.loads(text)
    for file, port in zip(stated.test_files, stated.ports, strict=True):
        test = reductions.get(file)
        if test is not None:
            yield from _of_port(file, port, _Opened.of(cam, test))
    for gain in stated.gains:
        before, after = reductions.get(gain.before_file), reductions.get(gain.after_file)
        lobe = cam.lobe_of("intake" if gain.side == "intake" else "exhaust")
        if before is None or after is None or lobe is None:
            continue
        motion = lobe.motion("intake" if gain.side == "intake" else "exhaust")
        if gain.set_ups:
            before, after = across_set_ups(before), across_set_ups(after)
        (again,) = compare_over_cams(before, after, [motion]).parts
        where = gettext(
            "{after_file} over {before_file}, through the cam",
            after_file=gain.after_file,
            before_file=gain.before_file,
        )
        for name, computed in GAINS.items():
            yield f"{where}, {name}", getattr(gain, name), getattr(again, computed)


def _of_port(file: str, port: AreaOverAngle, again: _Opened | None) -> Compared:
    where = gettext("{file}, through the cam", file=file)
    if again is None:
        yield where, port.side, None
        return
    yield f"{where}, last_lift", port.last_lift, again.last_lift
    for name in FIGURES:
        yield f"{where}, {name}", getattr(port.figures, name), getattr(again.figures, name)
    for name in MEANS:
        yield f"{where}, mean {name}", getattr(port.mean, name), getattr(again.mean, name)
    if port.curve:
        yield f"{where}, number of angles", len(port.curve), len(again.curve)
        for stated, point in zip(port.curve, again.curve, strict=False):
            yield f"{where}, {point[0]:g}°", stated[1], point[1]


def _best(
    side: Side, shown: Sequence[tuple[BenchSession, _Opened]], pairs: Pairs
) -> list[BenchSession]:
    """The test of a side with the largest mean area, after the one it is compared with."""
    of_side = [(test, through) for test, through in shown if test.side == side]
    if not of_side:
        return []
    later = {after.id for _, after in pairs}
    last = [pair for pair in of_side if pair[0].id in later] or of_side
    best, _ = max(last, key=lambda pair: pair[1].mean.area)
    return [*(before for before, after in pairs if after.id == best.id), best]


def _over_angle(
    test: BenchSession, through: _Opened, pairs: Pairs, *, is_drawn: bool
) -> AreaOverAngle:
    return AreaOverAngle(
        side=test.side,
        test=session_name(test),
        curve=through.curve if is_drawn else (),
        figures=through.figures,
        mean=through.mean,
        last_lift=through.last_lift,
        is_first=any(before.id == test.id for before, _ in pairs),
    )


def _gains(db: Session, cam: CamDocument, pairs: Pairs) -> Iterator[GainOverCam]:
    """Each later test against the earlier one, where the cam has a lobe and lifts in common."""
    for before, after in pairs:
        tests = reduction(before), reduction(after)
        lobe = cam.lobe_of(tests[1].test.side)
        if lobe is None:
            continue
        areas = compare_over_cams(*tests, [lobe.motion(tests[1].test.side)])
        for part in areas.parts:
            stated = _gain(before, after, part, tuple(reasons(areas)))
            confirmed = set_ups.confirmation(before, after)
            words = set_up_confirmations.in_words(db, confirmed) if confirmed else ""
            yield dataclasses.replace(stated, set_ups=words)


def _gain(
    before: BenchSession, after: BenchSession, part: AreaGain, why: tuple[str, ...]
) -> GainOverCam:
    return GainOverCam(
        side=after.side,
        before=session_name(before),
        after=session_name(after),
        before_file=file_name(before),
        after_file=file_name(after),
        is_gain=not metal_cuts.between(before, after).is_none,
        low=part.low,
        high=part.high,
        area_before=part.before,
        area_after=part.after,
        expanded_uncertainty=part.expanded_uncertainty,
        verdict=part.verdict.value,
        reasons=why,
    )
