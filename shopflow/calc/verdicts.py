"""Verdicts: when a difference may be called a gain or a loss."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from shopflow.calc.student import LEVEL
from shopflow.texts import gettext_noop


class Verdict(StrEnum):
    """Verdict of a comparison; the words of its JSON."""

    GAIN = gettext_noop("gain")
    LOSS = gettext_noop("loss")
    NO_DIFFERENCE = gettext_noop("no difference shown")
    NOT_STATED = gettext_noop("not stated")


def holm(chances: Sequence[float], level: float = LEVEL) -> NDArray[np.bool_]:
    """Mask of the differences of a family that are shown, with a chance of any false one of
    `level`.

    Parameters
    ----------
    chances : of each difference, the chance that it is as large by chance alone
    level : chance of any false verdict that is accepted

    Returns
    -------
    for each, whether it is shown

    Notes
    -----
    The smallest chance is held against level/m, the next against level/(m - 1), up to the first
    that is not below. Needs no independence. Source: Holm, Scand. J. Statist. 6 (1979) 65.

    Examples
    --------
    0.012 passes 0.05/4 and 0.014 passes 0.05/3; 0.03 does not pass 0.05/2.

    >>> holm([0.03, 0.012, 0.6, 0.014]).tolist()
    [False, True, False, True]
    """
    order = np.argsort(chances, kind="stable")
    limits = level / np.arange(len(order), 0, -1)
    passed = np.logical_and.accumulate(np.asarray(chances)[order] <= limits)
    shown = np.zeros(len(order), dtype=bool)
    shown[order] = passed
    return shown


def verdict_of(ratio: float, shown: bool) -> Verdict:
    """The verdict on a later over an earlier figure."""
    if not shown:
        return Verdict.NO_DIFFERENCE
    return Verdict.GAIN if ratio > 1.0 else Verdict.LOSS
