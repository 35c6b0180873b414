"""The shape of a section against closed forms and another library's ellipse."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ellipe

from shopflow.calc import port_form
from shopflow.calc.port_form import Shape

LENGTHS = st.floats(1e-3, 0.2)


def ellipse(a: float, b: float) -> tuple[float, float]:
    """Area and perimeter of an ellipse of these half-axes, by scipy's complete integral."""
    long, short = max(a, b), min(a, b)
    return math.pi * a * b, 4.0 * long * float(ellipe(1.0 - (short / long) ** 2))


@pytest.mark.source("Circle, square and rectangle in closed form")
def test_plain_outlines_have_their_closed_forms() -> None:
    area, perimeter = math.pi * 0.02**2, 2.0 * math.pi * 0.02
    assert port_form.hydraulic_diameter(area, perimeter) == pytest.approx(0.04, rel=1e-12)
    assert port_form.roundness(area, perimeter) == pytest.approx(1.0, rel=1e-12)
    assert port_form.equivalent_diameter(area) == pytest.approx(0.04, rel=1e-12)
    assert port_form.largest_area(perimeter) == pytest.approx(area, rel=1e-12)
    # A rectangle of width w and height h: 2wh/(w + h) and pi wh/(w + h)^2.
    assert port_form.hydraulic_diameter(3.0 * 2.0, 10.0) == pytest.approx(2.4)
    assert port_form.roundness(3.0 * 2.0, 10.0) == pytest.approx(math.pi * 6.0 / 25.0)


@given(a=LENGTHS, b=LENGTHS)
@pytest.mark.source("The isoperimetric inequality; ellipse's perimeter by scipy.special.ellipe")
def test_every_ellipse_lies_within_its_perimeter_and_its_box(a: float, b: float) -> None:
    area, perimeter = ellipse(a, b)
    assert port_form.roundness(area, perimeter) <= 1.0 + 1e-12
    assert port_form.is_enclosed(area, perimeter)
    assert port_form.fits_within(area, 2.0 * a, 2.0 * b)


@given(a=LENGTHS, b=LENGTHS, scale=st.floats(0.1, 10.0))
def test_ratios_do_not_hang_on_the_size(a: float, b: float, scale: float) -> None:
    area, perimeter = ellipse(a, b)
    small = port_form.form_of(area, Shape(2 * a, 2 * b, perimeter, a))
    large = port_form.form_of(
        area * scale**2, Shape(2 * a * scale, 2 * b * scale, perimeter * scale, a * scale)
    )
    for name in ("aspect_ratio", "roundness", "bend_sharpness"):
        assert getattr(large, name) == pytest.approx(getattr(small, name), rel=1e-9)
    assert large.hydraulic_diameter == pytest.approx(
        scale * (small.hydraulic_diameter or 0.0), rel=1e-9
    )


def test_results_are_only_of_what_was_measured() -> None:
    assert not Shape()
    bare = port_form.form_of(1e-3, Shape(width=0.04))
    assert bare == port_form.Form(None, None, None, None)
    assert port_form.form_of(1e-3, Shape(height=0.03, short_side_radius=0.0)).bend_sharpness == 0.0
