"""One head against another, each by the mean of its ports."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.calc.area_gain import AreaComparison, compare_areas
from shopflow.calc.array_types import Against
from shopflow.calc.common_lifts import held_against
from shopflow.calc.reduction import Reduction


def compare_head_areas(
    first: Sequence[Reduction], second: Sequence[Reduction], against: Against = Against.LIFT
) -> AreaComparison:
    """The mean effective areas of two heads' ports against each other; see `compare_areas`.

    Parameters
    ----------
    first, second : one or more sessions of each head, all of one side
    against : whether they meet at like lift or at like lift over valve diameter

    Notes
    -----
    The uncertainty is that of the measurement: how far the ports of a head differ among
    themselves is their spread.
    """
    last = second[-1]
    before, after = (
        [held_against(test, last, against) for test in head] for head in (first, second)
    )
    return compare_areas(before, after)
