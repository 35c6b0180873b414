"""Coefficients on areas that only a simulation asks for; no page or document shows them."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from shopflow.calc.areas import Seat, port_area_at_stem, seat_circle_area
from shopflow.calc.array_types import Array, Floats
from shopflow.calc.reduction import Reduction
from shopflow.calc.result import Result
from shopflow.calc.results import HEYWOOD
from shopflow.texts import lazy


def _on_seat(area: Callable[[Reduction, Seat], Array]) -> Callable[[Reduction], Floats | None]:
    """The coefficient on an area of the seat, of all valves that open together."""

    def coefficient(row: Reduction) -> Floats | None:
        valve = row.test.valve
        if valve.seat is None:
            return None
        return np.asarray(row.effective_area / (area(row, valve.seat) * valve.count))

    return coefficient


def _on_port(row: Reduction) -> Floats | None:
    port = row.test.port_area
    return None if port is None else row.effective_area / port


CD_THROAT = Result(
    key="cd_throat",
    symbol=lazy("Cd"),
    name=lazy("Coefficient on the throat area"),
    formula=lazy("A ÷ (π/4 (Dp² − Ds²) × number of valves), Dp throat, Ds stem"),
    source=lazy("{heywood}, section 6.3", heywood=HEYWOOD),
    needs=lazy("seat sizes"),
    values=_on_seat(lambda _, seat: port_area_at_stem(seat.throat_diameter, seat.stem_diameter)),
)
CD_PORT = Result(
    key="cd_port",
    symbol=lazy("Cd"),
    name=lazy("Coefficient on the port area"),
    formula=lazy("A ÷ port area as entered"),
    source=lazy("definition"),
    needs=lazy("port area"),
    values=_on_port,
)
CD_SEAT = Result(
    key="cd_seat",
    symbol=lazy("Cd"),
    name=lazy("Coefficient on the seat area"),
    formula=lazy(
        "A ÷ (π/4 (D − 2w)² × number of valves), w = seat width × cos(seat angle): the circle at "
        "the seat's inner edge"
    ),
    source=lazy("definition"),
    needs=lazy("seat sizes"),
    values=_on_seat(lambda row, seat: seat_circle_area(row.test.valve.head_diameter, seat)),
)

ON_MORE_AREAS: tuple[Result, ...] = (CD_THROAT, CD_PORT, CD_SEAT)
