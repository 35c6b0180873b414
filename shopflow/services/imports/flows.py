"""A row of past results as the session file it would be: flow by lift, as typed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from shopflow import units
from shopflow.calc.set_up import Part
from shopflow.errors import FieldError, ValidationError
from shopflow.services.bench.sessions import LONGEST_NUMBER, unkept
from shopflow.services.imports.planning import listed
from shopflow.services.imports.reading import DATE_ORDERS, HEADINGS_ROW, Column, Record, Sheet
from shopflow.services.measuring import plausibility
from shopflow.testfile import SessionDocument, check, described
from shopflow.texts import gettext, lazy

SET_UP = {part: f"set-up {part.replace('_', ' ')}" for part in Part}
"""Columns of the set-up, by the part that each states."""

COLUMNS = (
    Column("date", lazy("Date of the test in the chosen date order. A time may follow, for example "
           "2019-05-31 14:30."), needed=True),
    Column("cylinder", lazy("For example 1 or 1 left.")),
    Column("side", lazy("intake or exhaust."), needed=True),
    Column("stage", lazy("For example as received or bowls blended.")),
    Column("valve diameter", lazy("Diameter of the valve head."), needed=True, dimension="length"),
    Column("valves", lazy("Valves lifted in this test; empty means 1.")),
    Column("test pressure", lazy("Pressure across the head."), needed=True, dimension="pressure"),
    Column("reference pressure", lazy("Report flow at this pressure; empty means 28 inH2O."),
           dimension="pressure"),
    Column("barometer", lazy("Absolute; empty means the value entered with the file."),
           dimension="pressure"),
    Column("temperature", lazy("Of the air; empty means the value entered with the file."),
           dimension="temperature"),
    Column("humidity", lazy("Relative."), dimension="ratio"),
    Column("port area", lazy("The cross-section that velocity is quoted at."), dimension="area"),
    Column("flow unit", lazy("Unit of flows without a unit in the heading: cfm, L/s, m3/h or "
           "m3/s.")),
    Column("operator", ""),
    Column("bench", ""),
    Column("test notes", ""),
    *(Column(name, lazy("On the bench, with its sizes, or none; empty means not stated."))
      for name in SET_UP.values()),
)  # fmt: skip
LIFT_HINT = lazy(
    "A column for each lift, headed by the lift with its unit: for example 0.100 in or "
    "2.5 mm (L/s). Enter the flow at that lift; leave it empty if not tested. Two readings at one "
    "lift are separated by a slash: for example 212.4 / 213.0."
)

_LIFT = re.compile(
    r"(?P<number>[0-9.,]+)\s*(?P<unit>[A-Za-z]+)\s*(?:[(\[]\s*(?P<flow>\S+?)\s*[)\]])?"
)
_NUMBER_BEGINS = tuple("0123456789.+-")
_DATE = re.compile(r"(\d{1,4})[-./](\d{1,2})[-./](\d{1,4})(?:[ T](\d{1,2}):(\d{2}))?")
_KEYS = {
    "side": "side",
    "stage": "stage",
    "cylinder": "cylinder",
    "operator": "operator",
    "notes": "test notes",
    "measured_at": "date",
    "air": "barometer",
    "air.barometer": "barometer",
    "air.temperature": "temperature",
    "air.humidity": "humidity",
    "valve.head_diameter": "valve diameter",
    "valve.count": "valves",
    "port.area": "port area",
    "bench.name": "bench",
    "bench.test_pressure": "test pressure",
    "bench.reference_pressure": "reference pressure",
    "readings.flow_unit": "flow unit",
    **{f"set_up_{part.value}": name for part, name in SET_UP.items()},
}
"""Keys of the session file, and the columns they come from."""


@dataclass(frozen=True, slots=True)
class Air:
    """Air that holds for the tests whose own was not noted."""

    barometer: str = ""
    temperature: str = ""


@dataclass(frozen=True, slots=True)
class LiftColumn:
    """A column of flows at one lift."""

    heading: str
    lift: Decimal
    unit: str
    flow_unit: str


def lift_columns(sheet: Sheet) -> list[LiftColumn]:
    """Columns of flow, lowest lift first; other headings become errors of the sheet."""
    by_height: dict[float, LiftColumn] = {}
    others = []
    for heading in sheet.other_headings:
        column = _lift_column(sheet, heading)
        if column is None:
            others.append(heading)
            continue
        height = float(column.lift) * units.UNITS[column.unit].scale
        if height in by_height:
            same = by_height[height].heading
            sheet.fault(HEADINGS_ROW, heading, gettext("the same lift as '{same}'", same=same))
        by_height[height] = column
    sheet.other_headings[:] = others
    sheet.refuse_other_headings()
    if not by_height and sheet.headings:
        sheet.fault(
            HEADINGS_ROW, "", gettext("no column is headed by a lift, as '0.100 in' or '2.5 mm'")
        )
    return [by_height[height] for height in sorted(by_height)]


def _lift_column(sheet: Sheet, heading: str) -> LiftColumn | None:
    match = _LIFT.fullmatch(heading)
    if match is None or match["unit"] not in units.units_of("length"):
        return None
    if match["flow"] and match["flow"] not in units.units_of("volume flow"):
        return None
    try:
        lift = Decimal(sheet.number(match["number"]))
    except InvalidOperation:
        return None
    return LiftColumn(heading, lift, match["unit"], match["flow"] or "") if lift > 0 else None


def document(
    sheet: Sheet, lifts: list[LiftColumn], air: Air, record: Record
) -> SessionDocument | None:
    """A row's test, not yet calculated; None where it has errors, which are added to the sheet."""
    faults_before = len(sheet.faults)
    tested = tested_in(lifts, record)
    typed = record.get("date")
    measured_at = moment(typed, sheet.writing.date_order)
    if typed and measured_at is None:
        example = DATE_ORDERS[sheet.writing.date_order]
        words = gettext("'{typed}' is not a date, as {example}", typed=typed, example=example)
        sheet.fault(record.row, "date", words)
    if measured_at is not None and (words := in_future(measured_at)):
        sheet.fault(record.row, "date", words)
    readings = _readings(sheet, record, tested)
    if len(sheet.faults) > faults_before or measured_at is None:
        _rest_faults(sheet, record, air)
        return None
    content = {**_content(sheet, record, air), "measured_at": measured_at, "readings": readings}
    try:
        test = described(content)
    except ValidationError as error:
        add_faults(sheet, record, error.faults, tested)
        return None
    add_faults(sheet, record, unkept(test), tested)
    return test if len(sheet.faults) == faults_before else None


def tested_in(lifts: list[LiftColumn], record: Record) -> list[LiftColumn]:
    """The lifts that a row has flows at."""
    return [column for column in lifts if column.heading in record.others]


def add_faults(
    sheet: Sheet, record: Record, faults: Iterable[FieldError], tested: list[LiftColumn]
) -> None:
    """Put a session's faults at the columns that its keys come from."""
    for fault in faults:
        sheet.fault(record.row, _column_of(fault.key, tested), _plain_words(fault.message))


def _rest_faults(sheet: Sheet, record: Record, air: Air) -> None:
    """Add the remaining errors of a row whose date or flows have errors of their own."""
    stand_in = {"lift_unit": "mm", "flow_unit": "L/s", "lift": [1], "flow": [[1]]}
    try:
        check({**_content(sheet, record, air), "readings": stand_in})
    except ValidationError as error:
        add_faults(sheet, record, error.faults, [])


def _content(sheet: Sheet, record: Record, air: Air) -> dict[str, Any]:
    """The session file without its readings; empty tables are omitted."""
    noted = {
        "barometer": sheet.quantity(record, "barometer"),
        "temperature": sheet.quantity(record, "temperature"),
    }
    stated = _stated(record, air)
    tables = {
        "air": {**noted, **stated, "humidity": sheet.quantity(record, "humidity")},
        "valve": {
            "head_diameter": sheet.quantity(record, "valve diameter"),
            "count": _whole_number(record.get("valves")),
        },
        "port": {"area": sheet.quantity(record, "port area")},
        "bench": {
            "name": record.get("bench"),
            "test_pressure": sheet.quantity(record, "test pressure"),
            "reference_pressure": sheet.quantity(record, "reference pressure"),
        },
        "set_up": {part.value: record.get(name) for part, name in SET_UP.items()},
    }
    return {
        "schema": 1,
        "side": record.get("side").lower(),
        **{name: record.get(name) for name in ("stage", "cylinder", "operator")},
        "notes": notes(record, said_of_air(record, air)),
        **{
            table: {name: value for name, value in values.items() if value not in ("", None)}
            for table, values in tables.items()
        },
    }


def _stated(record: Record, air: Air) -> dict[str, str]:
    """The air that a row has not noted, as stated at import."""
    return {
        name: typed
        for name in ("barometer", "temperature")
        if (typed := getattr(air, name)) and not record.get(name)
    }


def said_of_air(record: Record, air: Air) -> str:
    """State which of a test's air values come from the import form; empty where none do."""
    stated = ", ".join(f"{name} {typed}" for name, typed in _stated(record, air).items())
    if not stated:
        return ""
    return gettext("Not noted with the test but stated at import: {stated}.", stated=stated)


def notes(record: Record, of_air: str) -> str:
    """A test's own notes, and the remark on its air."""
    return "\n".join(filter(None, (record.get("test notes"), of_air)))


def _whole_number(typed: str) -> Any:
    return int(typed) if typed.isdecimal() else typed


def _readings(sheet: Sheet, record: Record, tested: list[LiftColumn]) -> dict[str, Any]:
    """The readings table of a row; faults go to the sheet."""
    if not tested:
        sheet.fault(record.row, "", gettext("no flow is given at any lift"))
        return {}
    lift_units = {column.unit for column in tested}
    if len(lift_units) > 1:
        words = gettext(
            "lifts of one test in {units}: use one unit", units=listed(sorted(lift_units))
        )
        sheet.fault(record.row, tested[-1].heading, words)
    usual = _usual_unit(sheet, record)
    runs = [list(_runs(sheet, record, column, usual)) for column in tested]
    flow_units = {unit for flows in runs for _, unit in flows}
    if len(flow_units) > 1:
        words = gettext(
            "flows of one test in {units}: use one unit", units=listed(sorted(flow_units))
        )
        sheet.fault(record.row, tested[-1].heading, words)
    return {
        "lift_unit": tested[0].unit,
        "flow_unit": next(iter(flow_units), ""),
        "lift": [column.lift for column in tested],
        "flow": [[flow for flow, _ in flows] for flows in runs],
    }


def _usual_unit(sheet: Sheet, record: Record) -> str:
    """The row's unit of flow; one that is none is a fault, and not of every flow as well."""
    typed = record.get("flow unit")
    try:
        return units.unit(typed, "volume flow").symbol if typed else ""
    except units.UnitError as error:
        sheet.fault(record.row, "flow unit", str(error))
        return units.units_of("volume flow")[0]


def _runs(
    sheet: Sheet, record: Record, column: LiftColumn, usual: str
) -> Iterator[tuple[Decimal, str]]:
    """The flows in a cell with their unit; faults go to the sheet."""
    for typed in pieces(record.others[column.heading]):
        try:
            yield flow_in(sheet, typed, column.flow_unit or usual)
        except units.UnitError as error:
            sheet.fault(record.row, column.heading, str(error))


def pieces(cell: str) -> list[str]:
    """Flows in a cell, separated by slashes."""
    parts = [piece.strip() for piece in cell.split("/")]
    # A unit or a word may have a stroke in it too, as "m3/h".
    return parts if all(piece[:1] in _NUMBER_BEGINS for piece in parts) else [cell]


def flow_in(sheet: Sheet, typed: str, usual: str) -> tuple[Decimal, str]:
    """A flow and its unit. Raises UnitError."""
    text = sheet.with_unit(typed, usual)
    if typed[:1] not in _NUMBER_BEGINS:
        raise units.UnitError(gettext("'{typed}' is not a flow, as 212.4", typed=typed))
    flow = units.parse(text, "volume flow")
    if flow.si < 0:
        raise units.UnitError(gettext("'{text}' is below 0", text=text))
    if len(flow.number) > LONGEST_NUMBER:
        raise units.UnitError(
            gettext(
                "too long: enter at most {longest_number} characters", longest_number=LONGEST_NUMBER
            )
        )
    return Decimal(flow.number), flow.unit


def moment(typed: str, order: str) -> datetime | None:
    """Date and time of a test; midnight where only the day is given, None where it is no date."""
    match = _DATE.fullmatch(typed)
    if match is None:
        return None
    parts = dict(zip(order, map(int, match.groups()[:3]), strict=True))
    if not 1900 <= parts["y"] < 9999:
        return None
    try:
        return datetime(parts["y"], parts["m"], parts["d"], int(match[4] or 0), int(match[5] or 0))  # noqa: DTZ001
    except ValueError:
        return None


def in_future(measured_at: datetime) -> str:
    """Fault of a date in the future; empty for a past one."""
    return plausibility.test_date(measured_at.replace(tzinfo=UTC), datetime.now(UTC))


def _column_of(key: str, tested: list[LiftColumn]) -> str:
    """The column a key of the session file comes from."""
    table, _, index = key.partition("[")
    if table in ("readings", "readings.flow", "readings.lift") and tested:
        number = index.rstrip("]")
        return tested[int(number) - 1].heading if number.isdecimal() else tested[0].heading
    return _KEYS.get(key, key)


def _plain_words(message: str) -> str:
    """A fault's words without the row of the array they speak of."""
    return re.sub(r"^row \d+[^:]*: ", "", message)
