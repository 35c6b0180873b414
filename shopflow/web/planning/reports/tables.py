"""Reports as tables and charts: what the services counted, in columns, with the chart's bars."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from sqlalchemy.orm import Session

from shopflow import texts
from shopflow.charts import Axis, BarChart, Bars
from shopflow.services.analysis import gains
from shopflow.services.planning import reports
from shopflow.services.shop.periods import Period
from shopflow.spreadsheet import Cell
from shopflow.texts import gettext
from shopflow.web.context import current_shop
from shopflow.web.filters import money

Show = Callable[[Cell], str]


@dataclass(frozen=True)
class Column:
    """A column's heading, and how its figures are shown on the page; words as they are."""

    heading: str
    show: Show | None = None


@dataclass(frozen=True)
class Table:
    """Rows of plain figures under their columns, and the same as a chart."""

    columns: Sequence[Column]
    rows: list[list[Cell]]
    chart: BarChart
    note: str

    @property
    def cells_in_words(self) -> list[list[str]]:
        """The rows as words for the page."""
        return [
            [
                "–" if cell is None else column.show(cell) if column.show else str(cell)
                for column, cell in zip(self.columns, row, strict=True)
            ]
            for row in self.rows
        ]

    @property
    def header(self) -> list[str]:
        """The columns' headings."""
        return [column.heading for column in self.columns]


def jobs_by_month(db: Session, period: Period) -> Table:
    """Jobs in, out and cancelled."""
    months = reports.jobs_by_month(db, period)
    return Table(
        [
            Column(gettext("month")),
            Column(gettext("in"), str),
            Column(gettext("out"), str),
            Column(gettext("cancelled"), str),
        ],
        [[_iso(row.month), row.booked_in, row.gone_out, row.cancelled] for row in months],
        BarChart(
            gettext("Jobs by month"),
            [_named(row.month) for row in months],
            Axis(gettext("Jobs")),
            [
                Bars(gettext("in"), [row.booked_in for row in months]),
                Bars(gettext("out"), [row.gone_out for row in months]),
                Bars(gettext("cancelled"), [row.cancelled for row in months]),
            ],
        ),
        gettext("In: booked in. Out: collected or shipped."),
    )


def turnaround(db: Session, period: Period) -> Table:
    """Promises kept and broken, and by how many days."""
    rows = reports.turnaround(db, period)
    months = [row for row in rows if row.month]
    names = (
        gettext("jobs out"),
        gettext("with a promise"),
        gettext("kept"),
        gettext("kept, %"),
        gettext("days late, median"),
        gettext("days late, most"),
        gettext("days in the shop, median"),
    )
    return Table(
        [Column(gettext("month")), *(Column(name, _number) for name in names)],
        [_turnaround_row(row) for row in rows],
        BarChart(
            gettext("Promises kept, by the month jobs went out"),
            [_named(row.month) for row in months if row.month],
            Axis(gettext("Promises")),
            [
                Bars(gettext("kept"), [row.on_time for row in months]),
                Bars(gettext("late"), [len(row.late) - row.on_time for row in months]),
            ],
        ),
        gettext(
            "A job is done on the day it became ready; days late below zero are days early. "
            "The promise is the current one."
        ),
    )


def hours_by_kind(db: Session, period: Period) -> Table:
    """Hours planned and worked."""
    kinds = reports.hours_by_kind(db, period)
    timed = [row for row in kinds if row.timed]
    return Table(
        [
            Column(gettext("step")), Column(gettext("steps signed off"), str),
            Column(gettext("with time recorded"), str),
            Column(gettext("planned, h"), _number), Column(gettext("actual, h"), _number),
            Column(gettext("actual over planned, %"), _signed),
        ],
        [
            [row.kind, row.steps, row.timed, _hours(row.planned), _hours(row.actual),
             _hundredths(100 * (row.actual / row.planned - 1)) if row.planned else None]
            for row in kinds
        ],
        BarChart(
            gettext("Hours by step type"),
            [row.kind for row in timed],
            Axis(gettext("Hours"), "h"),
            [
                Bars(gettext("planned"), [_hours(row.planned) for row in timed]),
                Bars(gettext("actual"), [_hours(row.actual) for row in timed]),
            ],
            places=1,
        ),
        gettext("Planned and actual are of the steps with a recorded actual time."),
    )  # fmt: skip


def revenue_by_month(db: Session, period: Period) -> Table:
    """Invoices less credit notes."""
    months = reports.revenue_by_month(db, period)
    currency = _currency()
    return Table(
        [
            Column(gettext("month")),
            Column(gettext("invoices"), str),
            Column(gettext("invoiced, {currency}", currency=currency), _amount),
            Column(gettext("credited, {currency}", currency=currency), _amount),
            Column(gettext("revenue, {currency}", currency=currency), _amount),
        ],
        [[_iso(row.month), row.invoices, row.invoiced, row.credited, row.net] for row in months],
        BarChart(
            gettext("Revenue by month"),
            [_named(row.month) for row in months],
            Axis(gettext("Revenue before tax"), currency),
            [Bars(gettext("revenue"), [float(row.net) for row in months])],
            places=2,
        ),
        gettext("Invoices issued in the month, less credit notes issued in it, before tax."),
    )


def takings_by_day(db: Session, period: Period) -> Table:
    """Money received by day and way of paying."""
    rows = reports.takings_by_day(db, period)
    by_way: dict[str, Decimal] = {}
    for row in rows:
        by_way[row.method] = by_way.get(row.method, Decimal(0)) + row.amount
    return Table(
        [
            Column(gettext("day")),
            Column(gettext("paid by")),
            Column(gettext("payments"), str),
            Column(gettext("received, {currency}", currency=_currency()), _amount),
        ],
        [[row.day.isoformat(), row.method, row.payments, row.amount] for row in rows],
        BarChart(
            gettext("Money received by way of paying"),
            list(by_way),
            Axis(gettext("Received"), _currency()),
            [Bars(gettext("received"), [float(amount) for amount in by_way.values()])],
            places=2,
        ),
        gettext("Deposits and payments, less what was paid back, by the day they were received."),
    )


def tax_by_month(db: Session, period: Period) -> Table:
    """Tax by the month it was invoiced in."""
    rows = reports.tax_by_month(db, period)
    return Table(
        [
            Column(gettext("month")),
            Column(gettext("tax")),
            Column(gettext("before tax, {currency}", currency=_currency()), _amount),
            Column(gettext("tax, {currency}", currency=_currency()), _amount),
        ],
        [[_iso(row.month), row.name, row.net, row.tax] for row in rows],
        BarChart(
            gettext("Tax by month"),
            [f"{_named(row.month)}, {row.name}" for row in rows],
            Axis(gettext("Tax"), _currency()),
            [Bars(gettext("tax"), [float(row.tax) for row in rows])],
            places=2,
        ),
        gettext(
            "Tax on invoices issued in the month, less that of credit notes issued in it, by rate."
        ),
    )


def _currency() -> str:
    shop = current_shop()
    return shop.currency if shop else ""


def gains_by_engine_type(db: Session, period: Period) -> Table:
    """Median gains on the bench."""
    rows = gains.by_engine_type(db, period)
    return Table(
        [
            Column(gettext("engine type")), Column(gettext("side")),
            Column(gettext("work between the tests")), Column(gettext("ports"), str),
            Column(gettext("median gain, %"), _signed), Column(gettext("±, %"), _number),
            Column(gettext("of ports that state it"), str), Column(gettext("least, %"), _signed),
            Column(gettext("greatest, %"), _signed),
        ],
        [
            [row.engine_type, row.side, row.work, len(row.gains), _hundredths(row.median),
             _hundredths(row.usual_uncertainty), len(row.uncertainties),
             _hundredths(min(row.gains)), _hundredths(max(row.gains))]
            for row in rows
        ],
        BarChart(
            gettext("Median gain in mean effective area by engine type"),
            [f"{row.engine_type}, {row.side}: {row.work}" for row in rows],
            Axis(gettext("Gain in mean effective area"), "%"),
            [Bars(gettext("median gain"), [row.median for row in rows],
                  [row.usual_uncertainty for row in rows])],
            places=1,
        ),
        gettext(
            "Compared: the mean effective area of a port's last test with that of its first, over "
            "the lifts that both cover. A gain is credited to all the work between the two; "
            "where there was none, a difference is not a gain from the work. ± is the median of "
            "the single gains' uncertainties (for 95 %), where both tests state one."
        ),
    )  # fmt: skip


def _turnaround_row(row: reports.Turnaround) -> list[Cell]:
    share = None if row.share is None else _hundredths(100 * row.share)
    return [
        _iso(row.month) if row.month else gettext("whole period"),
        len(row.days), len(row.late), row.on_time,
        share, row.usual_late, row.latest, row.usual_days,
    ]  # fmt: skip


def _iso(month: date) -> str:
    return f"{month:%Y-%m}"


def _named(month: date) -> str:
    return texts.month(month)


def _hours(minutes: int) -> float:
    return round(minutes / 60, 2)


def _hundredths(value: float | None) -> float | None:
    # Adding zero turns a rounded -0.0 into 0.0.
    return None if value is None else round(value, 2) + 0.0


def _number(cell: Cell) -> str:
    """A figure with a decimal where it needs one."""
    return _signed(cell).removeprefix("+").removesuffix(".0")


def _signed(cell: Cell) -> str:
    """A change, always with its sign."""
    return f"{round(float(cell or 0), 1) + 0.0:+.1f}".replace("-", "−")


def _amount(cell: Cell) -> str:
    """An amount in the shop's currency."""
    return money(Decimal(cell or 0))
