"""Working a certificate's figures out again from the session files attached to it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields

from shopflow import testfile
from shopflow.calc.area_gain import AreaGain as ComputedGain
from shopflow.calc.comparison import compare
from shopflow.calc.margins import margins, mean_effective_area
from shopflow.calc.reduction import Reduction, reduce
from shopflow.documents import AreaGain, FlowCertificate, Gain, Margins, SessionResult
from shopflow.errors import ValidationError

TOLERANCE = 1e-9
"""Relative: the same sums on another machine may differ in the last digits of a double only."""

SESSION_FIGURES = ("air_density", "mean_flow")
POINT_FIGURES = {
    "lift": "lift",
    "lift_over_diameter": "lift_over_diameter",
    "runs": "runs",
    "flow": "flow",
    "expanded_uncertainty": "flow_expanded_uncertainty",
    "cd_curtain": "cd_curtain",
    "cd_head": "cd_head",
    "cd_least_area": "cd_least_area",
    "velocity": "velocity",
    "kinetic_energy_flux": "kinetic_energy_flux",
}
"""Figures of a lift as the certificate names them, and as the computation does."""

LATER_FIGURES = ("flow_as_tested", "flow_isentropic", "effective_area", "choked")
"""Those that certificates from before they were printed do not hold."""

GAIN_FIGURES_OF_AREA = {
    "low": "low",
    "high": "high",
    "area_before": "before",
    "area_after": "after",
    "gain": "gain",
    "expanded_uncertainty": "expanded_uncertainty",
    "verdict": "verdict",
}

GAIN_FIGURES = {
    "lift": "lift",
    "before": "before",
    "after": "after",
    "gain": "gain",
    "gain_percent": "gain_percent",
    "expanded_uncertainty": "gain_expanded_uncertainty",
    "significant": "significant",
}
Figure = float | int | str | None


@dataclass(frozen=True)
class Recomputed:
    """How a certificate's figures compare with those worked out again."""

    compared: int
    differing: tuple[str, ...]
    """Each in words: which figure, what is stated, what comes out."""

    gains_left: int = 0
    """Gains of older certificates, which do not say which files they are of."""

    @property
    def agrees(self) -> bool:
        """Whether figures were compared and all agree."""
        return self.compared > 0 and not self.differing


def recompute(certificate: FlowCertificate, files: Mapping[str, str]) -> Recomputed:
    """Every figure stated, against the one from the files attached, by their names."""
    compared, differing = 0, []
    reductions: dict[str, Reduction] = {}
    for session in certificate.sessions:
        try:
            text = files[session.file_name]
            reductions[session.file_name] = reduce(testfile.loads(text).flow_test())
        except KeyError:
            differing.append(f"{session.file_name} is not attached")
        except ValidationError as error:
            differing.append(f"{session.file_name}: {error.faults[0]}")
    for where, stated, found in _figures(certificate, reductions):
        compared += 1
        if not _same(stated, found):
            differing.append(f"{where}: states {stated!r}, comes out as {found!r}")
    gains_left = sum(not gain.after_file for gain in certificate.gains)
    return Recomputed(compared, tuple(differing), gains_left)


def _figures(
    certificate: FlowCertificate, reductions: Mapping[str, Reduction]
) -> Iterator[tuple[str, Figure, Figure]]:
    for session in certificate.sessions:
        if session.file_name in reductions:
            yield from _of_session(session, reductions[session.file_name])
    for gain in certificate.gains:
        before, after = reductions.get(gain.before_file), reductions.get(gain.after_file)
        if before is not None and after is not None:
            yield from _of_gain(gain, before, after)


def _of_session(session: SessionResult, found: Reduction) -> Iterator[tuple[str, Figure, Figure]]:
    name = session.file_name
    for figure in SESSION_FIGURES:
        yield f"{name}, {figure}", getattr(session, figure), getattr(found, figure)
    yield f"{name}, number of lifts", len(session.points), len(found.points)
    for place, (stated, point) in enumerate(
        zip(session.points, found.points, strict=False), start=1
    ):
        for figure, computed in POINT_FIGURES.items():
            where = f"{name}, lift {place}, {figure}"
            yield where, getattr(stated, figure), getattr(point, computed)
    if session.is_as_tested:
        yield from _as_tested(session, found)


def _as_tested(session: SessionResult, found: Reduction) -> Iterator[tuple[str, Figure, Figure]]:
    """The figures added since, each with what it may be off by."""
    name, margin = session.file_name, margins(found)
    yield f"{name}, mean_area", session.mean_area, mean_effective_area(found)[0]
    for stated, computed in (
        ("mean_area_uncertainty", "mean_effective_area"),
        ("mean_flow_uncertainty", "mean_flow"),
    ):
        yield f"{name}, {stated}", getattr(session, stated), getattr(margin, computed, None)
    for place, (point, computed_point) in enumerate(
        zip(session.points, found.points, strict=False)
    ):
        where = f"{name}, lift {place + 1}"
        for figure in LATER_FIGURES:
            yield f"{where}, {figure}", getattr(point, figure), getattr(computed_point, figure)
        for field in fields(Margins):
            column = getattr(margin, field.name, None)
            again = None if column is None else float(column[place])
            yield f"{where}, U of {field.name}", getattr(point.margins, field.name, None), again


def _of_gain(
    gain: Gain, before: Reduction, after: Reduction
) -> Iterator[tuple[str, Figure, Figure]]:
    name = f"{gain.after_file} over {gain.before_file}"
    found = compare(before, after)
    yield f"{name}, mean gain", gain.mean_gain_percent, found.mean_gain_percent
    yield f"{name}, number of lifts", len(gain.points), len(found.points)
    for place, (stated, point) in enumerate(zip(gain.points, found.points, strict=False), start=1):
        for figure, computed in GAIN_FIGURES.items():
            where = f"{name}, lift {place}, {figure}"
            yield where, getattr(stated, figure), getattr(point, computed)
    if gain.mean is not None and found.areas.mean is not None:
        yield from _of_areas(
            name, (*gain.areas, gain.mean), (*found.areas.points, found.areas.mean)
        )


def _of_areas(
    name: str, stated: Sequence[AreaGain], found: Sequence[ComputedGain]
) -> Iterator[tuple[str, Figure, Figure]]:
    """Gains in effective area lift by lift, the mean last."""
    for place, (one, again) in enumerate(zip(stated, found, strict=False), start=1):
        for figure, computed in GAIN_FIGURES_OF_AREA.items():
            where = f"{name}, area gain {place}, {figure}"
            yield where, getattr(one, figure), getattr(again, computed)


def _same(stated: Figure, found: Figure) -> bool:
    if stated is None or found is None:
        return stated is found
    if isinstance(stated, str) or isinstance(found, str):
        return stated == found
    # A gain of nothing may come out as a rounding.
    return math.isclose(stated, found, rel_tol=TOLERANCE, abs_tol=1e-15)
