"""Gain of a head between two tests of its ports: the mean over them, by part of the lift."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from math import expm1, log

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.calc.brought import bring
from shopflow.calc.estimates import Estimates, Group, Source
from shopflow.calc.reduction import Reduction
from shopflow.calc.worth import Part, parts_of_lift

PortPair = tuple[Reduction, Reduction]
"""A test of a port and a later one of it."""


@dataclass(frozen=True, slots=True)
class HeadGain:
    """The logarithm of the area ratio of a head's ports in the mean, over a part of the lift."""

    part: str
    value: float
    standard_uncertainty: float
    """Of `value`, from what is stated."""

    expanded_uncertainty: float
    """Of `value` for 95 %; 0 where it is not stated, as in a comparison of the two tests."""

    ports: int

    @property
    def percent(self) -> float:
        """The gain in percent."""
        return 100.0 * expm1(self.value)


@dataclass(frozen=True, slots=True)
class PortRatio:
    """The later area of a port over the earlier."""

    areas: Estimates
    is_stated: bool
    """True where enough is known of both tests for a verdict."""


def head_gains(ports: Sequence[PortPair]) -> list[HeadGain]:
    """The gain of a head over each part of the lift that any of its ports was tested over.

    Parameters
    ----------
    ports : the earlier and the later test of each port

    Notes
    -----
    An error that ports share, as that of the calibration, does not lessen with their number
    (JCGM 102:2011). A port whose two tests share no range of lift is left out. Where one of a
    port's tests leaves unknown what the other states, the standard uncertainty is of the rest and
    no expanded one is stated.
    """
    by_part: defaultdict[str, list[PortRatio]] = defaultdict(list)
    for before, after in ports:
        for part, ratio in _ratios(before, after):
            by_part[part.name].append(ratio)
    return [_mean(name, ratios) for name, ratios in by_part.items()]


def _ratios(before: Reduction, after: Reduction) -> list[tuple[Part, PortRatio]]:
    """The later area over the earlier, in the mean over each part of the lift."""
    low = max(float(before.lifts[0]), float(after.lifts[0]))
    high = min(float(before.lifts[-1]), float(after.lifts[-1]))
    if low > high:
        return []
    parts = parts_of_lift(low, high, before.test.valve.head_diameter)
    brought = bring([before, after], [(part.low, part.high) for part in parts])
    if brought is None:
        return []
    earlier, later = brought.estimates
    ratio = later / earlier
    return [
        (part, PortRatio(_row(ratio, index), brought.is_stated))
        for part, index in zip(parts, brought.over_parts, strict=True)
    ]


def _row(figures: Estimates, index: int) -> Estimates:
    """One of several figures."""
    effects = {source: effect[[index]] for source, effect in figures.effects.items()}
    return Estimates(figures.values[[index]], effects, figures.freedoms)


def _mean(part: str, ports: Sequence[PortRatio]) -> HeadGain:
    """The mean of logarithms of ratios, and of the effects of each error on them."""
    ratios = [port.areas for port in ports]
    effects: defaultdict[Source, Floats] = defaultdict(lambda: np.zeros(1))
    freedoms: dict[Group, float] = {}
    for ratio in ratios:
        for source, effect in ratio.effects.items():
            effects[source] = effects[source] + effect / len(ratios)
        freedoms |= ratio.freedoms
    value = sum(log(ratio.values[0]) for ratio in ratios) / len(ratios)
    mean = Estimates(np.exp([value]), effects, freedoms)
    expanded = float(mean.expanded[0]) if all(port.is_stated for port in ports) else 0.0
    return HeadGain(part, value, float(mean.standard[0]), expanded, len(ratios))
