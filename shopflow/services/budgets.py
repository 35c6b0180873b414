"""What each component adds to the uncertainty of a session's flows."""

from __future__ import annotations

from math import isinf

from shopflow.calc.components import Component, FlowBudget, budget_at
from shopflow.calc.reduction import Reduction
from shopflow.models import BenchSession
from shopflow.papers import data
from shopflow.services import sessions


def of_session(row: BenchSession) -> list[FlowBudget]:
    """A session's budget, lift by lift."""
    reduction = sessions.reduction(row)
    return [budget_at(reduction, place) for place in range(len(reduction.lifts))]


def at_highest(reduction: Reduction) -> data.Budget | None:
    """The budget of a session's highest flow; None where the session states none."""
    found = budget_at(reduction, int(reduction.flow.argmax()))
    if not found.combined:
        return None
    return data.Budget(
        lift=found.lift,
        flow=found.flow,
        lines=tuple(_line(component) for component in found.components),
        combined=found.combined,
        freedom=_few(found.freedom),
        factor_95=found.factor_95,
    )


def _line(component: Component) -> data.BudgetLine:
    return data.BudgetLine(
        name=component.name,
        kind=component.kind,
        standard=component.standard,
        measure=component.measure,
        sensitivity=component.sensitivity,
        contribution=component.contribution,
        freedom=_few(component.freedom),
    )


def _few(freedom: float) -> float | None:
    """Degrees of freedom; None for what is taken as known."""
    return None if isinf(freedom) else freedom
