"""Quantities as people write them: what is meant, and what is refused for having two meanings."""

from __future__ import annotations

import math
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow import units
from shopflow.unit_words import understood
from shopflow.units import UNITS, UnitError


@pytest.mark.parametrize(
    ("text", "dimension", "usual", "meant"),
    [
        ("44.5", "length", "mm", "44.5 mm"),
        ("44,5 mm", "length", "in", "44.5 mm"),
        (",5", "length", "in", ".5 in"),
        ("0,125", "length", "in", "0.125 in"),
        ("44 MM", "length", "in", "44 mm"),
        ("44mm", "length", "in", "44mm"),
        ("7/16", "length", "in", "0.4375 in"),
        ("1 3/4 in", "length", "mm", "1.75 in"),
        ('1-3/4"', "length", "mm", "1.75 in"),
        ("1½ in", "length", "mm", "1.5 in"),
        ("½", "length", "in", "0.5 in"),
        ("−1/64 in", "length", "mm", "-0.015625 in"),
        ("20 °C", "temperature", "degF", "20 degC"),
        ("70F", "temperature", "degC", "70 degF"),
        ("293 k", "temperature", "degC", "293 K"),
        ("-5", "temperature", "degC", "-5 degC"),
        ("120 lb", "force", "N", "120 lbf"),
        ("120 lbs.", "force", "N", "120 lbf"),
        ("2 lb", "mass", "g", "2 lb"),
        ("272 lb/in", "force per length", "N/mm", "272 lbf/in"),
        ("28 in H2O", "pressure", "kPa", "28 inH2O"),
        ("28 inH₂O", "pressure", "kPa", "28 inH2O"),
        ('28 "H2O', "pressure", "kPa", "28 inH2O"),
        ("29,92 INHG", "pressure", "kPa", "29.92 inHg"),
        ("342 cu in", "volume", "cm3", "342 in3"),
        ("1.8 l", "volume", "cm3", "1.8 L"),
        ("50 cm³", "volume", "in3", "50 cm3"),
        ("30°", "angle", "deg", "30 deg"),
        ("20 N·m", "torque", None, "20 N.m"),
        ("15 ft-lb", "torque", None, "15 lbf.ft"),
        ("10 minutes", "time", "s", "10 min"),
        ("1,2\u00a0%", "ratio", None, "1.2 %"),
    ],
)
def test_what_is_written_is_understood(
    text: str, dimension: str, usual: str | None, meant: str
) -> None:
    assert understood(text, dimension, usual) == meant
    units.parse(meant, dimension)


@pytest.mark.parametrize(
    ("text", "dimension", "usual", "words"),
    [
        ("44.5", "length", None, "the unit is missing"),
        ("1,792", "volume", "cm3", "two ways"),
        ("1.792,5 cm3", "volume", "cm3", "two ways"),
        ("44 kg", "length", "mm", "unit of mass"),
        ("1/0 in", "length", "in", "divides by zero"),
        ("wide", "length", "mm", "not a number and a unit"),
        ("44..5", "length", "mm", "not a number and a unit"),
        ("44 mm 2", "length", "mm", "not a number and a unit"),
        ("4" * 80, "length", "mm", "too long"),
        ("1e999", "length", "mm", "too large"),
        ("nan", "length", "mm", "not a number"),
    ],
)
def test_what_has_no_meaning_or_two_is_refused(
    text: str, dimension: str, usual: str | None, words: str
) -> None:
    with pytest.raises(UnitError, match=words):
        understood(text, dimension, usual)


@given(
    st.decimals(-10_000, 10_000, allow_nan=False, places=4),
    st.sampled_from(sorted(UNITS.values(), key=lambda unit: unit.symbol)),
)
def test_any_case_and_a_comma_mean_the_same(number: object, unit: units.Unit) -> None:
    """Whatever the files' own way can say, it says the same in any case and with a comma."""
    text = f"{number:f} {unit.symbol}"
    value = units.parse(text, unit.dimension).si
    assert understood(text, unit.dimension) == text
    for other in (text.upper(), text.lower(), f"{number:f}{unit.symbol}"):
        assert units.parse(understood(other, unit.dimension), unit.dimension).si == value
    with_comma = f"{number:f}".replace(".", ",") + unit.symbol
    assert units.parse(understood(with_comma, unit.dimension), unit.dimension).si == value


@given(st.text(max_size=90), st.sampled_from(["length", "force", "temperature"]))
def test_any_text_is_a_quantity_or_refused_in_words(text: str, dimension: str) -> None:
    with suppress(UnitError):
        meant = understood(text, dimension, units.units_of(dimension)[0])
        assert math.isfinite(units.parse(meant, dimension).si)
