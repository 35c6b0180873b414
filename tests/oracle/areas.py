"""Effective areas and their gains, each error pushed through the whole computation by itself."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable
from operator import itemgetter
from pathlib import Path
from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.stats import t as student

from tests.oracle.quantities import FACTORS, flux, moist_air_density, quantity

PUSH = 1e-4
"""Of a standard uncertainty: both ways, so that the error of the quotient is of its square."""

Figure = Callable[[Any], float]


class Areas:
    """One session's effective areas, to be worked out anew with any input pushed."""

    def __init__(self, path: Path) -> None:
        self.file = tomllib.loads(path.read_text())
        air, bench = self.file["air"], self.file["bench"]
        stated, readings = self.file.get("uncertainty", {}), self.file["readings"]
        self.p = quantity(air["barometer"])
        self.rho = moist_air_density(
            self.p, quantity(air["temperature"]), quantity(air.get("humidity", "0 %"))
        )
        self.dp = quantity(bench["test_pressure"])
        percent = bench.get("reading") == "percent of range"
        self.scale = quantity(bench["range"]) / 100 if percent else FACTORS[readings["flow_unit"]]
        self.leak = self.indicated(bench.get("leakage", "0 cfm"))
        self.factor = float(bench.get("calibration_factor", 1.0))
        marked = bench.get("scale_density")
        self.marked_for = float(marked.split()[0]) if marked else None
        unit = FACTORS[readings["lift_unit"]]
        self.lifts = np.array([float(lift) * unit for lift in readings["lift"]])
        self.runs = [[float(run) * self.scale for run in row] for row in readings["flow"]]
        self.mean = np.array([sum(row) / len(row) for row in self.runs])
        self.u = {
            name: quantity(stated[name]) if name in stated else None
            for name in ("calibration", "repeatability", "pressure", "lift", "density")
        }
        for name in ("resolution", "leakage"):
            self.u[name] = self.indicated(stated[name]) if name in stated else None
        self.tags = {
            "calibration": (bench.get("name"), bench.get("calibration_id")),
            "pressure": (bench.get("gauge_id"),),
        }
        self.values = self.pushed()

    def indicated(self, text: str) -> float:
        return float(text.split()[0]) * self.scale if text.endswith("%") else quantity(text)

    def pushed(
        self,
        reading: Any = 0.0,
        leakage: float = 0.0,
        pressure: float = 0.0,
        density: float = 0.0,
        calibration: float = 0.0,
        lift: float = 0.0,
    ) -> Any:
        """The areas where the inputs are off by so much, relative but for flows and lift."""
        rho = self.rho * (1.0 + density)
        dp = self.dp * (1.0 + pressure)
        up = self.p + dp if self.file["side"] == "exhaust" else self.p
        ideal = flux(up, rho * up / self.p, up - dp)
        q = self.factor * (1.0 + calibration) * (self.mean + reading - self.leak - leakage)
        if self.marked_for:
            q = q * math.sqrt(self.marked_for * rho) / rho
        areas = rho * q / ideal
        return areas + lift * self.curve(areas).derivative()(self.lifts) if lift else areas

    def curve(self, areas: Any) -> Any:
        return PchipInterpolator(np.r_[0.0, self.lifts], np.r_[0.0, areas])

    def scatter(self) -> tuple[float, float]:
        """Of one run, relative, and its degrees of freedom."""
        squares = sum(
            sum((run / mean - 1.0) ** 2 for run in row)
            for row, mean in zip(self.runs, self.mean, strict=True)
        )
        freedom = sum(len(row) - 1 for row in self.runs)
        pooled = math.sqrt(squares / freedom) if freedom else 0.0
        stated = self.u["repeatability"] or 0.0
        return (stated, math.inf) if stated > pooled else (pooled, freedom or math.inf)

    def pushes(self) -> list[tuple[str, float, list[dict[str, Any]]]]:
        """Each input's name, degrees of freedom, and what it is off by; several are independent."""
        s, freedom = self.scatter()
        item = np.eye(len(self.lifts))
        counts = [len(row) for row in self.runs]
        listed: list[tuple[str, float, list[dict[str, Any]]]] = [
            ("runs", freedom, [
                {"reading": item[i] * s * self.mean[i] / math.sqrt(counts[i])}
                for i in range(len(counts))
            ])
        ]  # fmt: skip
        if self.u["resolution"]:
            off = self.u["resolution"] / math.sqrt(12.0)
            listed.append(("resolution", math.inf, [{"reading": row * off} for row in item]))
        for name in ("calibration", "pressure", "lift", "leakage", "density"):
            u = self.u[name]
            if u:
                half = u / 2 if name == "calibration" else u
                listed.append((name, math.inf, [{name: half}]))
        return listed

    def says_nothing(self) -> bool:
        return not (self.scatter()[0] > 0.0 or self.u["resolution"])

    def expanded(self) -> list[float | None]:
        """Of each area, for 95 %."""
        if self.says_nothing():
            return [None] * len(self.lifts)
        return [area * self.relative(itemgetter(i)) for i, area in enumerate(self.values)]

    def relative(self, figure: Figure) -> float:
        """Relative expanded uncertainty of a figure of the areas."""
        return expanded(
            [
                (freedom, [log_push(self, off, figure) for off in offs])
                for _, freedom, offs in self.pushes()
            ]
        )


def log_push(session: Areas, off: dict[str, Any], figure: Figure) -> float:
    """Relative change of a figure of the areas with inputs off by one standard uncertainty."""
    ends = [
        figure(session.pushed(**{name: sign * PUSH * by for name, by in off.items()}))
        for sign in (1.0, -1.0)
    ]
    return math.log(ends[0] / ends[1]) / (2.0 * PUSH)


def combined(groups: list[tuple[float, list[float]]]) -> tuple[float, float]:
    """Standard uncertainty and effective degrees of freedom of groups of independent changes."""
    squares = [(freedom, sum(change**2 for change in changes)) for freedom, changes in groups]
    variance = sum(square for _, square in squares)
    few = sum(square**2 / freedom for freedom, square in squares)
    return math.sqrt(variance), variance**2 / few if few else math.inf


def expanded(groups: list[tuple[float, list[float]]]) -> float:
    u, freedom = combined(groups)
    return float(student.ppf(0.975, freedom)) * u


def compare(before: Areas, after: Areas) -> dict[str, Any]:
    """The keys of the comparison's JSON that are of the effective area."""
    low = max(before.lifts[0], after.lifts[0])
    high = min(before.lifts[-1], after.lifts[-1])
    if low > high:
        return {"points": [], "mean_area_gain_percent": None, "mean_verdict": "not stated",
                "mean_area_gain_expanded_uncertainty_percent": None}  # fmt: skip
    lifts = [lift for lift in after.lifts if low <= lift <= high]
    points = [judged(before, after, lift, lift) for lift in lifts]
    family = [p for p in points if p["both"] and not p["unstated"]]
    for rank, point in enumerate(sorted(family, key=lambda p: p["chance"])):
        if point["chance"] > 0.05 / (len(family) - rank):
            break
        point["called"] = point["beyond_a_division"]
    mean = judged(before, after, low, high)
    mean["both"] = True
    mean["called"] = mean["chance"] <= 0.05 and (low < high or mean["beyond_a_division"])
    shown = verdict_of(mean)
    return {
        "points": [
            {
                "effective_area_before": p["before"],
                "effective_area_after": p["after"],
                "area_gain_percent": p["gain"],
                **dict(zip(("area_gain_expanded_uncertainty_percent", "verdict"), verdict_of(p),
                           strict=True)),
            }
            for p in points
        ],
        "mean_area_gain_percent": mean["gain"],
        "mean_area_gain_expanded_uncertainty_percent": shown[0],
        "mean_verdict": shown[1],
    }  # fmt: skip


def verdict_of(point: dict[str, Any]) -> tuple[float | None, str]:
    if point["unstated"] or not point["both"]:
        return None, "not stated"
    if not point.get("called"):
        return point["expanded"], "no difference shown"
    return point["expanded"], "gain" if point["gain"] > 0 else "loss"


def judged(before: Areas, after: Areas, low: float, high: float) -> dict[str, Any]:
    """One figure of both, its gain, and what is known of it."""

    def figure_of(session: Areas) -> Figure:
        if low == high:
            return lambda areas: float(session.curve(areas)(low))
        return lambda areas: float(session.curve(areas).integrate(low, high) / (high - low))

    both = (before, after)
    first, second = (figure_of(session)(session.values) for session in both)
    changes = [
        {name: (freedom, [log_push(session, off, figure_of(session)) for off in offs])
         for name, freedom, offs in slopes_lent(session, other).pushes()}
        for session, other in (both, both[::-1])
    ]  # fmt: skip
    groups = []
    for name in changes[0] | changes[1]:
        tags = [session.tags.get(name, (None,)) for session in both]
        if all(tags[0]) and tags[0] == tags[1]:
            ((_, [item]), (freedom, [other])) = (
                change.get(name, (math.inf, [0.0])) for change in changes
            )
            groups.append((freedom, [other - item]))
        else:
            groups += [answer[name] for answer in changes if name in answer]
    u, freedom = combined(groups)
    ratio = second / first
    systematic = ("calibration", "pressure", "lift", "leakage", "density")
    mixed = any(
        (before.u[n] is None) != (after.u[n] is None)
        for n in systematic
        if not (n == "density" and any(s.marked_for for s in both))
    )
    divisions = [session.u["resolution"] for session in both]
    silent = (
        any(session.says_nothing() for session in both)
        if all(d is not None for d in divisions)
        else any(session.scatter()[0] == 0.0 for session in both)
    )
    step = max(
        (float(np.interp(low, s.lifts, s.u["resolution"] / (s.mean - s.leak)))
         for s in both if s.u["resolution"]),
        default=0.0,
    )  # fmt: skip
    return {
        "before": first,
        "after": second,
        "gain": 100.0 * (ratio - 1.0),
        "expanded": 100.0 * ratio * float(student.ppf(0.975, freedom)) * u,
        "chance": 2.0 * float(student.sf(abs(math.log(ratio)) / u, freedom)) if u else 1.0,
        "both": all(np.min(np.abs(s.lifts - low)) < 1e-9 for s in both),
        "unstated": mixed or silent or before.file["side"] != after.file["side"],
        "beyond_a_division": abs(ratio - 1.0) > step * (1 + 1e-9),
    }  # fmt: skip


def slopes_lent(session: Areas, other: Areas) -> Areas:
    """The session; one of a single lift with the slope of the other's curve there."""
    if len(session.lifts) == 1 and len(other.lifts) > 1 and session.lifts[0] <= other.lifts[-1]:
        curve = other.curve(other.values)
        lift = session.lifts[0]
        steepness = float(curve.derivative()(lift) / curve(lift))

        class Lent(Areas):
            def pushed(self, *off: Any, lift: float = 0.0, **named: Any) -> Any:
                return super().pushed(*off, **named) * (1.0 + lift * steepness)

        session.__class__ = Lent
    return session
