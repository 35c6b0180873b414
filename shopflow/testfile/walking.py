"""Walking a file's tables once, collecting every fault at its key."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from shopflow.errors import FieldError
from shopflow.testfile.keys import Key
from shopflow.testfile.values import RefusedError, read, shown, suggestion
from shopflow.texts import gettext

MOST_SUGGESTIONS = 20
Values = dict[str, Any]


class Walker:
    """A parsed file's content and the faults found in it."""

    def __init__(self, content: Mapping[str, Any]) -> None:
        self.content = content
        self.faults: list[FieldError] = []

    def fault(self, key: str, message: str) -> None:
        """Note what is wrong at a key."""
        self.faults.append(FieldError(key, message))

    def unknown(self, table: str, table_read: Mapping[str, Any], allowed: Iterable[str]) -> None:
        """Refuse keys the format does not have: a misspelling must not pass as a default."""
        allowed = tuple(allowed)
        for index, name in enumerate(name for name in table_read if name not in allowed):
            near = suggestion(name, allowed) if index < MOST_SUGGESTIONS else ""
            self.fault(
                f"{table}.{name}" if table else name, gettext("unknown key{near}", near=near)
            )

    def schema(self) -> None:
        """The number of the format."""
        version = self.content.get("schema")
        if version is None:
            self.fault("schema", gettext("missing; write schema = 1"))
        elif isinstance(version, bool) or not isinstance(version, int) or version != 1:
            self.fault(
                "schema",
                gettext(
                    "{shown} is not a version this program reads; it reads 1", shown=shown(version)
                ),
            )

    def table(self, name: str) -> Mapping[str, Any] | None:
        """A table of the file, empty where it is absent; None where it is no table."""
        content = self.content.get(name, {})
        if isinstance(content, Mapping):
            return content
        self.fault(
            name, gettext("must be a table, [{name}], not {shown}", name=name, shown=shown(content))
        )
        return None

    def values(self, keys: Iterable[Key], table: Mapping[str, Any]) -> Values:
        """The fields of a table's keys that could be read."""
        fields: Values = {}
        for key in keys:
            try:
                fields[key.field] = read(key, table)
            except RefusedError as refused:
                self.fault(key.path, str(refused))
        return fields

    def unit(
        self, name: str, table: Mapping[str, Any], allowed: Sequence[str], within: str
    ) -> str | None:
        """The unit of a table's arrays; `within` is the table's name."""
        symbol = table.get(name)
        if isinstance(symbol, str) and symbol in allowed:
            return symbol
        if symbol is None:
            message = gettext("missing; use one of {allowed}", allowed=", ".join(allowed))
        elif not isinstance(symbol, str):
            message = gettext(
                'must be text, as "{unit}", not {shown}', unit=allowed[0], shown=shown(symbol)
            )
        else:
            near = suggestion(symbol, allowed)
            message = (
                gettext("unknown unit {unit}{suggestion}", unit=shown(symbol), suggestion=near)
                if near
                else gettext(
                    "unknown unit {unit}; use one of {units}",
                    unit=shown(symbol),
                    units=", ".join(allowed),
                )
            )
        self.fault(f"{within}.{name}", message)
        return None
