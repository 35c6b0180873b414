"""The types of a figure: one number or an array of them; and what it is held against."""

from __future__ import annotations

from enum import StrEnum
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Array: TypeAlias = Any
"""Argument and result of the formulas: floats or arrays of them, which broadcast as numpy does. (No
type says that a formula returns whichever it was given.)"""


class Against(StrEnum):
    """Axis of a curve, on which two tests meet."""

    LIFT = "lift"
    OVER_DIAMETER = "ld"
    """Lift over the diameter of the valve head, L/D."""
