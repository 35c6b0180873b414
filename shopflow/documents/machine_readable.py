"""A flow certificate's results for programs: one JSON file in SI, by a schema that is handed out.

It is no digital calibration certificate: a flow test calibrates nothing, and that schema has no
place for a head, a step or a gain. Its way of writing values is taken over: a list of numbers with
their expanded uncertainties and one unit in the notation of D-SI (PTB, Digital System of Units).
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from importlib.resources import files
from typing import Any

from shopflow.calc import results, swirl_results
from shopflow.calc.result import Result
from shopflow.documents.certificate import FlowCertificate
from shopflow.documents.session import AreaGain, Gain, ResultPoint, SessionResult
from shopflow.documents.swirl import SwirlPoint, SwirlResult

FORMAT, VERSION = "shopflow flow certificate", 1
SCHEMA_FILE = "flow-certificate.schema.json"
DIGITS = 7
"""Significant digits: more than any bench reads."""

COVERAGE = 0.95
"""Coverage probability of every expanded uncertainty."""

_CUBIC_METRE_PER_SECOND = r"\metre\tothe{3}\second\tothe{-1}"
UNITS = {
    "": r"\one",
    "lift": r"\metre",
    "flow": _CUBIC_METRE_PER_SECOND,
    "mass flow": r"\kilogram\second\tothe{-1}",
    "port area": r"\metre\tothe{2}",
    "velocity": r"\metre\second\tothe{-1}",
    "power": r"\watt",
}
"""SI unit of each kind of result, in the notation of D-SI."""


def schema() -> str:
    """The JSON Schema (2020-12) of these files."""
    return files(__package__).joinpath(SCHEMA_FILE).read_text(encoding="utf-8")


def results_json(certificate: FlowCertificate) -> str:
    """A certificate's statements for programs; the same certificate, the same text."""
    content: dict[str, Any] = {
        "format": FORMAT,
        "version": VERSION,
        "certificate": _without_blanks(
            {
                "number": certificate.number,
                "revision": certificate.revision,
                "revision_reason": certificate.revision_reason,
                "issued_at": certificate.issued_at.isoformat(),
                "issued_by": certificate.issued_by,
                "verify_at": certificate.verify_at,
                "language": certificate.display.language.replace("_", "-"),
            }
        ),
        "shop": _without_blanks(
            {"name": certificate.shop.name, "address": certificate.shop.address}
        ),
        "customer": {"name": certificate.customer.name},
        "job": {"number": certificate.job.number},
        "head": _without_blanks(
            {
                "label": certificate.head.tag,
                "engine_type": certificate.head.engine_type,
                "casting_number": certificate.head.casting_number,
                "serial_number": certificate.head.serial,
            }
        ),
        "coverage_probability": COVERAGE,
        "tests": [
            _test(session, name)
            for session, name in zip(certificate.sessions, certificate.file_names, strict=True)
        ],
        "gains": [_gain(gain) for gain in certificate.gains if gain.areas],
    }
    if certificate.swirl:
        content["swirl"] = [_swirl(item) for item in certificate.swirl]
    return json.dumps(content, ensure_ascii=False, indent=1) + "\n"


def _test(session: SessionResult, file_name: str) -> dict[str, Any]:
    return {
        **_without_blanks(
            {
                "file": file_name,
                "name": session.name,
                "side": session.side,
                "stage": session.stage,
                "cylinder": session.cylinder,
                "operator": session.operator,
                "tested_at": session.measured_at.isoformat() if session.measured_at else "",
                "test_pressure": session.test_pressure,
                "calibration": session.calibration,
            }
        ),
        "as_received": session.as_received,
        "air_density": _quantity(session.air_density, r"\kilogram\metre\tothe{-3}"),
        "mean_effective_area": _quantity(
            session.mean_area, UNITS["port area"], session.mean_area_uncertainty
        ),
        "results": list(_columns(session.points)),
        "excluded": [
            {"lift": item.lift, "flow": item.flow, "reason": item.reason}
            for item in session.excluded
        ],
        "warnings": list(session.warnings),
    }


def _columns(points: Sequence[ResultPoint]) -> Iterator[dict[str, Any]]:
    """Each result over the lifts, as far as the certificate has it."""
    for row in results.RESULTS:
        values = [point.value(row.key) for point in points]
        if any(value is not None for value in values):
            yield _column(row, values, [point.margin(row.key) for point in points])


def _column(
    row: Result, values: Sequence[float | None], margins: Sequence[float | None]
) -> dict[str, Any]:
    column: dict[str, Any] = {"key": row.key, "name": str(row.name)}
    if row.type is bool:
        return {**column, "values": [bool(value) for value in values]}
    column |= {"unit": UNITS[row.kind], "values": list(map(_rounded, values))}
    if any(margin is not None for margin in margins):
        column["expanded_uncertainties"] = list(map(_rounded, margins))
    return column


def _swirl(item: SwirlResult) -> dict[str, Any]:
    return {
        **_without_blanks(
            {
                "file": item.test_file,
                "motion": item.motion,
                "meter": item.meter_kind,
                "meter_name": item.meter,
                "bore": item.bore,
                "adapter": item.adapter,
                "positive_sense": item.rotation,
                "test_pressure": item.pressure,
                "efficiency": item.efficiency,
                "efficiency_uncertainty_percent": item.efficiency_uncertainty,
            }
        ),
        "corrected": item.is_corrected,
        "results": list(_swirl_columns(item.points)),
        "ratios": [
            {
                "cam": ratio.cam,
                "over_cam": _quantity(ratio.over_cam, UNITS[""], ratio.over_cam_margin),
                "by_piston_speed": _quantity(ratio.by_piston, UNITS[""], ratio.by_piston_margin),
            }
            for ratio in item.ratios
        ],
    }


def _swirl_columns(points: Sequence[SwirlPoint]) -> Iterator[dict[str, Any]]:
    for row in swirl_results.BY_LIFT:
        values = [getattr(point, row.key) for point in points]
        if None in values:
            continue
        column: dict[str, Any] = {"key": row.key, "name": str(row.name), "unit": row.si_unit}
        column["values"] = list(map(_rounded, values))
        margins = [getattr(point, f"{row.key}_margin", None) for point in points]
        if None not in margins:
            column["expanded_uncertainties"] = list(map(_rounded, margins))
        yield column


def _gain(gain: Gain) -> dict[str, Any]:
    return {
        "before": gain.before_file,
        "after": gain.after_file,
        "side": gain.side,
        "lifts": [_area_gain(area) for area in gain.areas],
        "mean": _area_gain(gain.mean) if gain.mean else None,
        "conclusion": gain.conclusion,
    }


def _area_gain(area: AreaGain) -> dict[str, Any]:
    return {
        "from_lift": _quantity(area.low, UNITS["lift"]),
        "to_lift": _quantity(area.high, UNITS["lift"]),
        "gain": _quantity(area.gain, UNITS[""], area.expanded_uncertainty),
        "verdict": area.verdict,
        **_without_blanks({"finding": area.finding}),
    }


def _quantity(
    value: float | None, unit: str, expanded: float | None = None
) -> dict[str, Any] | None:
    if value is None:
        return None
    quantity: dict[str, Any] = {"value": _rounded(value), "unit": unit}
    if expanded is not None:
        quantity["expanded_uncertainty"] = _rounded(expanded)
    return quantity


def _rounded(value: float | None) -> float | None:
    return value if value is None or isinstance(value, int) else float(f"{value:.{DIGITS}g}")


def _without_blanks(values: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in values.items() if value != ""}
