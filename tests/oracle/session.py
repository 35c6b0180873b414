"""The figures of a session file, worked out one number at a time."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

from tests.oracle.areas import Areas
from tests.oracle.quantities import FACTORS, flux, moist_air_density, quantity


def least_area(d: float, ds: float, beta: float, width: float, dp: float, lift: float) -> float:
    """Heywood's three stages, with the boundaries worked out."""
    w = width * math.cos(beta)
    throat = math.pi / 4 * (dp * dp - ds * ds)
    if lift <= w / (math.sin(beta) * math.cos(beta)):
        slant = d - 2 * w + lift / 2 * math.sin(2 * beta)
        return min(math.pi * lift * math.cos(beta) * slant, throat)
    dm = d - w
    h = (dp * dp - ds * ds) / (4 * dm)
    if h > w and lift > math.sqrt(h * h - w * w) + w * math.tan(beta):
        return throat
    return min(math.pi * dm * math.sqrt((lift - w * math.tan(beta)) ** 2 + w * w), throat)


def slopes(x: list[float], y: list[float]) -> list[float]:
    """Second-order differences on an uneven grid, first-order at the ends."""
    if len(x) == 1:
        return [0.0]
    rows = [(y[1] - y[0]) / (x[1] - x[0])]
    for i in range(1, len(x) - 1):
        before, after = x[i] - x[i - 1], x[i + 1] - x[i]
        rows.append(
            (before**2 * y[i + 1] + (after**2 - before**2) * y[i] - after**2 * y[i - 1])
            / (before * after * (before + after))
        )
    return [*rows, (y[-1] - y[-2]) / (x[-1] - x[-2])]


def mean(x: list[float], y: list[float]) -> float:
    """Trapezoids over the span, or the one value."""
    if len(x) == 1:
        return y[0]
    area = sum((x[i + 1] - x[i]) * (y[i] + y[i + 1]) / 2 for i in range(len(x) - 1))
    return area / (x[-1] - x[0])


class Session:
    """One session file, worked out."""

    def __init__(self, path: Path) -> None:
        file = tomllib.loads(path.read_text())
        air, valve, bench = file["air"], file["valve"], file["bench"]
        stated = file.get("uncertainty", {})
        readings = file["readings"]
        p, t = quantity(air["barometer"]), quantity(air["temperature"])
        self.density = moist_air_density(p, t, quantity(air.get("humidity", "0 %")))
        self.dp = quantity(bench["test_pressure"])
        self.reference = quantity(bench.get("reference_pressure", "28 inH2O"))
        self.factor = float(bench.get("calibration_factor", 1.0))
        marked = bench.get("scale_density")
        #: of a restriction whose scale is marked for other air than the room's
        self.scale = math.sqrt(float(marked.split()[0]) / self.density) if marked else 1.0
        self.key = bench.get("name"), bench.get("calibration_id")
        percent = bench.get("reading") == "percent of range"
        scale = quantity(bench["range"]) / 100 if percent else FACTORS[readings["flow_unit"]]
        leak_text = bench.get("leakage", "0 cfm")
        leak = (
            float(leak_text.split()[0]) * scale if leak_text.endswith("%") else quantity(leak_text)
        )
        self.lifts = [value * FACTORS[readings["lift_unit"]] for value in readings["lift"]]
        self.calibration = quantity(stated.get("calibration", "0 %")) / 2
        upstream = p + self.dp if file["side"] == "exhaust" else p
        ideal = flux(upstream, self.density * upstream / p, upstream - self.dp)
        d = quantity(valve["head_diameter"])
        count = valve.get("count", 1)
        area = quantity(file["port"]["area"]) if "port" in file else None
        self.points: list[dict[str, Any]] = []
        self.flows: list[float] = []
        runs_component: list[float] = []
        for lift, typed in zip(self.lifts, readings["flow"], strict=True):
            runs = [float(run) * scale for run in typed]
            average = sum(runs) / len(runs)
            q = self.factor * (average - leak) * self.scale
            if len(runs) > 1:
                s = math.sqrt(sum((run - average) ** 2 for run in runs) / (len(runs) - 1))
                runs_component.append(s / math.sqrt(len(runs)) / (average - leak))
            else:
                u = quantity(stated.get("repeatability", "0 %"))
                runs_component.append(u * average / (average - leak))
            flow = q * math.sqrt(self.reference / self.dp)
            self.flows.append(flow)
            effective = self.density * q / ideal
            point = {
                "lift": lift,
                "lift_over_diameter": lift / d,
                "runs": len(runs),
                "flow": flow,
                "mass_flow": self.density * q,
                "effective_area": effective,
                "cd_curtain": effective / (count * math.pi * d * lift),
                "cd_head": effective / (count * math.pi * d * d / 4),
                "cd_least_area": None,
                "velocity": None,
                "kinetic_energy_flux": None,
                "flow_as_tested": q,
            }
            if "seat_angle" in valve:
                least = least_area(
                    d,
                    quantity(valve["stem_diameter"]),
                    quantity(valve["seat_angle"]),
                    quantity(valve["seat_width"]),
                    quantity(valve["throat_diameter"]),
                    lift,
                )
                point["cd_least_area"] = effective / (count * least)
            if area is not None:
                point["velocity"] = flow / area
                point["kinetic_energy_flux"] = 0.5 * self.density * flow * (flow / area) ** 2
            self.points.append(point)
        u_lift = quantity(stated.get("lift", "0 mm"))
        u_pressure = quantity(stated.get("pressure", "0 %")) / 2
        #: relative standard uncertainty at each lift, without the calibration's share
        self.rest = [
            math.sqrt(run**2 + u_pressure**2 + (slope * u_lift / flow) ** 2)
            for run, slope, flow in zip(
                runs_component, slopes(self.lifts, self.flows), self.flows, strict=True
            )
        ]
        for point, rest in zip(self.points, self.rest, strict=True):
            combined = math.sqrt(rest**2 + self.calibration**2)
            point["flow_expanded_uncertainty"] = 2 * combined * point["flow"]
        self.mean_flow = mean(self.lifts, self.flows)
        up = p + self.reference if file["side"] == "exhaust" else p
        stated_flux = flux(up, self.density * up / p, up - self.reference)
        choked = (upstream - self.dp) / upstream <= (2 / 2.4) ** 3.5
        expanded = Areas(path).expanded()
        for point, uncertainty in zip(self.points, expanded, strict=True):
            point["effective_area_expanded_uncertainty"] = uncertainty
            point["flow_isentropic"] = point["effective_area"] * stated_flux / self.density
            point["choked"] = choked


def compare(before: Session, after: Session) -> dict[str, Any]:
    """AFTER against BEFORE on AFTER's lifts inside the common range."""
    shared = all(before.key) and before.key == after.key
    rows: list[dict[str, Any]] = []
    befores: list[float] = []
    afters: list[float] = []
    lifts: list[float] = []
    for lift, flow, rest in zip(after.lifts, after.flows, after.rest, strict=True):
        if not before.lifts[0] <= lift <= before.lifts[-1]:
            continue
        i = max(k for k, other in enumerate(before.lifts) if other <= lift)
        j = min(i + 1, len(before.lifts) - 1)
        gap = before.lifts[j] - before.lifts[i]
        share = (lift - before.lifts[i]) / gap if gap else 0.0
        earlier = before.flows[i] * (1 - share) + before.flows[j] * share

        def standard(session: Session, index: int) -> float:
            cal = 0.0 if shared else session.calibration
            return session.flows[index] * math.hypot(session.rest[index], cal)

        u_before = math.hypot(standard(before, i) * (1 - share), standard(before, j) * share)
        u_after = flow * math.hypot(rest, 0.0 if shared else after.calibration)
        gain = flow - earlier
        u_shared = after.calibration * abs(gain) if shared else 0.0
        expanded = 2 * math.sqrt(u_before**2 + u_after**2 + u_shared**2)
        rows.append(
            {
                "lift": lift,
                "before": earlier,
                "after": flow,
                "gain": gain,
                "gain_percent": 100 * gain / earlier,
                "gain_expanded_uncertainty": expanded,
                "significant": abs(gain) > expanded,
            }
        )
        lifts.append(lift)
        befores.append(earlier)
        afters.append(flow)
    if not rows:
        return {"points": [], "mean_gain_percent": None}
    return {
        "points": rows,
        "mean_gain_percent": 100 * (mean(lifts, afters) / mean(lifts, befores) - 1),
    }
