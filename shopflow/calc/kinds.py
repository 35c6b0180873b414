"""The types of a figure: one number or an array of them."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Array: TypeAlias = float | Floats | np.floating[Any] | Any
"""What the formulas take and give: a float or an array, which broadcast as numpy does."""
