"""Swirl of one port before and after: the difference, and whether it is shown."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.calc.estimates import Estimates
from shopflow.calc.swirl import Figure, SwirlTest
from shopflow.texts import gettext_noop


class SwirlVerdict(StrEnum):
    """Verdict on two tests' mean coefficients."""

    MORE = gettext_noop("more")
    LESS = gettext_noop("less")
    NO_DIFFERENCE = gettext_noop("no difference shown")
    NOT_STATED = gettext_noop("not stated")


@dataclass(frozen=True)
class SwirlChange:
    """Coefficients of two tests at lifts both cover, and in the mean over that range."""

    lifts: Floats
    before: Floats
    """At each lift; the mean last, as in what follows."""

    after: Floats
    difference: Floats
    expanded: Floats | None
    """Of each difference for 95 %; None where it is not stated."""

    is_corrected: bool
    """By the meter's efficiency; otherwise as indicated."""

    verdict: SwirlVerdict
    """On the mean, in size and not in sense."""


def swirl_change(before: SwirlTest, after: SwirlTest) -> SwirlChange | None:
    """The later test against the earlier; None where they have no range of lift in common.

    Notes
    -----
    An error that both share, as of the meter's efficiency or of the bench's calibration, acts by
    its difference (JCGM 102:2011). One verdict is given, on the mean over lift: it has one chance
    in twenty of being false where nothing changed.
    """
    low = max(float(before.lifts[0]), float(after.lifts[0]))
    high = min(float(before.lifts[-1]), float(after.lifts[-1]))
    if low >= high:
        return None
    lifts = np.array([lift for lift in after.lifts.tolist() if low <= lift <= high])
    is_corrected = before.meter.efficiency is not None and after.meter.efficiency is not None
    first, last = (
        test.estimates(_at(test, lifts, (low, high)), is_corrected) for test in (before, after)
    )
    difference = _difference(first, last)
    is_stated = before.is_stated and after.is_stated
    if is_corrected and (before.meter.key is None or before.meter != after.meter):
        stated = (test.meter.efficiency_uncertainty for test in (before, after))
        is_stated = is_stated and None not in stated
    expanded = difference.expanded if is_stated else None
    return SwirlChange(
        lifts,
        before=first.values,
        after=last.values,
        difference=difference.values,
        expanded=expanded,
        is_corrected=is_corrected,
        verdict=_verdict(difference.values, expanded, abs(last.values[-1]) > abs(first.values[-1])),
    )


def _at(test: SwirlTest, lifts: Floats, span: tuple[float, float]) -> Figure:
    """Coefficients at lifts, and last their mean over a span."""

    def figure(coefficients: Floats, _: Floats) -> Floats:
        curve = test.curve(coefficients)
        low, high = curve.integral(np.array(span)).tolist()
        return np.append(curve.at(lifts), (high - low) / (span[1] - span[0]))

    return figure


def _difference(first: Estimates, last: Estimates) -> Estimates:
    """Differences with errors in their own unit."""
    nothing = np.zeros(len(first.values))
    effects = {
        source: last.effects.get(source, nothing) - first.effects.get(source, nothing)
        for source in {**first.effects, **last.effects}
    }
    return Estimates(last.values - first.values, effects, {**first.freedoms, **last.freedoms})


def _verdict(difference: Floats, expanded: Floats | None, is_more: bool) -> SwirlVerdict:
    if expanded is None:
        return SwirlVerdict.NOT_STATED
    if abs(difference[-1]) <= expanded[-1]:
        return SwirlVerdict.NO_DIFFERENCE
    return SwirlVerdict.MORE if is_more else SwirlVerdict.LESS
