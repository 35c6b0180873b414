"""Figures of the engine on a hand-off note, against hand calculations; what is missing is named."""

from __future__ import annotations

import pytest
from sqlalchemy.orm import Session

from shopflow.documents import Figure
from shopflow.models import Visit
from shopflow.services.actor import Actor
from shopflow.services.hand_off import notes
from shopflow.services.hand_off.engine_figures import MISSING, engine_figures
from shopflow.services.measuring import measurements
from shopflow.units import SI
from tests import factories
from tests.optional import present

GASKET = {
    "gasket_bore": "87.5 mm", "gasket_thickness": "1.0 mm", "deck_clearance": "0.5 mm",
    "piston_dish": "5 cm3",
}  # fmt: skip
HOT = {
    "air_pressure": "1013.25 hPa",
    "intake_temperature": "300 K",
    "exhaust_temperature": "1200 K",
    "fuel_to_air": "0.08",
}


@pytest.fixture
def visit(db: Session) -> Visit:
    """A head of an engine of 86.4 by 86.4 mm."""
    engine = factories.create_engine_type(db, bore="86.4 mm", stroke="86.4 mm")
    return factories.create_visit(db, engine_type=engine)


def measure(db: Session, by: Actor, visit: Visit, code: str, value: str, **place: str) -> None:
    """Write a figure down."""
    kind = measurements.kind_by_code(db, code)
    measurements.record(db, by, visit, kind.id, {"value": value, "when": "after", **place})


def figures(
    db: Session, by: Actor, visit: Visit, engine: dict[str, str], **valves: str
) -> dict[str, Figure]:
    """The note's figures by name, with these pressures on the valves."""
    by_name = {side: {"port_pressure": pressure} for side, pressure in valves.items()}
    note = notes.write(db, by, visit, {}, by_name, [], engine)
    db.flush()
    return {figure.name: figure for figure in engine_figures(db, note, SI)}


def test_nothing_entered_gives_nothing(db: Session, by: Actor, visit: Visit):
    assert figures(db, by, visit, {}) == {}
    assert present(visit.hand_off).engine is None


def test_compression_is_that_of_a_hand_calculation(db: Session, by: Actor, visit: Visit):
    """(506.5603 + 63.94469) / 63.94469 = 8.92185, by hand."""
    measure(db, by, visit, "chamber volume", "50 cm3", cylinder="2")
    answer = figures(db, by, visit, GASKET)
    assert answer["Compression ratio"].value == "8.92 : 1"
    # The printed parts add up: 50.00 + 6.01 + 2.93 + 5.00 = 63.94.
    assert answer["Clearance volume"] == Figure(
        "Clearance volume", "63.94 cm³",
        "chamber 50.00 cm³ + gasket 6.01 cm³ + deck 2.93 cm³ + dish 5.00 cm³",
    )  # fmt: skip
    assert answer["Chamber volume"] == Figure(
        "Chamber volume", "50 cm³", "measured after the work, cylinder 2"
    )


def test_several_chambers_give_their_mean_and_say_so(db: Session, by: Actor, visit: Visit):
    for cylinder, volume in enumerate(("49.8", "50.2", "50.0"), start=1):
        measure(db, by, visit, "chamber volume", f"{volume} cm3", cylinder=str(cylinder))
    answer = figures(db, by, visit, GASKET)
    assert answer["Chamber volume"].value == "50.00 cm³"
    assert "mean of 3 chambers" in answer["Chamber volume"].working
    assert "49.8 cm³ to 50.2 cm³" in answer["Chamber volume"].working
    assert answer["Compression ratio"].value == "8.92 : 1"


def test_old_chambers_count_with_what_was_cut_off_them(db: Session, by: Actor, visit: Visit):
    """0.254 mm off a 5000 mm2 footprint: 1.270 cm3, 9.082373 by hand."""
    measure(db, by, visit, "chamber volume", "50 cm3", when="before")
    answer = figures(db, by, visit, {**GASKET, "chamber_footprint": "50 cm2"})
    assert answer["Compression ratio"].value == MISSING
    assert "head thickness before and after" in answer["Compression ratio"].working
    measure(db, by, visit, "head thickness", "120.254 mm", when="before")
    measure(db, by, visit, "head thickness", "120.000 mm")
    answer = figures(db, by, visit, {**GASKET, "chamber_footprint": "50 cm2"})
    assert answer["Taken off the head's face"].value == "0.254 mm"
    assert answer["Ratio after the cut"].value == "9.08 : 1"


def test_what_is_missing_is_named_and_never_taken_for_nothing(db: Session, by: Actor, visit: Visit):
    figure = figures(db, by, visit, {"gasket_bore": "87.5 mm"})["Compression ratio"]
    assert figure.value == MISSING
    assert figure.working == (
        "missing: a measured chamber volume, gasket thickness, deck clearance, piston dish"
    )


def test_what_cannot_be_says_why(db: Session, by: Actor, visit: Visit):
    measure(db, by, visit, "chamber volume", "50 cm3")
    figure = figures(db, by, visit, {**GASKET, "piston_dish": "-80 cm3"})["Compression ratio"]
    assert (figure.value, "no volume above" in figure.working) == (MISSING, True)


def test_gas_volumes_are_those_of_a_hand_calculation(db: Session, by: Actor, visit: Visit):
    """1.08 x 4 x 34.696/32.696 = 4.584, by hand."""
    answer = figures(db, by, visit, HOT, intake="20 psi", exhaust="18 psi")
    figure = answer["Exhaust volume over intake volume"]
    assert figure.value == "4.6"
    for part in ("1200 K/300 K", "absolute", "common practice, no source"):
        assert part in figure.working
    bare = figures(db, by, visit, {"exhaust_temperature": "1200 K"}, intake="20 psi")
    assert bare["Exhaust volume over intake volume"].working == (
        "missing: air pressure where the engine runs, back pressure on the exhaust valve, "
        "intake temperature, fuel to air"
    )


def test_turbine_power_is_that_of_a_hand_calculation(db: Session, by: Actor, visit: Visit):
    """0.2 kg/s at 1200 K from 32.696 to 14.696 psia: 49.891 kW, by hand."""
    engine = {**HOT, "gas_flow": "200 g/s", "turbine_outlet_pressure": "0 psi"}
    figure = figures(db, by, visit, engine, exhaust="18 psi")["Isentropic power"]
    assert figure.value == "50 kW (67 hp)"
    assert "1200 K" in figure.working
    over = figures(db, by, visit, {**engine, "turbine_outlet_pressure": "30 psi"}, exhaust="18 psi")
    assert over["Isentropic power"].value == MISSING
