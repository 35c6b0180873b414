"""The places of a head: its cylinders, valves, ports and what belongs to each valve.

An engine type says how many valves a cylinder has on each side and what the shop calls them; a head
adds which cylinders of the engine it holds. From the two follow all places, so that none is stored.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from shopflow.texts import gettext, gettext_noop, listed, translated

SIDES = ("intake", "exhaust")
EACH_VALVE = gettext_noop("each valve")
"""Description of a side on which every valve has a port of its own."""


class PlaceKind(StrEnum):
    """The part of a head that a kind of measurement belongs to."""

    HEAD = gettext_noop("head")
    CYLINDER = gettext_noop("cylinder")
    PORT = gettext_noop("port")
    VALVE = gettext_noop("valve")
    SEAT = gettext_noop("seat")
    GUIDE = gettext_noop("guide")
    SPRING = gettext_noop("spring")
    SECTION = gettext_noop("section")


OF_A_VALVE = frozenset({PlaceKind.VALVE, PlaceKind.SEAT, PlaceKind.GUIDE, PlaceKind.SPRING})
"""Parts that every valve has one of."""

OF_A_PORT = frozenset({PlaceKind.PORT, PlaceKind.SECTION})


@dataclass(frozen=True)
class HeadPlace:
    """One place of a head. `cylinder`, `side` and `valve` are its key, as measurements have it."""

    kind: PlaceKind
    cylinder: int | None = None
    side: str = ""
    valve: int | None = None
    """Number of the valve on its side of the cylinder, from 1."""

    label: str = field(default="", compare=False)
    """As a porter would say it: "cylinder 3, front exhaust valve"."""

    @property
    def key(self) -> tuple[int | None, str, int | None]:
        """Key that tells it from the other places of its kind."""
        return self.cylinder, self.side, self.valve


@dataclass(frozen=True)
class HeadPlan:
    """Layout of a head: cylinders by number, names of valves by side, ports by side.

    A port is the cylinders that share it; `None` in place of a side's ports is one port per valve.
    """

    cylinders: tuple[int, ...]
    valves: Mapping[str, tuple[str, ...]]
    ports: Mapping[str, tuple[tuple[int, ...], ...] | None]
    _by_kind: dict[PlaceKind, dict[tuple[int | None, str, int | None], HeadPlace]] = field(
        default_factory=dict, compare=False, repr=False
    )

    def places(self, kind: PlaceKind) -> list[HeadPlace]:
        """Every place of a kind, by cylinder, the intake side first."""
        if kind is PlaceKind.HEAD:
            return [HeadPlace(kind, label=gettext("head"))]
        if kind is PlaceKind.CYLINDER:
            return [
                HeadPlace(kind, number, label=gettext("cylinder {number}", number=number))
                for number in self.cylinders
            ]
        if kind in OF_A_VALVE:
            return list(self._of_valves(kind))
        return list(self._of_ports(kind))

    def place_at(
        self, kind: PlaceKind, key: tuple[int | None, str, int | None]
    ) -> HeadPlace | None:
        """The place with this key; none where the head has no such place.

        A port that cylinders share is found by any of them.
        """
        cylinder, side, _ = key
        ports = self.ports.get(side) if kind in OF_A_PORT else None
        for port in ports or ():
            if cylinder in port:
                key = port[0], side, None
        return self._by_key(kind).get(key)

    def _by_key(self, kind: PlaceKind) -> dict[tuple[int | None, str, int | None], HeadPlace]:
        if kind not in self._by_kind:
            self._by_kind[kind] = {place.key: place for place in self.places(kind)}
        return self._by_kind[kind]

    @property
    def valve_count(self) -> int:
        """Valves of the whole head."""
        return len(self.cylinders) * sum(map(len, self.valves.values()))

    def _of_valves(self, kind: PlaceKind) -> Iterator[HeadPlace]:
        for cylinder in self.cylinders:
            for side in SIDES:
                for valve, name in enumerate(self.valves[side], start=1):
                    yield HeadPlace(
                        kind, cylinder, side, valve, valve_label(cylinder, side, name, kind)
                    )

    def _of_ports(self, kind: PlaceKind) -> Iterator[HeadPlace]:
        for side in SIDES:
            ports = self.ports[side]
            if ports is None:
                for place in self._of_valves(PlaceKind.PORT):
                    if place.side == side:
                        yield HeadPlace(kind, *place.key, place.label)
                continue
            for cylinders in ports:
                yield HeadPlace(kind, cylinders[0], side, None, port_label(cylinders, side))


def valve_label(cylinder: int, side: str, name: str = "", kind: PlaceKind = PlaceKind.VALVE) -> str:
    """A valve, or what belongs to it, in words.

    >>> valve_label(3, "exhaust", "front")
    'cylinder 3, front exhaust valve'
    >>> valve_label(2, "intake", kind=PlaceKind.SEAT)
    'cylinder 2, intake seat'
    """
    words = {
        "cylinder": cylinder,
        "name": name,
        "side": translated(side),
        "part": translated(kind.value),
    }
    if not name:
        return gettext("cylinder {cylinder}, {side} {part}", **words)
    return gettext("cylinder {cylinder}, {name} {side} {part}", **words)


def port_label(cylinders: Sequence[int], side: str) -> str:
    """A port in words, with every cylinder that shares it.

    >>> port_label((2, 3), "exhaust")
    'cylinders 2 and 3, shared exhaust port'
    """
    if len(cylinders) == 1:
        return gettext(
            "cylinder {cylinder}, {side} port", cylinder=cylinders[0], side=translated(side)
        )
    return gettext(
        "cylinders {cylinders}, shared {side} port",
        cylinders=listed(map(str, cylinders)),
        side=translated(side),
    )


def read_numbers(text: str) -> tuple[int, ...]:
    """Cylinder numbers as typed, "1, 3, 5". Raises ValueError."""
    parts = [part for part in re.split(r"[,;\s]+", text.strip()) if part]
    numbers = tuple(int(part) for part in parts if re.fullmatch(r"[0-9]{1,3}", part))
    if len(numbers) != len(parts) or 0 in numbers:
        raise ValueError(
            gettext("'{text}' is not a list of cylinders: enter them like 1, 3, 5, 7", text=text)
        )
    if len(set(numbers)) != len(numbers):
        raise ValueError(gettext("'{text}' names a cylinder twice: enter each once", text=text))
    return numbers


def read_ports(text: str, cylinders: Sequence[int]) -> tuple[tuple[int, ...], ...] | None:
    """A side's ports as typed; none for a port per valve. Raises ValueError.

    Empty is a port per cylinder; cylinders joined by "+" share a port.

    >>> read_ports("1, 2+3, 4", (1, 2, 3, 4))
    ((1,), (2, 3), (4,))
    """
    if not text.strip():
        return tuple((number,) for number in cylinders)
    if text.strip().lower() == EACH_VALVE:
        return None
    ports = tuple(read_numbers(part.replace("+", " ")) for part in text.split(",") if part.strip())
    named = [number for port in ports for number in port]
    if sorted(named) != sorted(cylinders):
        wanted = ", ".join(map(str, cylinders))
        raise ValueError(
            gettext(
                "'{text}' must name each of cylinders {wanted} once, as 1, 2+3, 4",
                text=text,
                wanted=wanted,
            )
        )
    return ports
