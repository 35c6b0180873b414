"""The charts of a comparison."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.calc.area_spread import AreaSpread
from shopflow.calc.array_types import Against
from shopflow.calc.ratio import RatioPoint
from shopflow.calc.worth import FlowGain
from shopflow.charts import Axis, Chart, Series
from shopflow.papers.curves import curves_chart, lift_axis, lift_place, lift_places
from shopflow.services.analysis.comparisons import Difference, Member, Ports
from shopflow.services.analysis.side_ratios import SideRatio
from shopflow.texts import gettext, lazy
from shopflow.units import UnitSystem, from_si, pretty
from shopflow.web.drawing import View

NOTHING_IN_COMMON = lazy("No range in common")


def member_chart(members: Sequence[Member], view: View, units: UnitSystem) -> Chart:
    """One quantity of every session."""
    results = [member.result for member in members]
    one_head = len({member.row.job_head_id for member in members}) == 1
    return curves_chart(
        view.title, results, units, view.quantity, view.against, dash_first=one_head
    )


def gain_chart(
    differences: Sequence[Difference],
    names: Sequence[str],
    view: View,
    units: UnitSystem,
    title: str,
) -> Chart:
    """Each difference by lift, with its uncertainty, under these names."""
    flow = units.unit("flow")
    return Chart(
        title=title,
        x=lift_axis(view.against, units),
        y=Axis(gettext("Difference in flow"), pretty(flow)),
        series=[
            Series(
                name=name if len(differences) > 1 else gettext("difference ± U"),
                x=_positions(difference.points, difference.head_diameter, view.against, units),
                y=[from_si(point.gain, flow) for point in difference.points],
                error=[from_si(point.expanded_uncertainty, flow) for point in difference.points],
            )
            for difference, name in zip(differences, names, strict=True)
        ],
        x_places=lift_places(view.against),
        nothing=NOTHING_IN_COMMON,
    )


def source_chart(difference: Difference, view: View, units: UnitSystem) -> Chart:
    """The difference in effective area by lift, and what of it comes from opening and all else."""
    rows = difference.source_rows
    curves = (
        (gettext("whole"), [gain.gain for gain, _ in rows]),
        (gettext("opening"), [source.opening for _, source in rows]),
        (gettext("all else"), [source.coefficient for _, source in rows]),
    )
    return Chart(
        title=gettext("Where the difference comes from"),
        x=lift_axis(view.against, units),
        y=Axis(gettext("Difference in effective area"), "%"),
        series=[
            Series(
                name=name,
                x=_positions(difference.points, difference.head_diameter, view.against, units),
                y=[100.0 * value for value in values],
            )
            for name, values in curves
        ],
        x_places=lift_places(view.against),
    )


def ports_chart(ports: Sequence[Ports], view: View, units: UnitSystem) -> Chart:
    """Each port's deviation from the mean of its side, by lift."""
    return Chart(
        title=gettext("Each port against the mean of its side"),
        x=lift_axis(view.against, units),
        y=Axis(gettext("Difference from the mean"), "%"),
        series=[
            Series(
                name=member.name,
                x=_positions(group.points, group.head_diameter, view.against, units),
                y=[100.0 * point.from_mean[place] for point in group.points],
                error=[100.0 * (point.uncertainties[place] or 0.0) for point in group.points],
                as_received=member.result.as_received,
            )
            for group in ports
            for place, member in enumerate(group.members)
        ],
        x_places=lift_places(view.against),
        nothing=NOTHING_IN_COMMON,
    )


def ratio_chart(ratios: Sequence[SideRatio], view: View, units: UnitSystem) -> Chart:
    """Exhaust over intake by lift, of the effective areas."""
    return Chart(
        title=gettext("Exhaust over intake, effective areas"),
        x=lift_axis(view.against, units),
        y=Axis(gettext("Exhaust over intake")),
        series=[
            Series(
                name=pair.exhaust.name if len(ratios) > 1 else gettext("ratio ± U"),
                x=_positions(pair.ratio.points, pair.head_diameter, view.against, units),
                y=[point.ratio for point in pair.ratio.points],
                error=[point.expanded_uncertainty or 0.0 for point in pair.ratio.points],
            )
            for pair in ratios
        ],
        places=3,
        x_places=lift_places(view.against),
        nothing=NOTHING_IN_COMMON,
    )


def _positions(
    points: Sequence[FlowGain | AreaSpread | RatioPoint],
    diameter: float,
    against: Against,
    units: UnitSystem,
) -> list[float]:
    return [lift_place(against, units, point.lift, point.lift / diameter) for point in points]
