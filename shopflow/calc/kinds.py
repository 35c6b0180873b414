"""The type of a figure: one number or an array of them."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = float | NDArray[np.float64] | np.floating[Any] | Any
