"""An uncertainty budget as a table: the same words and figures on paper and on screen."""

from __future__ import annotations

from collections.abc import Iterable

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable

from shopflow.documents import Budget, BudgetLine, Display, SessionResult
from shopflow.papers.style import NOTE, gap, para, subheading
from shopflow.papers.tables import Column, grid
from shopflow.texts import gettext, lazy
from shopflow.units import UnitSystem, from_si, pretty

HEADINGS = (
    lazy("Component"),
    lazy("Kind"),
    lazy("Standard uncertainty"),
    lazy("Degrees of freedom"),
    lazy("Sensitivity"),
    lazy("Contribution"),
)


def rows(lines: Iterable[BudgetLine], units: UnitSystem) -> list[tuple[str, ...]]:
    """The cells of each component, in the order of HEADINGS, in the reader's units."""
    return [
        (
            line.name,
            line.kind,
            *(_full_row(line, units) if line.is_stated else (NOT_STATED, "–", "–", "–")),
        )
        for line in lines
    ]


NOT_STATED = lazy("not stated")


def summary(budget: Budget, units: UnitSystem) -> str:
    """Summary below the components: the combined and expanded uncertainty."""
    if not budget.is_as_tested:
        return _earlier_summary(budget, units)
    of = {"flow": units.text(budget.flow, "flow"), "lift": units.text(budget.lift, "lift")}
    if not budget.is_stated:
        return gettext(
            "No uncertainty is given for {flow} as tested at {lift}: neither repeats nor the "
            "scale's division are on record.",
            **of,
        )
    numbers = {
        **of,
        "combined": _flow(budget.combined, units),
        "expanded": _flow(budget.factor_95 * budget.combined, units),
        "factor": f"{budget.factor_95:.2f}",
    }
    if budget.freedom is None:
        return gettext(
            "Combined {combined}, of {flow} as tested at {lift}. Expanded for 95 %: {expanded}, "
            "with k = {factor} (every component is taken as known).",
            **numbers,
        )
    return gettext(
        "Combined {combined}, of {flow} as tested at {lift}. Expanded for 95 %: {expanded}, with "
        "k = {factor} ({freedom:.0f} effective degrees of freedom, by Welch and Satterthwaite).",
        **numbers,
        freedom=budget.freedom,
    )


def _earlier_summary(budget: Budget, units: UnitSystem) -> str:
    """The summary of a certificate from before the flow as tested was printed."""
    ninety_five = budget.factor_95 * budget.combined
    numbers = {
        "combined": _flow(budget.combined, units),
        "flow": units.text(budget.flow, "flow"),
        "lift": units.text(budget.lift, "lift"),
        "expanded": _flow(2.0 * budget.combined, units),
        "ninety_five": _flow(ninety_five, units),
        "factor": f"{budget.factor_95:.2f}",
    }
    if not budget.freedom:
        return gettext(
            "Combined {combined}, of {flow} at {lift}. Expanded: {expanded} with k = 2; "
            "{ninety_five} for 95 % with k = {factor} (no few repeats, by Welch and "
            "Satterthwaite).",
            **numbers,
        )
    return gettext(
        "Combined {combined}, of {flow} at {lift}. Expanded: {expanded} with k = 2; {ninety_five} "
        "for 95 % with k = {factor} ({freedom} effective degrees of freedom, by Welch and "
        "Satterthwaite).",
        **numbers,
        freedom=_freedom(budget.freedom),
    )


def budget_block(session: SessionResult, display: Display, width: float) -> list[Flowable]:
    """A test's budget at its highest flow."""
    budget = session.budget
    title = subheading(
        gettext("{session}: uncertainty budget at the highest flow", session=session.title)
    )
    if budget is None:
        return [
            gap(4),
            title,
            para(
                gettext(
                    "Uncertainty: not stated. Nothing was recorded with this test, and none is "
                    "given."
                ),
                NOTE,
            ),
        ]
    columns = [
        Column(HEADINGS[0], share=1),
        Column(HEADINGS[1], width=30),
        *(Column(name, figures=True) for name in HEADINGS[2:]),
    ]
    cells = [list(row) for row in rows(budget.lines, display.units)]
    return [
        CondPageBreak(45 * mm),
        gap(4),
        title,
        grid(columns, cells, width, 1.8),
        gap(2),
        para(summary(budget, display.units), NOTE),
    ]


def _full_row(line: BudgetLine, units: UnitSystem) -> tuple[str, ...]:
    return (
        _standard(line, units),
        _freedom(line.freedom),
        _sensitivity(line, units),
        _flow(line.contribution, units),
    )


def _standard(line: BudgetLine, units: UnitSystem) -> str:
    if line.measure == "ratio":
        return f"{100.0 * line.standard:.3g} %"
    return _measured(line.standard, line.measure, units)


def _sensitivity(line: BudgetLine, units: UnitSystem) -> str:
    if not line.sensitivity:
        # Of an input stated as 0 nothing was worked out.
        return "–"
    flow = units.unit("flow")
    if line.measure == "flow":
        return f"{line.sensitivity:.4g}"
    if line.measure == "ratio":
        each = from_si(line.sensitivity, flow) / 100.0
        return gettext("{number:.3g} {unit} per %", number=each, unit=pretty(flow))
    lift = units.unit("lift")
    steepness = from_si(line.sensitivity, flow) / from_si(1.0, lift)
    return f"{steepness:.3g} {pretty(flow)}/{pretty(lift)}"


def _measured(si: float, kind: str, units: UnitSystem) -> str:
    return f"{from_si(si, units.unit(kind)):.3g} {pretty(units.unit(kind))}"


def _flow(si: float, units: UnitSystem) -> str:
    return _measured(si, "flow", units)


def _freedom(freedom: float | None) -> str:
    return gettext("known") if freedom is None else f"{freedom:.0f}"
