"""Query of a comparison, as its address states it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from flask import url_for
from werkzeug.datastructures import MultiDict

from shopflow.errors import NotFoundError
from shopflow.services.analysis.test_choice import MOST
from shopflow.texts import gettext, lazy
from shopflow.web.addresses import LARGEST_KEY
from shopflow.web.drawing import View, plots

MODES = {
    "gain": lazy("Before and after"),
    "ports": lazy("Compare ports"),
    "heads": lazy("Compare heads"),
    "ratio": lazy("Exhaust over intake"),
}
"""Ways to compare, by the word an address has for each."""


def with_gain() -> dict[str, str]:
    """Quantities that can be drawn of a comparison, by their name in an address."""
    return {**plots(), "gain": gettext("Difference in flow from the first")}


@dataclass(frozen=True)
class Query:
    """The sessions by their keys, the way they are compared, and what is drawn."""

    keys: tuple[int, ...]
    mode: str
    """Empty where the sessions themselves are to suggest it."""

    view: View
    text: str
    """Search text of the picker."""

    before: int | None = None
    after: int | None = None
    too_many: bool = False

    @classmethod
    def read(cls, arguments: MultiDict[str, str]) -> Query:
        """From the arguments of an address. Raises NotFoundError for what is no key."""
        keys = tuple(dict.fromkeys(_key(text) for text in arguments.getlist("s")))
        mode = arguments.get("mode", "")
        ends = (arguments.get(name, "") for name in ("before", "after"))
        before, after = (_key(text) if text else None for text in ends)
        return cls(
            keys=keys[:MOST],
            mode=mode if mode in MODES else "",
            view=View.from_query(arguments, with_gain()),
            text=arguments.get("q", "").replace("\x00", "").strip(),
            before=before,
            after=after,
            too_many=len(keys) > MOST,
        )

    def address(self, endpoint: str = "comparisons.index", **changes: Any) -> str:
        """This page with something changed, as `mode` or `s`; or another of the same comparison."""
        values: dict[str, Any] = {
            "s": self.keys,
            "mode": self.mode or None,
            "plot": self.view.plot if self.view.plot != View.plot else None,
            "against": str(self.view.against) if self.view.against != View.against else None,
            "before": self.before,
            "after": self.after,
        }
        return url_for(endpoint, **{**values, **changes})

    @property
    def hidden_fields(self) -> list[tuple[str, str]]:
        """Hidden fields that a form on the page sends along."""
        sessions = [("s", str(key)) for key in self.keys]
        return [*sessions, ("mode", self.mode)] if self.mode else sessions

    def with_added(self, key: int) -> str:
        """The page with one session more."""
        return self.address(s=(*self.keys, key))

    def without(self, key: int) -> str:
        """Address of the page with one test less."""
        ends: dict[str, Any] = {
            name: None for name in ("before", "after") if getattr(self, name) == key
        }
        return self.address(s=tuple(other for other in self.keys if other != key), **ends)


def _key(text: str) -> int:
    # A key has at most ten digits; more would be slow to read.
    if not (text.isascii() and text.isdecimal() and len(text) <= 10 and int(text) <= LARGEST_KEY):
        raise NotFoundError(gettext("this flow test does not exist"))
    return int(text)
