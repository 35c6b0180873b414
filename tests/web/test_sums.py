"""Sums in the browser against values worked by hand, and common practice where it says so."""

from __future__ import annotations

from urllib.parse import urlencode

import pytest

from shopflow.services.measuring import measurements, usual_values
from tests import factories
from tests.optional import present

RATIO = (
    "bore=86.4 mm&stroke=86.4 mm&chamber=50 cm3&gasket_bore=87.5 mm&gasket_thickness=1.0 mm"
    "&deck=0.5 mm&dish=5 cm3&removed=0.254 mm&footprint=5000 mm2"
)
MACH = (
    "bore=86.4 mm&stroke=86.4 mm&valve_diameter=45.2 mm&valves=1&rpm=6000&coefficient=0.35"
    "&temperature=293.15 K"
)
GAS = (
    "air_pressure=1013.25 hPa"
    "&boost=20 psi&back_pressure=18 psi&intake_temperature=300 K&exhaust_temperature=1200 K"
    "&fuel_to_air=0.08"
)
TURBINE = (
    "air_pressure=1013.25 hPa"
    "&mass_flow=200 g/s&temperature=1200 K&inlet_pressure=18 psi&outlet_pressure=0 psi"
    "&efficiency=70 %25"
)

BALANCE = (
    "air_pressure=1013.25 hPa&boost=15 psi&air_flow=200 g/s&inlet_temperature=25 degC"
    "&charge_temperature=50 degC&turbine_temperature=1150 K&outlet_pressure=1 psi"
    "&fuel_to_air=0.08&compressor=70 %25&turbine=68 %25&mechanical=95 %25"
)
BALANCED = [
    *("2.02", "247.7 °F", "19 kW (26 hp)", "20 kW (27 hp)", "9.6 psi", "0.64", "4.7"),
]


@pytest.mark.parametrize(
    ("name", "query", "expected"),
    [
        # By hand: 506.5603 and 63.94469 cm3 make 8.92; 1.270 cm3 less makes 9.08.
        ("compression", RATIO, ["506.6 cm³", "63.94 cm³", "8.92 : 1", "9.08 : 1"]),
        # By hand: S 17.28 m/s, a 343.2 m/s, Z 0.526; 0.5 at 5708 rpm.
        ("inlet-mach", MACH, ["17.3 m/s", "343 m/s", "0.53", "5700 rpm"]),
        # By hand: 1.08 x 4 x 34.696/32.696 = 4.58. "About five" is common practice, no source.
        ("exhaust-gas", GAS, ["4.6"]),
        # By hand (Heywood 6, from memory): cp 1148, gamma 1.333: 49.9 kW ideal, 34.9 at 70 %.
        ("turbine", TURBINE, ["50 kW (67 hp)", "35 kW (47 hp)"]),
    ],
)
def test_a_sum_shows_its_figures_with_their_working(client, name, query, expected):
    page = client.page(f"/calculators/{name}?{query}")
    assert [row[1] for row in page.rows] == expected
    assert all(row[2] for row in page.rows)


@pytest.mark.source("by hand: the closed form of Heywood 6.8, from memory, in plain arithmetic")
def test_a_turbocharger_s_balance_names_its_back_pressure(client):
    page = client.page(f"/calculators/turbo-balance?{BALANCE}")
    assert [row[1] for row in page.rows] == BALANCED
    assert all(row[2] for row in page.rows)
    assert "Limits" in page.text
    assert "Check the seat load" in page.text


@pytest.mark.parametrize(
    ("boost", "reason"), [("90 psi", "more than 10 times"), ("140 psi", "expanded to nothing")]
)
def test_a_boost_that_no_turbine_gives_is_said_in_words(client, boost, reason):
    asked = BALANCE.replace("1150 K", "450 K").replace("15 psi", boost)
    page = client.page(f"/calculators/turbo-balance?{asked}")
    back = next(row for row in page.rows if row[0] == "Back pressure needed")
    assert back[1] == "not reachable"
    assert reason in back[2]
    assert "Ask less boost" in back[2]


@pytest.mark.parametrize(
    ("name", "query", "field", "words"),
    [
        ("turbo-balance", BALANCE.replace("68 %25", "168 %25"), "turbine", "at most 100 %"),
        ("turbo-balance", BALANCE.replace("0.08", "8"), "fuel_to_air", "as 0.08"),
        ("turbo-balance", BALANCE.replace("200 g/s", "1e9 kg/s"), "air_flow", "at most 100 kg/s"),
        ("turbo-balance", BALANCE.replace("15 psi", ""), "boost", "required"),
        ("compression", RATIO.replace("bore=86.4 mm", "bore=86.4 kg", 1), "bore", "unit of mass"),
        ("compression", RATIO.replace("deck=0.5 mm", "deck=-20 mm"), "chamber", "leave no volume"),
        (
            "compression",
            RATIO.replace("0.254 mm", "20 mm"),
            "removed",
            "more than the volume above the piston",
        ),
        ("inlet-mach", MACH.replace("0.35", "1.35"), "coefficient", "from 0 to 1"),
        ("inlet-mach", MACH.replace("0.35", ""), "coefficient", "from 0 to 1"),
        ("exhaust-gas", GAS.replace("20 psi", "-15 psi"), "boost", "must be 0 or more"),
        ("turbine", TURBINE.replace("=0 psi", "=19 psi"), "outlet_pressure", "above the pressure"),
        ("exhaust-gas", GAS.replace("1013.25 hPa", "0.5 psi"), "air_pressure", "45 to 110 kpa"),
        ("exhaust-gas", GAS.replace("1013.25 hPa", ""), "air_pressure", "required: enter a value"),
        ("turbine", TURBINE.replace("70", "170"), "efficiency", "enter at most 100 %"),
        ("turbine", "mass_flow=", "mass_flow", "required: enter a value"),
    ],
)
def test_faults_of_a_sum_are_shown_at_their_fields(client, name, query, field, words):
    page = client.page(f"/calculators/{name}?{query}", status=422)
    assert words in page.fault(field).lower()
    assert page.alerts == "Not calculated yet. Fix the fields marked below."
    assert page.rows == []


def test_a_sum_not_asked_yet_shows_its_form_alone(client):
    for name in ("compression", "inlet-mach", "exhaust-gas", "turbine", "turbo-balance"):
        assert client.page(f"/calculators/{name}").rows == []
    assert "Compression ratio" in client.page("/calculators").links
    client.page("/calculators/none", status=404)


def test_gauge_pressures_are_taken_from_the_air_pressure_stated(client):
    """By hand at 70 kPa: 1.08 x 4 x (137.895 + 70)/(124.106 + 70) = 4.627; at 101.325 kPa 4.584.

    Power: 0.2 x 1148 x 1200 x (1 - (70/194.106)^(0.333/1.333)) = 61.9 kW.
    """
    high = {"1013.25 hPa": "700 hPa"}
    for name, query, value in (("exhaust-gas", GAS, "4.6"), ("turbine", TURBINE, "62 kW (83 hp)")):
        for old, new in high.items():
            query = query.replace(old, new)
        row = client.page(f"/calculators/{name}?{query}").rows[0]
        assert row[1] == value
        assert "70.0 kPa" in row[2] or "207.9 kPa" in row[2]


def test_the_mach_index_names_where_filling_falls_and_its_source(client):
    words = " ".join(client.page(f"/calculators/inlet-mach?{MACH}").rows[2])
    assert "falls steeply above about 0.5" in words
    assert "JSME dictionary of mechanical engineering, entry 11:1002813" in words
    assert "0.6" not in words


def test_a_calculator_starts_from_the_engine_type_and_what_is_usual_for_it(client, db, by):
    engine_type = factories.create_visit(db).head.engine_type
    for code, value in (("chamber volume", "52.5 cm3"), ("valve head diameter", "34.5 mm")):
        kind = measurements.kind_by_code(db, code)
        usual_values.set_(db, by, engine_type, kind, {"value": value, "side": ""})
    page = client.page(f"/engines/{engine_type.id}")
    page = client.page(page.links["Calculators"])
    page = client.page(page.links["Compression ratio"])
    assert page.value("chamber") == "52.5 cm3"
    assert page.value("bore") == present(engine_type.bore).text
    assert not page.alerts
    (form,) = page.tree.xpath("//main//form")
    asked = {name: value for name, value in form.form_values() if value}
    gasket = {"gasket_bore": "82 mm", "gasket_thickness": "1.0 mm"}
    page = client.page(f"/calculators/compression?{urlencode(asked | gasket)}")
    assert page.rows
    assert page.links[engine_type.title] == f"/engines/{engine_type.id}"
    page = client.page(f"/calculators/inlet-mach?engine={engine_type.id}")
    assert (page.value("valve_diameter"), page.value("rpm")) == ("34.5 mm", "")
    assert client.page("/calculators/compression?engine=999999", status=404)
    assert client.page("/calculators/compression?engine=x").value("bore") == ""
