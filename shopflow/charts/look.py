"""The look of every chart: colours, marks, and the size of letters."""

from __future__ import annotations

from shopflow.charts.marks import Shape

PALETTE = (
    "#0072b2",
    "#d55e00",
    "#009e73",
    "#cc79a7",
    "#000000",
    "#56b4e9",
    "#e69f00",
    "#8c8000",
)
"""Okabe and Ito's (2008), for any eyes, in an order of our own; yellow darkened for white."""

SHAPES: tuple[Shape, ...] = (
    "circle", "square", "triangle", "diamond", "wedge", "hourglass", "cross", "star",
)  # fmt: skip
INK = "#1c2430"
SOFT = "#5a6472"
GRID = "#dde2e8"

SCREEN_TYPE = 12.0
"""Size of the letters where a drawing is shown about as large as it was laid out."""
