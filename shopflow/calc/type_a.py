"""Type A uncertainty of the mean of samples that follow one another."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np


def standard_uncertainty(samples: Sequence[float]) -> float:
    """Standard uncertainty of the mean of successive samples of one instrument.

    u = s / √n_e,   n_e = n (1 − r) / (1 + r)

    s is the sample standard deviation and n the number of samples (JCGM 100:2008, 4.2.3), which
    holds for independent samples alone (4.2.7). Those of an instrument that lags are not: r is
    their correlation with the sample before, taken as 0 where it is below, and the noise is assumed
    to be of the first order, so that the variance of the mean is that of n_e independent samples.
    The estimate of r is low by (1 + 3 r) / n on average (Kendall 1954, from memory), which is added
    back. 0 for samples that are all alike, and for one alone.

    >>> round(standard_uncertainty([201.2, 200.8, 201.5, 200.9, 201.1]), 6)
    0.122474
    """
    values = np.asarray(samples, dtype=float)
    count = len(values)
    if count < 2 or np.ptp(values) == 0.0:
        return 0.0
    apart = values - values.mean()
    spread = float(apart @ apart)
    correlation = float(apart[1:] @ apart[:-1]) / spread
    if correlation > 0.0:
        correlation = min(correlation + (1.0 + 3.0 * correlation) / count, 0.95)
    ratio = (1.0 + max(correlation, 0.0)) / (1.0 - max(correlation, 0.0))
    return float(np.sqrt(spread / (count - 1) / count * ratio))
