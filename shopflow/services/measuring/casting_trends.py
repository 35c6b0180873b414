"""Trends of a casting over its visits: each kind of measurement, its change, what is left."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy.orm import Session

from shopflow.models import EngineLimit, Head, Measurement, MeasurementKind, Visit, When
from shopflow.services.measuring import limits
from shopflow.texts import gettext
from shopflow.units import CONDITION, Quantity, from_si, pretty

CUT, THICKNESS = "deck cut", "head thickness"

Key = tuple[object, ...]
Bounds = tuple[float | None, float | None]


@dataclass(frozen=True)
class TrendRow:
    """One kind of measurement over the visits; SI, but where a text says its unit."""

    name: str
    unit: str
    decimals: int
    ranges: tuple[tuple[float, float] | None, ...]
    """The least and greatest value of each visit in turn; none where it was not measured."""

    change: float | None = None
    """The largest change at one place from the first visit that measured it to the last."""

    left: float | None = None
    """Least distance to a limit; below 0 outside it, none where no limit is known."""

    bounds: Bounds = (None, None)
    note: str = ""

    def text(self, value: float) -> str:
        """A value of it in its unit, as "2.105"."""
        return f"{from_si(value, self.unit):.{self.decimals}f}"

    def cell(self, index: int) -> str:
        """Values of a visit, as "2.10" or "2.08 to 2.12"; empty where it did not."""
        pair = self.ranges[index]
        if pair is None:
            return ""
        low, high = map(self.text, pair)
        return low if low == high else gettext("{low} to {high}", low=low, high=high)

    @property
    def change_text(self) -> str:
        """The change with its sign and unit; empty where there is none to tell."""
        if self.change is None:
            return ""
        sign = "+" if self.change > 0 else "−" if self.change < 0 else ""
        return f"{sign}{self.text(abs(self.change))} {pretty(self.unit)}"

    @property
    def left_text(self) -> str:
        """Distance left to the limit, or how far outside it is."""
        if self.left is None:
            return ""
        words = f"{self.text(abs(self.left))} {pretty(self.unit)}"
        return gettext("{amount} outside", amount=words) if self.left < 0 else words


def visits_of(head: Head) -> list[Visit]:
    """A casting's visits, the earliest first; work on a cancelled job was measured too."""
    return sorted(head.visits, key=lambda visit: (visit.job.booked_in_at, visit.id))


def trends(db: Session, head: Head) -> list[TrendRow]:
    """A row for each kind measured on any visit, in the shop's order; deck cuts are summed."""
    visits = visits_of(head)
    of_type = {(row.kind_id, row.side): row for row in limits.of_engine_type(db, head.engine_type)}
    kinds = {
        row.kind
        for visit in visits
        for row in visit.measurements
        if row.kind.dimension != CONDITION
    }
    rows = []
    for kind in sorted(kinds, key=lambda kind: (kind.position, kind.name)):
        if kind.code == CUT:
            rows.append(_cuts(kind, visits))
            continue
        row = _row(kind, visits, of_type)
        if row is not None:
            rows.append(row)
    thickness = next((kind for kind in kinds if kind.code == THICKNESS), None)
    if thickness is not None:
        rows.append(_thickness_now(thickness, visits, of_type))
    return rows


def _row(
    kind: MeasurementKind, visits: Sequence[Visit], of_type: Mapping[tuple[int, str], EngineLimit]
) -> TrendRow | None:
    """A kind by place: its last value there on each visit, that after the work where there is."""
    by_visit = [_by_place(kind, visit) for visit in visits]
    measured = [places for places in by_visit if places]
    if not measured:
        return None
    last = measured[-1]
    ranges = tuple(_range([row.value.si for row in places.values()]) for places in by_visit)
    margins = [
        (margin, bounds)
        for row in last.values()
        for bounds in [_bounds(row, of_type)]
        for margin in [_margin(row.value.si, bounds)]
        if margin is not None
    ]
    left, bounds = min(margins, default=(None, (None, None)), key=lambda pair: pair[0] or 0.0)
    unit, decimals = _unit(kind, last.values())
    return TrendRow(kind.name, unit, decimals, ranges, _change(by_visit), left, bounds)


def _cuts(kind: MeasurementKind, visits: Sequence[Visit]) -> TrendRow:
    """The sum of all deck cuts up to each visit; one measured before the work is no cut of it."""
    total, sums = 0.0, list[float]()
    rows = [row for visit in visits for row in _counted(kind, visit)]
    for visit in visits:
        total += sum(row.value.si for row in _counted(kind, visit))
        sums.append(total)
    unit, decimals = _unit(kind, rows)
    change = sums[-1] if sums and sums[-1] else None
    return TrendRow(
        gettext("{kind}, total", kind=kind.name),
        unit,
        decimals,
        tuple((cut, cut) for cut in sums),
        change,
    )


def _thickness_now(
    kind: MeasurementKind, visits: Sequence[Visit], of_type: Mapping[tuple[int, str], EngineLimit]
) -> TrendRow:
    """The last thickness less what was cut since, and what is left to the least thickness."""
    measured = [row for visit in visits for row in visit.measurements if row.kind is kind]
    last = max(measured, key=lambda row: (row.at, row.id))
    cuts = [
        row
        for visit in visits
        for row in visit.measurements
        if row.kind.code == CUT and row.when is When.AFTER and row.at > last.at
    ]
    cut = sum(row.value.si for row in cuts)
    now = last.value.si - cut
    bounds = _bounds(last, of_type)
    ranges = (*(None for _ in visits[:-1]), (now, now))
    least = bounds[0]
    unit, decimals = _unit(kind, [last])
    note = gettext("{value} measured", value=last.value.text)
    if cut:
        since = f"{from_si(cut, unit):.{decimals}f} {unit}"
        note = gettext("{value} measured, {cut} cut since", value=last.value.text, cut=since)
    left = None if least is None else now - least
    name = gettext("{kind} now", kind=kind.name)
    return TrendRow(name, unit, decimals, ranges, None, left, (least, None), note)


def _counted(kind: MeasurementKind, visit: Visit) -> list[Measurement]:
    rows = (row for row in visit.measurements if row.kind is kind)
    return [row for row in rows if row.when is When.AFTER]


def _by_place(kind: MeasurementKind, visit: Visit) -> dict[Key, Measurement]:
    rows = [row for row in visit.measurements if row.kind is kind]
    worked = {(row.cylinder, row.side, row.valve) for row in rows if row.when is When.AFTER}
    # What was found before the work is past once its place was measured after it.
    rows = [
        row
        for row in rows
        if row.when is When.AFTER or (row.cylinder, row.side, row.valve) not in worked
    ]
    rows.sort(key=lambda row: (row.at, row.id))
    return {
        (row.cylinder, row.side, row.valve, row.place, row.datum,
         row.distance.si if row.distance else None): row
        for row in rows
    }  # fmt: skip


def _change(by_visit: Sequence[Mapping[Key, Measurement]]) -> float | None:
    """The largest change at one place between the first and the last visit that measured it."""
    changes = list(_changes(by_visit))
    return max(changes, key=abs) if changes else None


def _changes(by_visit: Sequence[Mapping[Key, Measurement]]) -> Iterator[float]:
    for key in dict.fromkeys(key for places in by_visit for key in places):
        values = [places[key].value.si for places in by_visit if key in places]
        if len(values) > 1:
            yield values[-1] - values[0]


def _bounds(row: Measurement, of_type: Mapping[tuple[int, str], EngineLimit]) -> Bounds:
    """Limits of a measurement, its own first, else its engine type's as they are now."""
    lower, upper = row.lower, row.upper
    if lower is None and upper is None:
        limit = of_type.get((row.kind_id, row.side)) or of_type.get((row.kind_id, ""))
        lower, upper = (limit.lower, limit.upper) if limit else (None, None)
    return _si(lower), _si(upper)


def _si(bound: Quantity | None) -> float | None:
    return None if bound is None else bound.si


def _margin(value: float, bounds: Bounds) -> float | None:
    lower, upper = bounds
    margins = [value - lower] if lower is not None else []
    margins += [upper - value] if upper is not None else []
    return min(margins, default=None)


def _range(values: Sequence[float]) -> tuple[float, float] | None:
    return (min(values), max(values)) if values else None


def _unit(kind: MeasurementKind, rows: Iterable[Measurement]) -> tuple[str, int]:
    """The unit most of the values are typed in, and the decimals of the kind in it."""
    typed = [row.value.unit for row in rows]
    unit = max(dict.fromkeys(typed), key=typed.count) if typed else kind.si_unit
    return unit, kind.us_decimals if unit == kind.us_unit else kind.si_decimals
