"""The sizes behind a flow test: as stated with it, else as last measured before it."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.models import BenchSession, Measurement, When
from shopflow.services.bench.sizes import cut_between
from shopflow.units import Quantity


@dataclass(frozen=True)
class Setup:
    """Sizes of the port tested, in m, m2 and radians; none where nobody wrote them down."""

    throat_diameter: float | None
    seat_angle: float | None
    port_area: float | None


def setup(row: BenchSession) -> Setup:
    """The sizes a session was made with."""
    return Setup(
        throat_diameter=_size(row, row.throat_diameter, "throat diameter"),
        seat_angle=_size(row, row.seat_angle, "seat angle"),
        port_area=_size(row, row.port_area, "port area"),
    )


def _size(row: BenchSession, stated: Quantity | None, code: str) -> float | None:
    if stated is not None:
        return stated.si
    known = [found for found in row.job_head.measurements if _holds(found, row, code)]
    # Of several sections of a port the smallest is the one that flow is short of.
    least = min((found.value.si for found in known), default=None)
    return known[-1].value.si if known and code != "port area" else least


def _holds(found: Measurement, row: BenchSession, code: str) -> bool:
    """Whether a measurement was of this port, and stood when the session was made."""
    if found.kind.code != code or found.side != row.side or found.when is not When.AFTER:
        return False
    if found.cylinder is not None and row.cylinder and str(found.cylinder) != row.cylinder:
        return False
    followed = row.after_operation
    if followed is None or found.operation is None:
        return False
    if found.operation.position > followed.position:
        return False
    # A port cut since is not the port that was measured.
    return code != "port area" or cut_between(row.job_head, found.at, row) is None
