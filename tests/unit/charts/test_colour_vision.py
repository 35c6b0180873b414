"""Charts as they are seen by eyes with one kind of cone missing, and on a grey printer."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from shopflow.charts import gain_map, head_map
from shopflow.charts.look import PALETTE, SHAPES
from shopflow.charts.marks import OUTLINES, Shape

MACHADO = pytest.mark.source(
    "Machado, Oliveira and Fernandes (2009), A physiologically-based model for simulation of color "
    "vision deficiency: matrices for severity 1.0, compared with those of colorspacious 1.1.2"
)
LAB = pytest.mark.source("IEC 61966-2-1 (sRGB) and CIE 15 (L*a*b*, color difference of 1976)")

EYES = {
    "normal": np.eye(3),
    "protanopia": np.array([
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ]),
    "deuteranopia": np.array([
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ]),
    "tritanopia": np.array([
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ]),
    # The luminance of sRGB in each channel.
    "grey": np.tile([0.2126, 0.7152, 0.0722], (3, 1)),
}  # fmt: skip
TO_XYZ = np.array([
    [0.4124, 0.3576, 0.1805],
    [0.2126, 0.7152, 0.0722],
    [0.0193, 0.1192, 0.9505],
])  # fmt: skip
D65 = TO_XYZ.sum(axis=1)

TOLD_APART = 10.0
"""Difference that small marks need side by side: about four times what is just seen in a large
patch (common practice, no source)."""

AS_CURVES = 4
"""Curves of one chart that their colors alone tell apart; more of them lean on their marks."""


def seen(colour: str, eyes: str) -> NDArray[np.float64]:
    """L*, a* and b* of a color as those eyes see it."""
    coded = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    linear = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    ratio = TO_XYZ @ np.clip(EYES[eyes] @ linear, 0, 1) / D65
    root = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * root[1] - 16, 500 * (root[0] - root[1]), 200 * (root[1] - root[2])])


def difference(one: str, other: str, eyes: str) -> float:
    """Difference of two colors, Delta E of 1976."""
    return float(np.linalg.norm(seen(one, eyes) - seen(other, eyes)))


@LAB
def test_the_scale_is_that_of_the_standard() -> None:
    assert seen("#ffffff", "normal") == pytest.approx([100, 0, 0], abs=0.02)
    assert seen("#000000", "normal") == pytest.approx([0, 0, 0], abs=0.02)
    # sRGB red in CIE L*a*b* (D65), as general color libraries give it.
    assert seen("#ff0000", "normal") == pytest.approx([53.24, 80.09, 67.20], abs=0.05)


@MACHADO
@pytest.mark.parametrize("eyes", ["normal", "protanopia", "deuteranopia", "tritanopia"])
def test_the_first_curves_are_told_apart_by_color(eyes: str) -> None:
    for one, other in combinations(PALETTE[:AS_CURVES], 2):
        assert difference(one, other, eyes) > TOLD_APART, (one, other)


@MACHADO
@pytest.mark.parametrize("eyes", EYES)
@pytest.mark.parametrize("colour", PALETTE)
def test_every_curve_stands_out_from_the_paper(colour: str, eyes: str) -> None:
    assert difference(colour, "#ffffff", eyes) > 2 * TOLD_APART


def test_every_curve_of_a_chart_has_a_mark_of_its_own() -> None:
    """Shapes tell where colors do not: on a grey printer, or among eight curves."""
    assert len(set(SHAPES)) == len(SHAPES) == len(PALETTE)
    for one, other in combinations(SHAPES, 2):
        assert overlap(one, other) < 0.86, (one, other)


@pytest.mark.parametrize(
    "signs",
    [
        [sign[1:] for sign in head_map.LOOKS.values()],
        [sign[1:] for sign in head_map.RESULTS.values()],
        list(gain_map.LOOKS.values()),
    ],
    ids=["limits", "leak tests", "gains"],
)
def test_no_verdict_is_told_by_color_alone(signs: list[tuple[Shape, str, bool]]) -> None:
    for one, other in combinations(signs, 2):
        assert one[2] != other[2] or overlap(one[0], other[0]) < 0.86


def overlap(one: Shape, other: Shape) -> float:
    """Area that two shapes have in common, by the area of both together."""
    first, second = raster(one), raster(other)
    return float((first & second).sum() / (first | second).sum())


def raster(shape: Shape) -> NDArray[np.bool_]:
    """A shape as pixels, 20 to its radius."""
    picture = Image.new("1", (80, 80))
    draw = ImageDraw.Draw(picture)
    if shape == "circle":
        draw.ellipse((20, 20, 60, 60), fill=1)
    else:
        draw.polygon([(40 + 20 * x, 40 + 20 * y) for x, y in OUTLINES[shape]], fill=1)
    return np.asarray(picture)
