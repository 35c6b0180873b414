"""Budgets: contribution of each component to the uncertainty of a test's flows."""

from __future__ import annotations

from math import isinf

from shopflow import documents
from shopflow.calc.components import Component, FlowBudget, budget_at
from shopflow.calc.reduction import Reduction
from shopflow.models import BenchSession
from shopflow.services.bench import sessions


def of_session(row: BenchSession) -> list[FlowBudget]:
    """A session's budget, lift by lift."""
    reduction = sessions.reduction(row)
    return [budget_at(reduction, index) for index in range(len(reduction.lifts))]


def at_highest(reduction: Reduction) -> documents.Budget | None:
    """The budget of a test's highest flow; None where the test states nothing at all."""
    budget = budget_at(reduction, int(reduction.flow_as_tested.argmax()))
    if not any(component.is_stated for component in budget.components):
        return None
    return documents.Budget(
        lift=budget.lift,
        flow=budget.flow,
        lines=tuple(_line(component) for component in budget.components),
        combined=budget.combined,
        freedom=_few(budget.freedom),
        factor_95=budget.factor_95,
        is_stated=budget.is_stated,
        is_as_tested=True,
    )


def _line(component: Component) -> documents.BudgetLine:
    return documents.BudgetLine(
        name=component.name,
        kind=component.kind,
        standard=component.standard or 0.0,
        measure=component.measure,
        sensitivity=component.sensitivity,
        contribution=component.contribution,
        freedom=_few(component.freedom),
        is_stated=component.is_stated,
    )


def _few(freedom: float) -> float | None:
    """Degrees of freedom; None for what is taken as known."""
    return None if isinf(freedom) else freedom
