"""`shopflow simulation`: what another program reads from it, by a reader that is not ours."""

from __future__ import annotations

import csv
import io
import json
import math
import zipfile
from pathlib import Path

import pytest

from tests.cli.conftest import Run
from tests.cli.sessions import EXHAUST_SI, INTAKE_US
from tests.cli.test_numbers import write_session

DATA = Path(__file__).parents[1] / "data"
MM2 = 1e-6
LOW = INTAKE_US.replace("25 inH2O", "10 inH2O").replace("[[23.5, 23.9], [47.8]", "[[14.9], [30.2]")
OWN_PRESSURES = INTAKE_US.replace(
    "flow = [[23.5, 23.9]", 'pressure_unit = "inH2O"\nflow = [[23.5, 23.9]'
) + ("pressure = [[25.0, 25.1], [25.0], [24.8, 24.9, 25.0], [24.0, 24.1], [23.1], [22.8, 22.9]]\n")


def orifice(row: dict[str, str]) -> float:
    """Mass flow in kg/s that a row's effective area passes: a simulation's own reader, by the
    closed form of an isentropic nozzle (numbers.md, section 2; Heywood (1988), appendix C)."""
    area = float(row["effective_area_mm2"]) * MM2
    p0, rho0 = float(row["upstream_pressure_pa"]), float(row["upstream_density_kg_m3"])
    ratio = max(float(row["pressure_ratio"]), 0.5282817877171742)
    bracket = ratio ** (2 / 1.4) - ratio ** (2.4 / 1.4)
    return area * math.sqrt(7.0 * p0 * rho0 * bracket)


def table(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


@pytest.fixture
def tests(tmp_path: Path) -> list[Path]:
    texts = {"intake": INTAKE_US, "exhaust": EXHAUST_SI, "low": LOW}
    return [write_session(tmp_path, text, f"{name}.toml") for name, text in texts.items()]


@pytest.mark.source("Heywood (1988), appendix C, in closed form; NACA Report 1135 for the nozzles")
def test_an_independent_reader_recovers_the_measured_mass_flow(run: Run, tests, tmp_path) -> None:
    choked = DATA / "choked-nozzle.toml"
    own = write_session(tmp_path, OWN_PRESSURES, "own.toml")
    files = [*tests, choked, DATA / "isentropic-nozzle.toml", own]
    rows = table(run("simulation", *files).stdout)
    assert len(rows) == 6 + 7 + 6 + 1 + 1 + 6
    for row in rows:
        assert orifice(row) == pytest.approx(float(row["mass_flow_kg_s"]), rel=1e-9)
    nozzles = [row for row in rows if row["lift_mm"] == "7.5"]
    for row, flux in zip(nozzles, (118.54, 241.22), strict=True):
        # As published, of four figures.
        assert orifice(row) == pytest.approx(flux * 706.858 * MM2, rel=1e-3)
        assert float(row["cd_port"]) == pytest.approx(1.0, abs=1e-3)


@pytest.mark.source("numbers.md, section 2: 1000 mm2 at 28 inH2O, intake 0.1247301, exhaust "
                    "0.1292815 kg/s")  # fmt: skip
@pytest.mark.parametrize(("side", "flow"), [("intake", 0.1247301), ("exhaust", 0.1292815)])
def test_a_thousand_square_millimetres_come_back(run: Run, tmp_path, side, flow) -> None:
    text = f"""
schema = 1
side = "{side}"
[air]
barometer = "101325 Pa"
temperature = "20 degC"
[valve]
head_diameter = "40 mm"
[bench]
test_pressure = "28 inH2O"
[readings]
lift_unit = "mm"
flow_unit = "m3/s"
lift = [10]
flow = [[{flow / 1.204118:.9f}]]
"""
    (row,) = table(run("simulation", write_session(tmp_path, text)).stdout)
    # CIPM-2007's air is 0.037 % denser than the table's ideal gas; the area takes the root of it.
    assert float(row["effective_area_mm2"]) == pytest.approx(1000.0, rel=2.5e-4)
    assert float(row["pressure_ratio"]) == pytest.approx(
        {"intake": 0.931167, "exhaust": 0.935600}[side], abs=5e-7
    )
    assert row["direction"] == {"intake": "into cylinder", "exhaust": "out of cylinder"}[side]


def test_its_units_and_named_areas_are_those_of_the_headings(run: Run, tests) -> None:
    rows = table(run("simulation", *tests).stdout)
    first = rows[0]
    assert float(first["lift_mm"]) == 1.27
    assert float(first["valve_head_diameter_mm"]) == pytest.approx(1.732 * 25.4)
    assert float(first["lift_over_diameter"]) == pytest.approx(0.05 / 1.732)
    head = math.pi / 4 * (1.732 * 25.4) ** 2
    by_area = {
        "cd_curtain": 4 * head * 0.05 / 1.732,
        "cd_head": head,
        "cd_throat": math.pi / 4 * (1.530**2 - 0.275**2) * 25.4**2,
        "cd_port": 1.72 * 25.4**2,
    }
    for name, area in by_area.items():
        again = float(first[name]) * area
        assert again == pytest.approx(float(first["effective_area_mm2"]), rel=1e-12), name


def test_several_pressures_of_a_port_are_several_pressure_ratios(run: Run, tests) -> None:
    rows = table(run("simulation", *tests).stdout)
    ratios = {(row["test"], row["side"]): float(row["pressure_ratio"]) for row in rows}
    room = 29.41 * 3386.389
    assert ratios == {
        ("1", "intake"): pytest.approx(1 - 10 * 249.08891 / room, rel=1e-12),
        ("2", "intake"): pytest.approx(1 - 25 * 249.08891 / room, rel=1e-12),
        ("3", "exhaust"): pytest.approx(98.71 / (98.71 + 7.2), rel=1e-12),
    }


def test_json_has_the_keys_and_figures_of_reduce(run: Run, tests) -> None:
    intake = tests[0]
    answer = json.loads(run("simulation", intake, "--json").stdout)
    reduced = json.loads(run("reduce", intake, "--json").stdout)
    (test,) = answer["tests"]
    for key in ("title", "side", "stage", "air_density", "mean_flow"):
        assert test[key] == reduced[key]
    for point, own in zip(test["points"], reduced["points"], strict=True):
        assert point.items() >= own.items()
    assert answer["not_tested"] == [
        {"side": "intake", "direction": "out of cylinder"},
        {"side": "exhaust", "direction": "into cylinder"},
        {"side": "exhaust", "direction": "out of cylinder"},
    ]


def test_the_archive_defines_every_column_and_says_what_was_not_tested(
    run: Run, tests, tmp_path
) -> None:
    file = tmp_path / "port.zip"
    assert run("simulation", *tests, "--out", file).returncode == 0
    with zipfile.ZipFile(file) as archive:
        assert archive.testzip() is None
        texts = {name: archive.read(name).decode() for name in archive.namelist()}
    assert set(texts) == {"README.txt", "effective-area.csv", "tests.json"}
    rows = table(texts["effective-area.csv"])
    # RFC 4180: every row ends in CRLF, and has as many fields as the headings.
    assert texts["effective-area.csv"].count("\r\n") == len(rows) + 1 == 20
    assert all(None not in row and None not in row.values() for row in rows)
    readme = " ".join(texts["README.txt"].split())
    for name in rows[0]:
        assert f"{name}: " in readme, name
    assert "A ÷ (π D L × number of valves)" in readme
    assert "intake, out of cylinder: not tested" in readme
    assert "hold the effective area of a lift constant" in readme
    points = [
        point for test in json.loads(texts["tests.json"])["tests"] for point in test["points"]
    ]
    areas = [point["effective_area"] for point in points]
    assert [float(row["effective_area_mm2"]) * MM2 for row in rows] == pytest.approx(areas)


def test_a_result_that_cannot_be_had_is_an_empty_cell_and_null(run: Run) -> None:
    nozzle = DATA / "isentropic-nozzle.toml"
    (row,) = table(run("simulation", nozzle).stdout)
    (test,) = json.loads(run("simulation", nozzle, "--json").stdout)["tests"]
    for name in ("cd_least_area", "cd_throat", "cd_seat"):
        assert row[name] == ""
        assert test["points"][0][name] is None
    assert row["effective_area_expanded_uncertainty_mm2"] == ""


def test_bad_files_are_named_and_nothing_is_written(run: Run, tests, tmp_path) -> None:
    wrong = write_session(tmp_path, INTAKE_US.replace("29.41 inHg", "29.41"), "wrong.toml")
    out = tmp_path / "out.csv"
    answer = run("simulation", tests[0], wrong, "--out", out)
    assert answer.returncode == 2
    assert "wrong.toml: air.barometer: " in answer.stderr
    assert not out.exists()
    answer = run("simulation", tests[0], "--out", tmp_path / "out.xls")
    assert answer.returncode == 1
    assert "ends neither in .json nor in .zip nor in .csv" in answer.stderr
