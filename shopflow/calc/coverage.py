"""Degrees of freedom and coverage factors, for the trust in a small number of repeats."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

import numpy as np

from shopflow.calc.array_types import Array

# JCGM 100:2008, table G.2: t for 95 %, by degrees of freedom; the last is for infinitely many.
_T95 = {
    1: 12.71, 2: 4.30, 3: 3.18, 4: 2.78, 5: 2.57, 6: 2.45, 7: 2.36, 8: 2.31, 9: 2.26, 10: 2.23,
    11: 2.20, 12: 2.18, 13: 2.16, 14: 2.14, 15: 2.13, 16: 2.12, 17: 2.11, 18: 2.10, 19: 2.09,
    20: 2.09, 25: 2.06, 30: 2.04, 35: 2.03, 40: 2.02, 45: 2.01, 50: 2.01, 100: 1.984,
}  # fmt: skip
_T95_MANY = 1.960


def effective_degrees_of_freedom(components: Sequence[Array], freedoms: Sequence[Array]) -> Array:
    r"""Degrees of freedom of a combined standard uncertainty, by Welch and Satterthwaite.

    .. math:: \nu_{eff} = \frac{u_c^4}{\sum u_i^4 / \nu_i},\quad u_c^2 = \sum u_i^2

    Parameters
    ----------
    components : standard uncertainties of the result, in one unit
    freedoms : degrees of freedom of each; numpy.inf for one taken as known

    Returns
    -------
    dimensionless; infinite where every component with any weight is taken as known

    Notes
    -----
    Source: JCGM 100:2008, equation G.2b.

    Examples
    --------
    JCGM 100:2008, G.4.1: 0.25, 0.57 and 0.82 % with 9, 4 and 14 make 19.0.

    >>> round(float(effective_degrees_of_freedom([0.25, 0.57, 0.82], [9, 4, 14])), 1)
    19.0
    """
    combined = sum(np.asarray(component) ** 2 for component in components) ** 2
    shares = sum(
        np.asarray(component) ** 4 / freedom
        for component, freedom in zip(components, freedoms, strict=True)
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(shares > 0.0, combined / shares, np.inf)


def coverage_factor_95(freedom: float) -> float:
    """Factor for 95 % confidence at these degrees of freedom.

    Between two rows of the table the lower one counts, so that the factor is never too small.
    Source: JCGM 100:2008, table G.2 and G.4.1. Raises ValueError below one degree of freedom.

    >>> coverage_factor_95(19.0), coverage_factor_95(float("inf"))
    (2.09, 1.96)
    """
    # Of one degree of freedom the sums may leave a little less.
    if not freedom >= 1.0 - 1e-9:
        raise ValueError("less than one degree of freedom says nothing")
    if freedom == float("inf"):
        return _T95_MANY
    rows = list(_T95)
    return _T95[rows[bisect_right(rows, max(freedom, 1.0)) - 1]]
