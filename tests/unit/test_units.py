"""Units against their definitions, and typing against what people type."""

from __future__ import annotations

import contextlib
import doctest
import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow import units
from shopflow.units import UNITS, UnitError, from_si, parse, pretty_text, to_si, units_of

# NIST SP 811 (2008), appendix B.8 and B.9: the digits printed there.
PRINTED = {
    "in": 2.54e-2,
    "in2": 6.4516e-4,
    "in3": 1.638706e-5,
    "cfm": 4.719474e-4,
    "inH2O": 2.490889e2,
    "inHg": 3.386389e3,
    "mmH2O": 9.80665,
    "psi": 6.894757e3,
    "lbf": 4.448222,
    "lb": 4.535924e-1,
    "lbf/in": 1.751268e2,
    "lbf.ft": 1.355818,
    "ft/s": 3.048e-1,
    "hp": 7.456999e2,
    "lb/ft3": 1.601846e1,
    "deg": 1.745329e-2,
    "m3/h": 2.777778e-4,
    "mbar": 1e2,
    "bar": 1e5,
}


@pytest.mark.parametrize(("symbol", "printed"), PRINTED.items())
def test_factors_are_those_of_nist_sp_811(symbol: str, printed: float) -> None:
    assert UNITS[symbol].scale == pytest.approx(printed, rel=5e-7)


def test_temperatures_meet_at_the_fixed_points() -> None:
    """Ice point and absolute zero, by the definition of both scales."""
    assert to_si(32.0, "degF") == pytest.approx(273.15, abs=1e-9)
    assert to_si(0.0, "degC") == 273.15
    assert to_si(-459.67, "degF") == pytest.approx(0.0, abs=1e-9)


@given(st.sampled_from(sorted(UNITS)), st.floats(-1e9, 1e9))
def test_there_and_back_is_the_same_number(symbol: str, number: float) -> None:
    assert from_si(to_si(number, symbol), symbol) == pytest.approx(number, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize("text", ["28 inH2O", "28inH2O", " 28.00  inH2O ", "2.8e1 inH2O"])
def test_a_quantity_is_kept_as_typed(text: str) -> None:
    answer = parse(text, "pressure")
    assert answer.text == text
    assert answer.si == pytest.approx(28 * 249.08891, rel=1e-15)


REFUSED = {
    "": "is not a number and a unit",
    "28": "the unit is missing",
    "inH2O": "is not a number and a unit",
    "28 inH20": "did you mean 'inH2O'?",
    "28 INHG": "did you mean 'inHg'?",
    "28 mm": "'mm' is a unit of length, not of pressure",
    "28 xyzzy": "unknown unit 'xyzzy'; use one of Pa",
    "nan Pa": "is not a number and a unit",
    "inf Pa": "is not a number and a unit",
    "1e999 Pa": "too large a number",
    "28,5 Pa": "write decimals with a point",
    "٢٨ Pa": "is not a number and a unit",
}


@pytest.mark.parametrize(("text", "words"), REFUSED.items())
def test_what_is_no_pressure_is_refused_in_words(text: str, words: str) -> None:
    with pytest.raises(UnitError, match=re.escape(words)):
        parse(text, "pressure")


@given(st.text(max_size=20))
def test_any_text_is_a_quantity_or_a_unit_error(text: str) -> None:
    with contextlib.suppress(UnitError):
        assert math.isfinite(parse(text, "length").si)


def test_a_narrowed_choice_names_what_it_takes() -> None:
    with pytest.raises(UnitError, match="use one of mm, in"):
        parse("3 cm", "length", ("mm", "in"))


def test_every_unit_system_shows_each_kind_in_a_unit_that_exists() -> None:
    us, si = units.UNIT_SYSTEMS["us"], units.UNIT_SYSTEMS["si"]
    assert us.choices.keys() == si.choices.keys()
    for kind in us.choices:
        assert UNITS[us.unit(kind)].dimension == UNITS[si.unit(kind)].dimension


def test_figures_are_shown_with_their_unit_and_a_dash_where_there_is_none() -> None:
    assert units.US_CUSTOMARY.text(0.1, "flow") == "211.9 cfm"
    assert units.SI.text(0.1, "flow") == "100.00 L/s"
    assert units.SI.text(None, "flow") == "–"
    assert units.SI.number(None, "flow") == "–"


PRINTED_TEXTS = {
    "43.6 to 44.6 cm3": "43.6 to 44.6 cm³",
    "28 inH2O, drawn in": "28 inH₂O, drawn in",
    "29.4 inHg, 70 degF, 45 % RH": "29.4 inHg, 70 °F, 45 % RH",
    "45 deg, 1.5 mm wide": "45°, 1.5 mm wide",
    "12 N.m": "12 N·m",
    "44.1 cm³": "44.1 cm³",
}


@pytest.mark.parametrize(("typed", "printed"), PRINTED_TEXTS.items())
def test_typed_units_are_printed_with_their_signs(typed: str, printed: str) -> None:
    assert pretty_text(typed) == printed


def test_units_of_a_dimension_are_all_of_it() -> None:
    assert units_of("angle") == ("deg",)
    assert set(units_of("length")) == {"mm", "cm", "m", "in", "ft"}


def test_the_examples_in_the_documentation_hold() -> None:
    done = doctest.testmod(units)
    assert done.attempted
    assert not done.failed
