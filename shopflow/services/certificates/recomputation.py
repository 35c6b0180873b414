"""Working a certificate's figures out again from the session files attached to it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from shopflow import testfile
from shopflow.calc import results
from shopflow.calc.area_gain import AreaGain as ComputedGain
from shopflow.calc.comparison import across_set_ups, compare
from shopflow.calc.margins import mean_effective_area, mean_flow_expanded
from shopflow.calc.pressure_exponent import at_pressures, exponents
from shopflow.calc.reduction import Reduction, reduce
from shopflow.documents import AreaGain, FlowCertificate, Gain, ResultPoint, SessionResult
from shopflow.errors import ValidationError
from shopflow.services.bench.result_points import OF_POINT, result_points
from shopflow.services.certificates import over_cam
from shopflow.texts import gettext

TOLERANCE = 1e-9
"""Relative: the same sums on another machine may differ in the last digits of a double only."""

OF_TEST = ("air_density", "mean_flow")
"""Results of a whole test."""

WITHOUT_MARGIN = frozenset({"lift", "lift_over_diameter", "runs", "choked"})
"""Results of a lift that no uncertainty is stated for."""

OF_EVERY_CERTIFICATE = (
    "lift",
    "lift_over_diameter",
    "runs",
    "flow",
    "cd_curtain",
    "cd_head",
    "cd_least_area",
    "velocity",
    "kinetic_energy_flux",
)
"""Results of a lift that every certificate states; later ones state more."""

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
    """Comparison of a certificate's results with those calculated again."""

    compared: int
    differing: tuple[str, ...]
    """Each in words: which figure, what is stated, what comes out."""

    gains_left: int = 0
    """Gains of older certificates, which do not say which files they are of."""

    @property
    def agrees(self) -> bool:
        """True where results were compared and all agree."""
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
            differing.append(gettext("{file_name} is not attached", file_name=session.file_name))
        except ValidationError as error:
            differing.append(f"{session.file_name}: {error.faults[0]}")
    figures = [*_figures(certificate, reductions)]
    if (cam := certificate.through_cam) is not None:
        try:
            figures += over_cam.recomputed(cam, reductions, files[cam.file_name])
        except KeyError:
            differing.append(gettext("{file_name} is not attached", file_name=cam.file_name))
        except ValidationError as error:
            differing.append(f"{cam.file_name}: {error.faults[0]}")
    for where, stated, computed in figures:
        compared += 1
        if not _same(stated, computed):
            differing.append(
                gettext(
                    "{where}: states {stated!r}, comes out as {computed!r}",
                    where=where,
                    stated=stated,
                    computed=computed,
                )
            )
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
            if gain.set_ups:
                before, after = across_set_ups(before), across_set_ups(after)
            yield from _of_gain(gain, before, after)


def _of_session(
    session: SessionResult, reduction: Reduction
) -> Iterator[tuple[str, Figure, Figure]]:
    name = session.file_name
    for key in OF_TEST:
        yield f"{name}, {key}", getattr(session, key), getattr(reduction, key)
    yield gettext("{name}, number of lifts", name=name), len(session.points), len(reduction.lifts)
    if session.is_as_tested:
        yield from _of_means(session, reduction)
    yield from _of_pressures(session, reduction)
    again = result_points(reduction)
    for number, (stated, point) in enumerate(zip(session.points, again, strict=False), start=1):
        where = gettext("{name}, lift {number}", name=name, number=number)
        yield (
            f"{where}, expanded_uncertainty",
            stated.expanded_uncertainty,
            point.expanded_uncertainty,
        )
        for key in _keys(session, stated):
            yield f"{where}, {key}", stated.value(key), point.value(key)
            if session.is_as_tested and key not in WITHOUT_MARGIN:
                yield f"{where}, U of {key}", stated.margin(key), point.margin(key)


def _of_pressures(
    session: SessionResult, reduction: Reduction
) -> Iterator[tuple[str, Figure, Figure]]:
    """Figures of lifts tested at several pressures, where a certificate states them."""
    for stated, again, names in (
        (session.exponents, exponents(reduction), ("value", "expanded_uncertainty", "isentropic")),
        (session.at_pressures, at_pressures(reduction), ("ratio", "flow", "area", "cd_head")),
    ):
        for number, (item, computed) in enumerate(zip(stated, again, strict=False), start=1):
            for name in names:
                where = gettext(
                    "{name}, several pressures {number}, {result}",
                    name=session.file_name,
                    number=number,
                    result=name,
                )
                yield where, getattr(item, name), getattr(computed, name)


def _keys(session: SessionResult, stated: ResultPoint) -> list[str]:
    """The results that a certificate states of a lift."""
    if not session.is_as_tested:
        return list(OF_EVERY_CERTIFICATE)
    own = [row.key for row in results.RESULTS if row.key in OF_POINT]
    return [*own, *(item.key for item in stated.more)]


def _of_means(session: SessionResult, reduction: Reduction) -> Iterator[tuple[str, Figure, Figure]]:
    """The means with their uncertainties."""
    name = session.file_name
    area, uncertainty = mean_effective_area(reduction)
    yield f"{name}, mean_area", session.mean_area, area
    yield f"{name}, mean_area_uncertainty", session.mean_area_uncertainty, uncertainty
    flow = mean_flow_expanded(reduction)
    yield f"{name}, mean_flow_uncertainty", session.mean_flow_uncertainty, flow


def _of_gain(
    gain: Gain, before: Reduction, after: Reduction
) -> Iterator[tuple[str, Figure, Figure]]:
    name = gettext(
        "{after_file} over {before_file}", after_file=gain.after_file, before_file=gain.before_file
    )
    comparison = compare(before, after)
    yield (
        gettext("{name}, mean gain", name=name),
        gain.mean_gain_percent,
        comparison.mean_gain_percent,
    )
    yield gettext("{name}, number of lifts", name=name), len(gain.points), len(comparison.points)
    for number, (stated, point) in enumerate(
        zip(gain.points, comparison.points, strict=False), start=1
    ):
        for figure, computed in GAIN_FIGURES.items():
            where = gettext(
                "{name}, lift {number}, {result}", name=name, number=number, result=figure
            )
            yield where, getattr(stated, figure), getattr(point, computed)
    if gain.mean is not None and comparison.areas.mean is not None:
        yield from _of_areas(
            name, (*gain.areas, gain.mean), (*comparison.areas.points, comparison.areas.mean)
        )


def _of_areas(
    name: str, stated: Sequence[AreaGain], computed_gains: Sequence[ComputedGain]
) -> Iterator[tuple[str, Figure, Figure]]:
    """Gains in effective area lift by lift, the mean last."""
    for number, (stated_gain, again) in enumerate(
        zip(stated, computed_gains, strict=False), start=1
    ):
        for figure, computed in GAIN_FIGURES_OF_AREA.items():
            where = gettext(
                "{name}, area gain {number}, {result}", name=name, number=number, result=figure
            )
            yield where, getattr(stated_gain, figure), getattr(again, computed)


def _same(stated: Figure, computed: Figure) -> bool:
    if stated is None or computed is None:
        return stated is computed
    if isinstance(stated, str) or isinstance(computed, str):
        return stated == computed
    # A gain of nothing may come out as a rounding.
    return math.isclose(stated, computed, rel_tol=TOLERANCE, abs_tol=1e-15)
