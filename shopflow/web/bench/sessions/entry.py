"""A bench session as its form holds it: read as its file would say it, and kept as typed."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal, InvalidOperation
from functools import cached_property
from typing import Any

from shopflow.calc.reduction import Reduction
from shopflow.errors import FieldError, ValidationError
from shopflow.services.fields import line_ends
from shopflow.testfile import SessionDocument, reduced
from shopflow.testfile.keys import KEYS, TABLES, Key
from shopflow.texts import gettext, listed
from shopflow.unit_words import understood
from shopflow.units import UnitError, pretty, split
from shopflow.web.fields import usual_unit

MOST_ROWS = 60
RUNS = ("first", "second", "third")
"""Names of the columns a run is typed in."""

NOT_KEPT = frozenset(
    {
        *("csrf_token", "entry", "writer", "seen", "captured", "chart_width", "chart_height"),
        *(
            "save",
            "work_out",
            "more_rows",
            "ld_lifts",
            "lift_list",
            "load_sizes",
            "use_air",
            "as_doubtful",
        ),
    }
)
KINDS = {"air.barometer": "air pressure", "bench.test_pressure": "test pressure"}
"""Kind of figure whose unit a bare number of a key is in, where it is not its dimension's."""

_WHOLE = re.compile(r"[0-9]+")
_BARE = re.compile(r"[0-9.,]+")
_IN_ROW = re.compile(r"rows-([0-9]{1,9})-")


@dataclass(frozen=True)
class Entry:
    """Typed fields of a flow test's form, by their names.

    It is read at every value typed, without the form: that serves the page and `validate`.
    """

    typed: Mapping[str, str]

    @property
    def to_keep(self) -> dict[str, str]:
        """Every field as typed, by its name, to be kept while the test is taken."""
        return {name: text for name, text in self.typed.items() if name not in NOT_KEPT}

    def doubted(self, places: Sequence[int], flow_unit: str) -> list[FieldError]:
        """Faults at the first readings of these filled rows, each beyond what can be."""
        return [
            FieldError(
                f"rows-{self.filled[place]}-first",
                gettext(
                    "{lift} {lift_unit}: {readings} {flow_unit} cannot be. It is more than an "
                    "ideal opening passes. Correct the reading or empty it.",
                    lift=self._text(f"rows-{self.filled[place]}-lift").strip(),
                    lift_unit=self._text("lift_unit"),
                    readings=listed(
                        filter(
                            None,
                            (
                                self._text(f"rows-{self.filled[place]}-{run}").strip()
                                for run in RUNS
                            ),
                        )
                    ),
                    flow_unit=pretty(flow_unit),
                ),
            )
            for place in places
        ]

    @cached_property
    def filled(self) -> list[int]:
        """Indexes of the rows that hold a reading; a lift without one does not count."""
        rows = {int(match[1]) for match in map(_IN_ROW.match, self.typed) if match}
        return [
            index
            for index in sorted(rows)[:MOST_ROWS]
            if any(self._text(f"rows-{index}-{run}").strip() for run in RUNS)
        ]

    def reduced(self, engine_type: str, head: str) -> tuple[SessionDocument, Reduction]:
        """The test as its file would state it, and its results.

        Raises ValidationError keyed by the fields of the form.
        """
        faults: list[FieldError] = []
        content = self._content(engine_type, head, faults)
        try:
            result = reduced(content)
        except ValidationError as error:
            # No readings leave both lifts and flows empty: one error says so.
            faults += dict.fromkeys(self._at_field(fault) for fault in error.faults)
        if faults:
            raise ValidationError(faults)
        return result

    def _text(self, name: str) -> str:
        return line_ends(self.typed.get(name) or "")

    def _content(self, engine_type: str, head: str, faults: list[FieldError]) -> dict[str, Any]:
        """Typed values, nested as the session file is; blank fields take their defaults."""
        content: dict[str, Any] = {"schema": 1, "engine_type": engine_type, "head": head}
        own = (key.name for key in KEYS if not key.table and key.dimension != "moment")
        content |= {name: self._text(name) for name in own if name not in content}
        measured_at = self._text("measured_at")
        if measured_at:
            try:
                content["measured_at"] = datetime.fromisoformat(measured_at.strip())
            except ValueError:
                faults.append(FieldError("measured_at", gettext("enter it like 2026-03-14 10:30")))
        content |= {table: self._table(table, faults) for table in TABLES}
        content["readings"] = {
            "lift_unit": self.typed.get("lift_unit"),
            "flow_unit": self.typed.get("flow_unit"),
            **self._readings(faults),
        }
        return content

    def _table(self, table: str, faults: list[FieldError]) -> dict[str, Any]:
        """The keys of a table that hold anything; bare numbers as numbers."""
        values: dict[str, Any] = {}
        for key in KEYS:
            text = self._text(f"{table}-{key.name}").strip() if key.table == table else ""
            if not text:
                continue
            if key.dimension == "count" and _WHOLE.fullmatch(text):
                values[key.name] = int(text[:6])
            elif key.dimension == "row":
                values[key.name] = _row(text, f"{table}-{key.name}", faults)
            elif key.dimension in ("count", "number"):
                values[key.name] = _number(text, f"{table}-{key.name}", faults)
            else:
                values[key.name] = _with_unit(key, text)
        return values

    def _readings(self, faults: list[FieldError]) -> dict[str, list[Any]]:
        """Lifts and runs of the rows that hold anything; "212.4 @ 26.5" is a run at a pressure."""
        lifts, flows, pressures = [], [], []
        for index in self.filled:
            lift = f"rows-{index}-lift"
            lifts.append(_number(self._text(lift), lift, faults))
            names = [f"rows-{index}-{run}" for run in RUNS]
            runs = [
                (name, text.partition("@")) for name in names if (text := self._text(name).strip())
            ]
            flows.append([_number(typed[0], name, faults) for name, typed in runs])
            pressures.append(runs)
        readings: dict[str, Any] = {"lift": lifts, "flow": flows}
        if any(typed[1] for row in pressures for _, typed in row):
            readings |= self._pressures(pressures, faults)
        return readings

    def _pressures(
        self, rows: list[list[tuple[str, tuple[str, str, str]]]], faults: list[FieldError]
    ) -> dict[str, Any]:
        """The pressure of every run in the test pressure's unit: its own, or the test pressure."""
        try:
            usual, unit = split(self._text("bench-test_pressure"))
        except UnitError:
            # The test pressure has its own fault.
            return {}
        return {
            "pressure_unit": unit,
            "pressure": [
                [_number(own if at else usual, key, faults) for key, (_, at, own) in row]
                for row in rows
            ],
        }

    def _at_field(self, fault: FieldError) -> FieldError:
        """An error of the file, at the form's field."""
        row = re.fullmatch(r"readings\.(lift|flow|pressure)\[(\d+)\]", fault.key)
        if row:
            index = self.filled[int(row[2]) - 1]
            column = "lift" if row[1] == "lift" else "first"
            return FieldError(f"rows-{index}-{column}", fault.message)
        if fault.key == "readings.pressure_unit":
            return FieldError("bench-test_pressure", fault.message)
        if fault.key.startswith("readings.") and fault.key.endswith("unit"):
            return FieldError(fault.key.removeprefix("readings."), fault.message)
        if fault.key in ("readings.lift", "readings.flow"):
            return FieldError("rows-0-first", gettext("enter at least one reading"))
        # A row of numbers is one field, and its message names the place.
        return FieldError(fault.key.partition("[")[0].replace(".", "-"), fault.message)


def _with_unit(key: Key, text: str) -> str:
    """A quantity with its unit: the shop's, where a bare number was typed in its box."""
    if key.table not in ("air", "valve", "port") and key.path not in KINDS:
        return text
    is_bare = _BARE.fullmatch(text) is not None
    unit = usual_unit(key.dimension, KINDS.get(key.path, "")) if is_bare else None
    try:
        return understood(text, key.dimension, unit)
    except UnitError:
        # The file's own reading says what is wrong with it.
        return text


def _row(text: str, key: str, faults: list[FieldError]) -> list[Decimal]:
    """Numbers typed with commas or spaces between them."""
    return [_number(typed, key, faults) for typed in text.replace(",", " ").split()]


def _number(text: str, key: str, faults: list[FieldError]) -> Decimal:
    """A typed number; one that cannot be read is a fault, and stands for 1 meanwhile."""
    typed = text.strip()
    try:
        number = Decimal(typed)
        if number.is_finite():
            return number
    except InvalidOperation:
        pass
    if not typed:
        message = gettext("required: enter a value")
    elif "," in typed:
        message = gettext("'{typed}' is not a number; write decimals with a point", typed=typed)
    else:
        message = gettext("'{typed}' is not a number", typed=typed)
    faults.append(FieldError(key, message))
    return Decimal(1)
