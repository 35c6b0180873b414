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

    def unknown(self, table: str, found: Mapping[str, Any], known: Iterable[str]) -> None:
        """Refuse keys the format does not have: a misspelling must not pass as a default."""
        known = tuple(known)
        for place, name in enumerate(name for name in found if name not in known):
            near = suggestion(name, known) if place < MOST_SUGGESTIONS else ""
            self.fault(
                f"{table}.{name}" if table else name, gettext("unknown key{near}", near=near)
            )

    def schema(self) -> None:
        """The number of the format."""
        found = self.content.get("schema")
        if found is None:
            self.fault("schema", gettext("missing; write schema = 1"))
        elif isinstance(found, bool) or not isinstance(found, int) or found != 1:
            self.fault(
                "schema",
                gettext(
                    "{shown} is not a version this program reads; it reads 1", shown=shown(found)
                ),
            )

    def table(self, name: str) -> Mapping[str, Any] | None:
        """A table of the file, empty where it is absent; None where it is no table."""
        found = self.content.get(name, {})
        if isinstance(found, Mapping):
            return found
        self.fault(
            name, gettext("must be a table, [{name}], not {shown}", name=name, shown=shown(found))
        )
        return None

    def values(self, keys: Iterable[Key], table: Mapping[str, Any]) -> Values:
        """The fields of a table's keys that could be read."""
        found: Values = {}
        for key in keys:
            try:
                found[key.field] = read(key, table)
            except RefusedError as refused:
                self.fault(key.path, str(refused))
        return found

    def unit(
        self, name: str, table: Mapping[str, Any], allowed: Sequence[str], within: str
    ) -> str | None:
        """The unit of a table's arrays; `within` is the table's name."""
        found = table.get(name)
        if isinstance(found, str) and found in allowed:
            return found
        if found is None:
            message = f"missing; use one of {', '.join(allowed)}"
        elif not isinstance(found, str):
            message = f'must be text, as "{allowed[0]}", not {shown(found)}'
        else:
            near = suggestion(found, allowed) or f"; use one of {', '.join(allowed)}"
            message = f"unknown unit {shown(found)}{near}"
        self.fault(f"{within}.{name}", message)
        return None
