"""Exhaust over intake: the flow of one side as a share of the other's, lift by lift."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopflow.calc.array_types import Against
from shopflow.calc.common_lifts import held_against
from shopflow.calc.ratio import Ratio, ratio
from shopflow.services.analysis.comparisons import Member


@dataclass(frozen=True)
class SideRatio:
    """An exhaust session over an intake session."""

    exhaust: Member
    intake: Member
    head_diameter: float
    """Of the exhaust valve, m."""

    ratio: Ratio


def side_ratios(tests: Sequence[Member], against: Against) -> list[SideRatio]:
    """Each exhaust session over the intake of its cylinder, or over the only intake there is."""
    intakes = [member for member in tests if member.row.side == "intake"]
    pairs = []
    for exhaust in (member for member in tests if member.row.side == "exhaust"):
        port = (exhaust.row.job_head_id, exhaust.row.cylinder)
        same = [
            intake for intake in intakes if (intake.row.job_head_id, intake.row.cylinder) == port
        ]
        partner = same[-1] if same else (intakes[0] if len(intakes) == 1 else None)
        if partner is not None:
            pairs.append((exhaust, partner))
    return [_side_ratio(exhaust, intake, against) for exhaust, intake in pairs]


def _side_ratio(exhaust: Member, intake: Member, against: Against) -> SideRatio:
    below = held_against(intake.reduction, exhaust.reduction, against)
    return SideRatio(
        exhaust=exhaust,
        intake=intake,
        head_diameter=exhaust.reduction.test.valve.head_diameter,
        ratio=ratio(below, exhaust.reduction),
    )
