"""Degrees of freedom: the trust in a small number of repeats."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shopflow.calc.array_types import Array


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
