"""`shopflow cycle` on engines drawn at random, against SciPy from the files alone."""

from __future__ import annotations

import json
import math
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from tests.cli.conftest import Run
from tests.cli.test_numbers import write_session

BAR = 2e-4
"""Relative, of every figure."""

Curve = Callable[[float], float]


class Engine:
    """Files of an engine drawn at random, and what they mean."""

    def __init__(self, seed: int) -> None:
        self.draw = random.Random(seed)
        self.bore, self.stroke = (round(self.draw.uniform(55, 110), 1) for _ in range(2))
        self.speed = self.draw.randint(2500, 11_000)
        self.lifts: dict[str, Curve] = {}
        self.ends: dict[str, tuple[float, float]] = {}
        lobes = [self.lobe("intake", 1.0), self.lobe("exhaust", -1.0)]
        self.cam = "\n".join(
            [
                "schema = 1",
                "[engine]",
                f'bore = "{self.bore} mm"',
                f'stroke = "{self.stroke} mm"',
                f'speed = "{self.speed} rpm"',
                *lobes,
            ]
        )

    def lobe(self, side: str, sign: float) -> str:
        """A lobe measured at angles, or the stand-in, under a rocker and lash."""
        centre, ratio = round(self.draw.uniform(95, 125), 1), round(self.draw.uniform(1, 1.8), 2)
        lash, greatest = round(self.draw.uniform(0.05, 0.35), 2), self.draw.uniform(5, 10)
        half = self.draw.randint(105, 160)
        head = f'[{side}]\ncentreline = "{centre} deg"\nrocker_ratio = {ratio}\nlash = "{lash} mm"'
        if self.draw.random() < 0.5:
            greatest = round(greatest, 2)
            table = f'duration = "{2 * half} deg"\nmax_lobe_lift = "{greatest} mm"'

            def lobe(angle: float) -> float:
                return greatest * math.cos(math.pi * angle / (2 * half)) ** 2

        else:
            angles = [-half, *range(-half + 7, half - 6, 9), half]
            lifts = [
                round(greatest * math.cos(math.pi * angle / (2 * half)) ** 2, 3) for angle in angles
            ]
            lifts[0] = lifts[-1] = 0.0
            table = f'angle = {angles}\nlobe_lift = {lifts}\nlift_unit = "mm"'
            curve = PchipInterpolator(angles, lifts)

            def lobe(angle: float) -> float:
                return float(curve(angle))

        def lift(angle: float) -> float:
            return 1e-3 * (ratio * lobe(angle - sign * centre) - lash)

        middle = sign * centre
        self.lifts[side] = lift
        self.ends[side] = (
            brentq(lift, middle - half, middle, xtol=1e-12),
            brentq(lift, middle, middle + half, xtol=1e-12),
        )
        return f"{head}\n{table}"

    def test(self, side: str) -> str:
        """A flow test of a side."""
        lifts = sorted(self.draw.sample(range(8, 130), self.draw.randint(3, 9)))
        flows = [[round(90.0 * (1.0 - math.exp(-lift / 50.0)), 1)] for lift in lifts]
        return f"""
schema = 1
side = "{side}"
[air]
barometer = "{self.draw.randint(950, 1030)} hPa"
temperature = "{self.draw.randint(15, 27)} degC"
[valve]
head_diameter = "60 mm"
[bench]
test_pressure = "{self.draw.choice((10, 28, 40))} inH2O"
[readings]
lift_unit = "mm"
flow_unit = "L/s"
lift = {[lift / 10 for lift in lifts]}
flow = {flows}
"""

    def expected(
        self, areas: dict[str, list[tuple[float, float]]], kelvin: float
    ) -> dict[str, Any]:
        """Every figure, from the areas tested."""
        opened: dict[str, Curve] = {side: self.area(side, areas[side]) for side in areas}
        answer: dict[str, Any] = {
            f"{side}.{name}": figure
            for side in areas
            for name, figure in self.of_side(side, opened[side]).items()
        }
        (opens, closes), (first, last) = self.ends["intake"], self.ends["exhaust"]

        def both(angle: float) -> float:
            one, other = opened["intake"](angle), opened["exhaust"](angle)
            return one * other / math.hypot(one, other) if one and other else 0.0

        mean = answer["intake.mean_effective_area"]
        piston = 2e-3 * self.stroke * self.speed / 60.0
        return answer | {
            "exhaust.blowdown_area_integral": integral(opened["exhaust"], first, min(last, -180.0)),
            "overlap_area_integral": integral(both, max(opens, first), min(closes, last)),
            "mach_index": piston
            * (math.pi / 4.0 * (1e-3 * self.bore) ** 2)
            / (math.sqrt(1.4 * 287.05 * kelvin) * mean),
        }

    def area(self, side: str, points: list[tuple[float, float]]) -> Curve:
        """Effective area over crank angle, held above the last lift tested."""
        lifts, values = zip((0.0, 0.0), *points, strict=True)
        curve, last, lift = PchipInterpolator(lifts, values), lifts[-1], self.lifts[side]
        return lambda angle: float(curve(min(max(lift(angle), 0.0), last)))

    def of_side(self, side: str, area: Curve) -> dict[str, float]:
        opens, closes = self.ends[side]
        total = integral(area, opens, closes)
        return {
            "opens": opens,
            "closes": closes,
            "area_integral": total,
            "mean_effective_area": total / (closes - opens),
            "time_area": total / (360.0 * self.speed / 60.0),
        }


def integral(figure: Curve, low: float, high: float) -> float:
    """By SciPy; 0 where there is no range."""
    if high <= low:
        return 0.0
    return float(quad(figure, low, high, limit=1000, epsabs=0.0, epsrel=1e-7)[0])


@pytest.mark.source("SciPy: PchipInterpolator, brentq and quad on engines drawn at random")
@pytest.mark.parametrize("seed", range(1, 7))
def test_every_figure_of_an_engine_drawn_at_random(run: Run, tmp_path: Path, seed: int) -> None:
    engine = Engine(seed)
    texts = {"cam": engine.cam, "intake": engine.test("intake"), "exhaust": engine.test("exhaust")}
    files = {name: write_session(tmp_path, text, f"{name}.toml") for name, text in texts.items()}
    done = run("cycle", files["cam"], "--intake", files["intake"], "--exhaust", files["exhaust"],
               "--json")  # fmt: skip
    assert done.returncode == 0, done.stderr
    answer, areas = json.loads(done.stdout), {}
    for side in ("intake", "exhaust"):
        points = json.loads(run("reduce", files[side], "--json").stdout)["points"]
        areas[side] = [(point["lift"], point["effective_area"]) for point in points]
    kelvin = 273.15 + float(texts["intake"].split('temperature = "')[1].split()[0])
    for name, figure in engine.expected(areas, kelvin).items():
        given = answer
        for key in name.split("."):
            given = given[key]
        assert given == pytest.approx(figure, rel=BAR, abs=1e-12), name
    assert np.isfinite(answer["mach_index"])
