"""The results of a flow test as JSON, under the keys of `shopflow reduce --json`."""

from __future__ import annotations

from typing import Any

from shopflow.calc.reduction import Reduction
from shopflow.calc.results import by_lift
from shopflow.testfile.document import SessionDocument


def results_json(document: SessionDocument, reduction: Reduction) -> dict[str, Any]:
    """A test and its results lift by lift, SI."""
    return {
        "schema": 1,
        "title": document.title,
        "side": document.side,
        "stage": document.stage,
        "air_density": reduction.air_density,
        "mean_flow": reduction.mean_flow,
        "points": by_lift(reduction),
    }
