"""Values far from the others of their kind, such as a slip of the decimal point."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median


def far_from_others(
    values: Sequence[float], share: float, usual: float | None = None, share_of_usual: float = 0.25
) -> list[bool]:
    """True for each value that differs from the middle of all by more than a share of it.

    The middle is the median, which a single slip does not move. Two values do not tell which of
    them is wrong: the usual one decides or, without it, both are far. A value that agrees with the
    others is still far where it differs from the usual one by more than `share_of_usual`. Values
    and the usual one are above 0, in any one unit.

    >>> far_from_others([4.79, 47.9, 48.2, 47.8], 0.05)
    [True, False, False, False]
    >>> far_from_others([4.79, 47.9], 0.05), far_from_others([4.79, 47.9], 0.05, 48.0)
    ([True, True], [True, False])
    >>> far_from_others([4.79], 0.05), far_from_others([4.79, 4.81, 4.80], 0.05, 48.0)
    ([False], [True, True, True])
    """
    middle = median(values) if len(values) > 2 or usual is None else usual
    far = [abs(value - middle) > share * abs(middle) for value in values]
    if usual is None:
        return far
    return [
        is_far or abs(value - usual) > share_of_usual * abs(usual)
        for value, is_far in zip(values, far, strict=True)
    ]
