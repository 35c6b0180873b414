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
    holding = [
        measurement for measurement in row.job_head.measurements if _holds(measurement, row, code)
    ]
    # Of several sections of a port the smallest is the one that flow is short of.
    least = min((measurement.value.si for measurement in holding), default=None)
    return holding[-1].value.si if holding and code != "port area" else least


def _holds(measurement: Measurement, row: BenchSession, code: str) -> bool:
    """True where a measurement was of this port, and valid when the test was made."""
    if (
        measurement.kind.code != code
        or measurement.side != row.side
        or measurement.when is not When.AFTER
    ):
        return False
    if (
        measurement.cylinder is not None
        and row.cylinder
        and str(measurement.cylinder) != row.cylinder
    ):
        return False
    followed = row.after_operation
    if followed is None or measurement.operation is None:
        return False
    if measurement.operation.position > followed.position:
        return False
    # A port cut since is not the port that was measured.
    return code != "port area" or cut_between(row.job_head, measurement, row) is None
