"""A later flow test against an earlier one of its port, as plain data for papers."""

from __future__ import annotations

import dataclasses

from sqlalchemy.orm import Session

from shopflow import documents, sentences
from shopflow.calc.area_gain import AreaComparison, AreaGain
from shopflow.calc.comparison import Comparison, across_set_ups, compare
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.reduction import reduce
from shopflow.calc.standard_flow import STANDARD_DENSITY
from shopflow.calc.worth import as_flow
from shopflow.models import BenchSession
from shopflow.services.bench import metal_cuts, sessions, set_up_confirmations, set_ups
from shopflow.services.bench.metal_cuts import Cuts
from shopflow.services.bench.test_names import file_name, session_name
from shopflow.testfile import SessionDocument
from shopflow.texts import gettext
from shopflow.units import UnitSystem, pretty, pretty_text


def gain(
    db: Session, before: BenchSession, after: BenchSession, units: UnitSystem
) -> documents.Gain:
    """A later test against an earlier one of its port, concluded in one sentence."""
    confirmed = set_ups.confirmation(before, after)
    stated = gain_between(
        sessions.document(before),
        sessions.document(after),
        (session_name(before), session_name(after)),
        units,
        metal_cuts.between(before, after),
        set_up_confirmations.in_words(db, confirmed) if confirmed else "",
    )
    return dataclasses.replace(stated, before_file=file_name(before), after_file=file_name(after))


def gain_between(
    before: SessionDocument,
    after: SessionDocument,
    names: tuple[str, str],
    units: UnitSystem,
    cuts: Cuts,
    confirmed: str = "",
) -> documents.Gain:
    """A later test against an earlier one, stored or not, and all that was cut between them.

    `confirmed` says who means unlike set-ups to be compared, where somebody does.
    """
    earlier, later = reduce(before.flow_test()), reduce(after.flow_test())
    if confirmed:
        earlier, later = across_set_ups(earlier), across_set_ups(later)
    comparison = compare(earlier, later)
    areas = comparison.areas
    return documents.Gain(
        before=names[0],
        after=names[1],
        side=after.side,
        points=gain_points(comparison),
        mean_gain_percent=comparison.mean_gain_percent,
        areas=tuple(_area_gain(point, later.test, cuts) for point in areas.points),
        mean=_area_gain(areas.mean, later.test, cuts) if areas.mean else None,
        conclusion=" ".join(
            filter(None, (_conclusion(areas, later.test, names, units, cuts), confirmed))
        ),
        set_ups=confirmed,
        reasons=tuple(sentences.reasons(areas)),
        flow_at=gettext(
            "{reference_pressure}, in air of {standard_density:.3f} {pretty}",
            reference_pressure=pretty_text(after.reference_pressure.text),
            standard_density=STANDARD_DENSITY,
            pretty=pretty("kg/m3"),
        ),
    )


def _area_gain(area_gain: AreaGain, stated: FlowTest, cuts: Cuts) -> documents.AreaGain:
    flow = as_flow(area_gain, stated)
    return documents.AreaGain(
        low=area_gain.low,
        high=area_gain.high,
        area_before=area_gain.before,
        area_after=area_gain.after,
        flow_before=flow.before,
        flow_after=flow.after,
        gain=area_gain.gain,
        expanded_uncertainty=area_gain.expanded_uncertainty,
        verdict=area_gain.verdict.value,
        finding=sentences.called(area_gain.verdict, False) if cuts.is_none else "",
    )


def _conclusion(
    areas: AreaComparison,
    stated: FlowTest,
    names: tuple[str, str],
    units: UnitSystem,
    cuts: Cuts,
) -> str:
    """Gain of the change, as flow at the highest lift of both, and the metal cut."""
    if areas.mean is None:
        return ""
    before, after = names
    verdict = sentences.verdict(
        areas.mean, units.unit("lift"), not cuts.is_none, bool(areas.unlike)
    ).replace("-", "−")
    flow = _flow_at_top(areas, stated, units)
    at_top = f"; {flow}" if flow else ""
    return gettext(
        "{verdict}{at_top}. {after}, against {before}. {cuts}",
        verdict=verdict,
        at_top=at_top,
        after=after[:1].upper() + after[1:],
        before=before,
        cuts=cuts.sentence,
    )


def _flow_at_top(areas: AreaComparison, stated: FlowTest, units: UnitSystem) -> str:
    """Flow before and after at the highest lift of both; empty where they share none."""
    if not areas.points:
        return ""
    flow = as_flow(areas.points[-1], stated)
    return gettext(
        "flow from {before} to {after} at {lift}",
        before=units.number(flow.before, "flow"),
        after=units.text(flow.after, "flow"),
        lift=units.text(flow.lift, "lift"),
    )


def gain_points(comparison: Comparison) -> tuple[documents.GainPoint, ...]:
    """A comparison lift by lift."""
    return tuple(
        documents.GainPoint(
            lift=point.lift,
            before=point.before,
            after=point.after,
            gain=point.gain,
            gain_percent=point.gain_percent,
            expanded_uncertainty=point.gain_expanded_uncertainty,
            significant=point.significant,
        )
        for point in comparison.points
    )
