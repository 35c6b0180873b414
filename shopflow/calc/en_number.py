"""Agreement of two laboratories on one item: the En number."""

from __future__ import annotations

from math import hypot

from shopflow.texts import gettext


def en_number(value: float, reference: float, uncertainty: float, of_reference: float) -> float:
    r"""The En number of a result against another's.

    .. math:: E_n = (x - X)/\sqrt{U_x^2 + U_X^2}

    Parameters
    ----------
    value : x, any unit
    reference : X, of the other laboratory, in the same unit
    uncertainty, of_reference : expanded with coverage factor 2, of each, in that unit

    Returns
    -------
    a number; at most 1 either way is satisfactory

    Raises
    ------
    ValueError where neither states an uncertainty above 0

    Notes
    -----
    The two results must not share an error: where both were calibrated on one plate, the number
    comes out too small. Source: ISO 13528:2022, 9.7 (from memory); ISO/IEC 17043.

    Examples
    --------
    >>> round(en_number(212.4, 210.0, 2.5, 2.1), 4)
    0.7351
    """
    combined = hypot(uncertainty, of_reference)
    if not combined > 0.0:
        raise ValueError(gettext("an uncertainty above 0 is needed"))
    return (value - reference) / combined


def is_satisfactory(number: float) -> bool:
    """True where two laboratories agree within what they state."""
    return abs(number) <= 1.0
