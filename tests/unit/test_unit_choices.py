"""Units that a shop chooses for single quantities."""

from __future__ import annotations

import pytest

from shopflow.unit_choices import QUANTITIES, units_chosen, usual_unit
from shopflow.units import UNIT_SYSTEMS, UNITS

US, SI = UNIT_SYSTEMS["us"], UNIT_SYSTEMS["si"]


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_units_of_a_quantity_measure_the_same_and_are_shown_as_finely(quantity: str) -> None:
    """No unit hides what another one of the quantity shows: a last digit is of like size."""
    options = QUANTITIES[quantity]
    kinds = {tuple(figures) for figures in options.values()}
    assert len(kinds) == 1
    for kind in kinds.pop():
        chosen = [figures[kind] for figures in options.values()]
        assert {UNITS[unit].dimension for unit, _ in chosen} == {UNITS[US.unit(kind)].dimension}
        steps = [UNITS[unit].scale * 10.0**-places for unit, places in chosen]
        assert max(steps) / min(steps) < 15.0


def test_each_system_is_one_choice_of_all() -> None:
    for code, system in UNIT_SYSTEMS.items():
        choices = tuple((quantity, usual_unit(code, quantity)) for quantity in QUANTITIES)
        assert units_chosen(code, choices) is system
        assert not system.is_mixed
        other = "si" if code == "us" else "us"
        mixed = units_chosen(other, choices)
        changed = {kind for figures in QUANTITIES.values() for kinds in figures.values()
                   for kind in kinds}  # fmt: skip
        assert all(mixed.choices[kind] == system.choices[kind] for kind in changed)


@pytest.mark.source("NIST SP 811 (2008), B.8: 1 ft3/min = 4.719474e-4 m3/s, 1 mbar = 100 Pa")
def test_a_metric_shop_flows_in_cfm() -> None:
    units = units_chosen("si", (("flow", "cfm"), ("test_pressure", "mbar")))
    assert units.text(0.1, "flow") == f"{0.1 / 4.719474e-4:.1f} cfm"
    assert units.text(6974.48948, "test pressure") == f"{6974.48948 / 100.0:.1f} mbar"
    assert units.text(0.01, "lift") == "10.00 mm"
    assert units.is_mixed
    assert (units.measures_us("length"), units.is_us("flow")) == (False, True)


def test_what_there_is_none_of_is_refused() -> None:
    with pytest.raises(KeyError):
        units_chosen("us", (("flow", "kPa"),))
    with pytest.raises(KeyError):
        units_chosen("us", (("smell", "mm"),))
