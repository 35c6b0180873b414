"""Springs of a head, valve by valve: loads, shims, room, and the valve that is worst off."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import datetime

from shopflow.documents.head import Figure, HeadIdentity
from shopflow.documents.shop import Display, Letterhead, Party
from shopflow.texts import gettext


@dataclass(frozen=True)
class EachValve:
    """One valve's spring, each value in the units it was measured in; empty where not known."""

    where: str
    installed_height: str = ""
    """As it stands, on the shims in now."""

    shims_in: str = ""
    """Shims in now."""

    shims: str = ""
    """Shims to add."""

    fitted_height: str = ""
    """Once they are added."""

    seat_load: str = ""
    held: str = ""
    """Load left on the seat against boost or back pressure."""

    load_at_lift: str = ""
    room_to_coil_bind: str = ""
    retainer_room: str = ""
    squareness: str = ""
    verdict: str = ""
    is_out: bool = False
    """True where something is outside its limits."""

    is_named: bool = True
    """False for what was measured at a place that names none of the head's valves."""

    is_incomplete: bool = False
    """True where nobody can say that it is within its limits."""

    @property
    def is_measured(self) -> bool:
        """True where anything of it is known."""
        words = ("where", "verdict", "is_out", "is_incomplete", "is_named")
        return any(getattr(self, field.name) for field in fields(self) if field.name not in words)


@dataclass(frozen=True)
class SpringCurve:
    """Loads by height, SI, and where the valves stand on them; units are those first typed."""

    height_unit: str
    load_unit: str
    path: tuple[tuple[float, float], ...]
    """Heights and loads along the curve."""

    points: tuple[tuple[float, float], ...]
    seats: tuple[tuple[float, float], ...] = ()
    opens: tuple[tuple[float, float], ...] = ()
    coil_bind: float | None = None


@dataclass(frozen=True)
class SpringSide:
    """The springs of one side of a head."""

    side: str
    name: str
    figures: tuple[Figure, ...]
    each: tuple[EachValve, ...]
    worst: tuple[str, ...]
    """Sentences that name the worst valve for each value."""

    shims: tuple[str, ...] = ()
    """Shims of each valve in words."""

    to_pick: str = ""
    """As "6 × 0.030 in, 2 × 0.015 in"."""

    missing: tuple[str, ...] = ()
    """Valves that are not measured, in sentences."""

    to_enter: tuple[str, ...] = ()
    """Sentences for the shop, not for paper: what to enter to see more."""

    alarms: tuple[str, ...] = ()
    """Sentences on pressure that the loads do not allow for."""

    cautions: tuple[str, ...] = ()
    """Sentences on loads beyond the points entered, and on inputs that disagree."""

    curve: SpringCurve | None = None

    @property
    def measured(self) -> tuple[EachValve, ...]:
        """The valves of which anything is known."""
        return tuple(valve for valve in self.each if valve.is_measured)

    @property
    def picking(self) -> str:
        """Shims to pick in a sentence; beside those that are in, where any are. Empty for none."""
        if not self.to_pick:
            return ""
        if any(valve.shims_in for valve in self.each):
            return gettext("Shims to add to those in now: {shims}.", shims=self.to_pick)
        return gettext("Shims to pick: {shims}.", shims=self.to_pick)

    @property
    def is_known(self) -> bool:
        """True where there is anything to print."""
        return bool(self.figures or self.measured)


@dataclass(frozen=True)
class SpringList:
    """A head's spring and shim list."""

    shop: Letterhead
    display: Display
    job: str
    customer: Party
    head: HeadIdentity
    sides: tuple[SpringSide, ...]
    made_at: datetime
    boosted: bool = False

    @property
    def title(self) -> str:
        """Title of the list."""
        return gettext("Springs and shims of head {head}", head=self.head.tag)
