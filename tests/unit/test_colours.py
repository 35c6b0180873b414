"""House colours: what can be read on white."""

from __future__ import annotations

import doctest
from datetime import date
from types import ModuleType

import pytest

from shopflow.documents import amounts, colours, dates
from shopflow.documents.colours import contrast_on_white


@pytest.mark.parametrize(
    ("colour", "contrast"),
    [
        # Black on white is 21, white on white 1: WCAG 2.2, definition of contrast ratio.
        ("#000000", 21.0),
        ("#ffffff", 1.0),
        # #767676 is the lightest grey that reaches 4.5, #949494 that reaches 3 (common practice).
        ("#767676", 4.54),
        ("#777777", 4.48),
        ("#949494", 3.03),
        # sRGB red: L 0.2126, so 1.05 / 0.2626.
        ("#ff0000", 3.998),
    ],
)
def test_contrast_is_that_of_wcag(colour: str, contrast: float):
    assert contrast_on_white(colour) == pytest.approx(contrast, abs=0.005)


@pytest.mark.parametrize("text", ["red", "#12345", "#1234567", "", "#12345g"])
def test_what_is_no_colour_is_refused(text: str):
    with pytest.raises(ValueError, match="not a color"):
        contrast_on_white(text)


@pytest.mark.parametrize("module", [amounts, colours, dates])
def test_the_examples_in_the_documentation_are_right(module: ModuleType):
    answer = doctest.testmod(module)
    assert answer.attempted > 0
    assert answer.failed == 0


@pytest.mark.parametrize(
    ("style", "written"),
    [
        # As the three languages write a date in full (common practice; Duden for the German).
        ("de", "5. März 2026"),
        ("fr", "5 mars 2026"),
        ("es", "5 de marzo de 2026"),
    ],
)
def test_months_have_their_names_in_the_language_chosen(style: str, written: str):
    assert dates.day(date(2026, 3, 5), style) == written
