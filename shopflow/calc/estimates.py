"""Figures with the errors behind them, each error known by what shares it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from math import inf
from typing import NamedTuple

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.calc.student import factor_95, two_sided_p


class Input(StrEnum):
    """An input of a flow test whose error counts."""

    RUNS = "runs"
    RESOLUTION = "resolution"
    CALIBRATION = "calibration"
    POINTS = "calibration points"
    ELEMENT = "metering element"
    PRESSURE = "test pressure"
    LIFT = "lift setting"
    LEAKAGE = "leakage"
    DENSITY = "air density"
    DAY = "bench on the day"
    HEAD_DIAMETER = "valve head diameter"
    STEM_DIAMETER = "stem diameter"
    SEAT_ANGLE = "seat angle"
    SEAT_WIDTH = "seat width"
    THROAT_DIAMETER = "throat diameter"
    PORT_AREA = "port area"
    EFFICIENCY = "efficiency of a swirl meter"


class Source(NamedTuple):
    """One error: of which input, of which calibration, gauge or test, and at which lift."""

    input: Input
    owner: Hashable
    lift: int | None = None
    """Index of the one lift it acts at; None for an error that all lifts of its owner share."""

    part: int = 0
    """Number of the error, where an input has several independent ones."""


Group = tuple[Input, Hashable]
"""Errors whose size was estimated in one go, with one number of degrees of freedom."""


@dataclass(frozen=True)
class Estimates:
    """Several figures, and what each standard error does to them.

    Errors with the same source are one and the same error; all others are independent.
    Source of the treatment: JCGM 102:2011; JCGM 100:2008, 5.2.2, note 1 and F.1.2.3.
    """

    values: Floats
    effects: Mapping[Source, Floats]
    """Relative change of each figure by one standard uncertainty of the source."""

    freedoms: Mapping[Group, float]
    """Degrees of freedom of what was estimated from few readings; the rest is taken as known."""

    @cached_property
    def standard(self) -> Floats:
        """Relative standard uncertainty of each figure."""
        squares = sum((effect**2 for effect in self.effects.values()), np.zeros(len(self.values)))
        return np.asarray(np.sqrt(squares))

    @cached_property
    def freedom(self) -> Floats:
        """Effective degrees of freedom of each, by Welch and Satterthwaite (JCGM 100, G.2b)."""
        shares = defaultdict[Group, Floats](lambda: np.zeros(len(self.values)))
        for source, effect in self.effects.items():
            if (source.input, source.owner) in self.freedoms:
                shares[source.input, source.owner] += effect**2
        few = sum(
            (share**2 / self.freedoms[group] for group, share in shares.items()),
            np.zeros(len(self.values)),
        )
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(few > 0.0, self.standard**4 / few, inf)

    @cached_property
    def expanded(self) -> Floats:
        """Relative expanded uncertainty of each for 95 %."""
        return np.array([factor_95(freedom) for freedom in self.freedom.tolist()]) * self.standard

    @cached_property
    def chances(self) -> list[float]:
        """Of ratios: the chance that each is as far from 1 by chance alone."""
        distances = np.abs(np.log(self.values))
        rows = zip(distances.tolist(), self.standard.tolist(), self.freedom.tolist(), strict=True)
        return [
            two_sided_p(distance / standard, freedom) if standard else float(distance == 0.0)
            for distance, standard, freedom in rows
        ]

    def __truediv__(self, other: Estimates) -> Estimates:
        """The ratio of these figures to others; what both share acts by its difference."""
        nothing = np.zeros(len(self.values))
        effects = {
            source: self.effects.get(source, nothing) - other.effects.get(source, nothing)
            for source in {**self.effects, **other.effects}
        }
        return Estimates(self.values / other.values, effects, {**self.freedoms, **other.freedoms})


def mean_of(several: Sequence[Estimates]) -> Estimates:
    """The mean of like figures of several tests."""
    total = sum((estimate.values for estimate in several), np.zeros(len(several[0].values)))
    effects = defaultdict[Source, Floats](lambda: np.zeros(len(total)))
    freedoms: dict[Group, float] = {}
    for estimate in several:
        for source, effect in estimate.effects.items():
            effects[source] = effects[source] + effect * estimate.values / total
        freedoms |= estimate.freedoms
    return Estimates(total / len(several), effects, freedoms)
