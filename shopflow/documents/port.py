"""A port along its length; SI."""

from __future__ import annotations

from dataclasses import dataclass, field

from shopflow.calc.port_form import Form, Shape, form_of
from shopflow.documents import snapshot


@dataclass(frozen=True)
class SectionPoint:
    """One section of a port, SI; without a session there is no velocity."""

    distance: float
    area: float
    over_tightest: float
    """Its area over that of the tightest section, 1 there."""

    over_throat: float | None
    velocity: float | None
    mach: float | None
    """None too where the section is choked."""

    choked: bool = False
    width: float | None = field(default=None, metadata=snapshot.LATER)
    """Across the bend; with those below None where it was not measured."""

    height: float | None = field(default=None, metadata=snapshot.LATER)
    """In the plane of the bend."""

    perimeter: float | None = field(default=None, metadata=snapshot.LATER)
    short_side_radius: float | None = field(default=None, metadata=snapshot.LATER)

    @property
    def shape(self) -> Shape:
        """Its measurements beside the area."""
        return Shape(self.width, self.height, self.perimeter, self.short_side_radius)

    @property
    def form(self) -> Form:
        """Results of that shape."""
        return form_of(self.area, self.shape)


@dataclass(frozen=True)
class PortSurvey:
    """The sections of a port as they were before or after the work, by distance; SI."""

    when: str
    points: tuple[SectionPoint, ...]
    volume: float | None
    """Between the first and the last section; none where there is one."""

    mean_area: float

    @property
    def has_shape(self) -> bool:
        """True where more than the area was measured of any section."""
        return any(point.shape for point in self.points)

    @property
    def tightest(self) -> SectionPoint:
        """The section with the least area."""
        return min(self.points, key=lambda point: point.area)


@dataclass(frozen=True)
class AlongPort:
    """A port's areas against distance, with a flow through them; SI."""

    side: str
    cylinder: str
    datum: str
    """Face from which the distances are measured."""

    from_seat: bool
    surveys: tuple[PortSurvey, ...]
    """Before the work, then after it, each where it was measured."""

    stands: int = -1
    """Index of the survey behind the results: the port as it was when the flow was measured."""

    session: str = ""
    reference_pressure: str = ""
    lift: float | None = None
    flow: float | None = None
    curtain: float | None = None
    least: float | None = None
    throat: float | None = None
    """Areas of all the port's valves at this lift; none where they are not known."""

    outdated_by: str = field(default="", metadata=snapshot.LATER)
    """The step that cut metal after the sections were measured and before the test."""

    tighter: str = field(default="", metadata=snapshot.LATER)
    """The tighter of "port" and "valve", or "neither" where the uncertainties of their sizes do not
    tell; empty where one is not stated."""
