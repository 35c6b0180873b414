"""`shopflow reduce` and `compare` against the independent computation in tests/oracle."""

from __future__ import annotations

import itertools
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from shopflow.cli import main
from tests.cli.conftest import Run
from tests.cli.sessions import (
    AFTER_US,
    ALL,
    EXHAUST_SI,
    INTAKE_US,
    ONE_LIFT,
    PERCENT,
    PERCENT_LATER,
    RESTRICTION,
    RESTRICTION_HIGH,
    STATED_ONE,
    STATED_US,
    STATED_US_LATER,
)
from tests.oracle import areas as oracle_areas
from tests.oracle import session as oracle

PUSHED = 1e-6
AGREEMENT = 1e-9
"""Two orders of the same double-precision arithmetic differ by a few units in the last place."""

POINT_KEYS = [
    "lift", "lift_over_diameter", "runs", "flow", "flow_expanded_uncertainty", "mass_flow",
    "effective_area", "cd_curtain", "cd_head", "cd_least_area", "velocity", "kinetic_energy_flux",
    "effective_area_expanded_uncertainty", "flow_as_tested", "flow_isentropic", "choked",
]  # fmt: skip
COMPARED_KEYS = [
    "lift",
    "before",
    "after",
    "gain",
    "gain_percent",
    "gain_expanded_uncertainty",
    "significant",
]
AREA_KEYS = [
    "effective_area_before",
    "effective_area_after",
    "area_gain_percent",
    "area_gain_expanded_uncertainty_percent",
    "verdict",
]
MEAN_KEYS = [
    "mean_area_gain_percent", "mean_area_gain_expanded_uncertainty_percent", "mean_verdict",
]  # fmt: skip


def agrees(number: Any, wanted: Any, *, rel: float, abs: float | None = None) -> bool:
    """True where two values are the same, or both are absent."""
    if wanted is None or isinstance(wanted, bool):
        return number is wanted
    if isinstance(wanted, str):
        return bool(number == wanted)
    return bool(number == pytest.approx(wanted, rel=rel, abs=abs))


def write_session(folder: Path, text: str, name: str = "session.toml") -> Path:
    """A session file."""
    path = folder / name
    path.write_text(text)
    return path


@pytest.mark.parametrize("text", ALL.values(), ids=ALL.keys())
def test_reduce_agrees_with_an_independent_computation(
    shopflow: Run, tmp_path: Path, text: str
) -> None:
    path = write_session(tmp_path, text)
    done = shopflow("reduce", path, "--json")
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    expected = oracle.Session(path)
    assert list(document) == [
        "schema",
        "title",
        "side",
        "stage",
        "air_density",
        "mean_flow",
        "points",
    ]
    assert document["air_density"] == pytest.approx(expected.density, rel=AGREEMENT)
    assert document["mean_flow"] == pytest.approx(expected.mean_flow, rel=AGREEMENT)
    assert len(document["points"]) == len(expected.points)
    for point, wanted in zip(document["points"], expected.points, strict=True):
        assert list(point) == POINT_KEYS
        for key in POINT_KEYS:
            # An uncertainty comes of central differences on both sides.
            near = PUSHED if key == "effective_area_expanded_uncertainty" else AGREEMENT
            assert agrees(point[key], wanted[key], rel=near), key


THREE_LIFTS = ONE_LIFT.replace("[10]", "[9, 10, 11]").replace("171.0]", "160], [170], [173]")
PAIRS = {
    "one calibration, other lifts": (INTAKE_US, AFTER_US),
    "one calibration, percent of range": (PERCENT, PERCENT_LATER),
    "no calibration in common": (INTAKE_US, AFTER_US.replace("N-7", "N-8")),
    "no calibration named": (
        INTAKE_US.replace('calibration_id = "N-7"\n', ""),
        AFTER_US.replace('calibration_id = "N-7"\n', ""),
    ),
    "one lift after many": (INTAKE_US, ONE_LIFT),
    "many lifts after one": (ONE_LIFT, THREE_LIFTS),
    "other sides": (EXHAUST_SI, INTAKE_US),
    "all stated": (STATED_US, STATED_US_LATER),
    "all stated, one lift": (STATED_US, STATED_ONE),
    "a restriction at two altitudes": (RESTRICTION, RESTRICTION_HIGH),
    "an input half stated": (STATED_US, STATED_US_LATER.replace('density = "0.4 %"\n', "")),
    "a division half stated": (STATED_US, STATED_US_LATER.replace('resolution = "0.5 cfm"\n', "")),
    "nothing in common": (ONE_LIFT, ONE_LIFT.replace("[10]", "[11]")),
}  # fmt: skip


@pytest.mark.parametrize(("before", "after"), PAIRS.values(), ids=PAIRS.keys())
def test_compare_agrees_with_an_independent_computation(
    shopflow: Run, tmp_path: Path, before: str, after: str
) -> None:
    first = write_session(tmp_path, before, "before.toml")
    second = write_session(tmp_path, after, "after.toml")
    done = shopflow("compare", first, second, "--json")
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    expected = oracle.compare(oracle.Session(first), oracle.Session(second))
    areas = oracle_areas.compare(oracle_areas.Areas(first), oracle_areas.Areas(second))
    set_up = ["set_up_differences", "set_ups_meant"]
    assert list(document) == ["points", "mean_gain_percent", *MEAN_KEYS, *set_up]
    for key in MEAN_KEYS:
        assert agrees(document[key], areas[key], rel=PUSHED, abs=PUSHED), key
    assert agrees(document["mean_gain_percent"], expected["mean_gain_percent"], rel=1e-7, abs=1e-7)
    assert len(document["points"]) == len(expected["points"])
    for point, wanted in zip(document["points"], areas["points"], strict=True):
        for key in AREA_KEYS:
            assert agrees(point[key], wanted[key], rel=PUSHED, abs=PUSHED), key
    for point, wanted in zip(document["points"], expected["points"], strict=True):
        assert list(point) == COMPARED_KEYS + AREA_KEYS
        for key in COMPARED_KEYS:
            # A gain is a small difference of large flows: the flows' agreement bounds its own.
            slack = AGREEMENT * wanted["after"] if key == "gain" else 1e-7
            assert agrees(point[key], wanted[key], rel=AGREEMENT, abs=slack), key


def test_every_pair_of_sides_and_pressures_is_told_apart(shopflow: Run, tmp_path: Path) -> None:
    first = write_session(tmp_path, EXHAUST_SI, "before.toml")
    stated_at_10 = '[bench]\nreference_pressure = "10 inH2O"'
    second = write_session(tmp_path, INTAKE_US.replace("[bench]", stated_at_10), "after.toml")
    done = shopflow("compare", first, second)
    assert "exhaust side is compared with an intake side" in done.stderr
    assert "does not compare like values" in done.stderr


def test_the_table_is_readable_and_names_its_units(shopflow: Run, tmp_path: Path) -> None:
    """Lifts as typed, flows in their unit; by hand 140.75 − 0.8 cfm, x 1.013 x sqrt(28/25)."""
    done = shopflow("reduce", write_session(tmp_path, INTAKE_US))
    assert done.returncode == 0
    title, named, _, heads, units, *rows = done.stdout.splitlines()
    assert title == "Cylinder 2"
    assert named == "as received · intake, air drawn in"
    assert " ".join(heads.split()) == (
        "Lift L/D Runs As tested ± Isentropic Root Eff. area ± Cd Cd Cd Velocity Energy"
    )
    assert " ".join(units.split()) == ("in cfm cfm cfm cfm in² in² curtain head least ft/s W")
    assert [row.split()[0] for row in rows[:6]] == ["0.05", "0.1", "0.2", "0.3", "0.4", "0.45"]
    assert (rows[3].split()[2], rows[3].split()[6]) == ("2", "150.0")
    assert "Root: at 28 inH₂O by the root of the pressures, a convention" in done.stdout
    assert "As tested: at 25 inH₂O" in done.stdout
    compared = shopflow(
        "compare", write_session(tmp_path, INTAKE_US), write_session(tmp_path, AFTER_US, "b.toml")
    )
    assert "Before: Cylinder 2 · intake" in compared.stdout
    assert "in effective area, 0.06 to 0.45 in: " in compared.stdout
    assert "Flow: through the effective area at 28 inH₂O, in air of 1.204 kg/m³" in compared.stdout


WITHOUT_RANGE = '[bench]\nreading = "percent of range"'
ON_PERCENT = f'{WITHOUT_RANGE}\nrange = "400 cfm"'
NO_REASON = "[[excluded]]\nlift = 0.05\nrun = 1\nflow = 20\n[readings]"
NO_PLACE = NO_REASON.replace("run = 1", 'run = 4\nreason = "slipped"')

# What is refused: the change made to a good file, and the key the fault must name.
REFUSED = {
    "an unknown key": ('title = "Cylinder 2"', 'titel = "x"', "titel"),
    "an unknown key in a table": ('humidity = "48 %"', 'humidty = "48 %"', "air.humidty"),
    "an unknown table": ("[port]", "[prot]", "prot"),
    "schema missing": ("schema = 1", "", "schema"),
    "another schema": ("schema = 1", "schema = 2", "schema"),
    "schema as a boolean": ("schema = 1", "schema = true", "schema"),
    "side missing": ('side = "intake"', "", "side"),
    "side unknown": ('"intake"', '"inlet"', "side"),
    "barometer missing": ('barometer = "29.41 inHg"', "", "air.barometer"),
    "temperature missing": ('temperature = "71.5 degF"', "", "air.temperature"),
    "head diameter missing": ('head_diameter = "1.732 in"', "", "valve.head_diameter"),
    "test pressure missing": ('test_pressure = "25 inH2O"', "", "bench.test_pressure"),
    "lift unit missing": ('lift_unit = "in"', "", "readings.lift_unit"),
    "flow unit missing": ('flow_unit = "cfm"', "", "readings.flow_unit"),
    "a bare number for a quantity": ('"29.41 inHg"', "29.41", "air.barometer"),
    "a number for a text": ('"Cylinder 2"', "2", "title"),
    "a boolean for a quantity": ('"48 %"', "true", "air.humidity"),
    "a date for a moment": ('title = "Cylinder 2"', "measured_at = 2026-01-01", "measured_at"),
    "a text for the factor": ("1.013", '"1.013"', "bench.calibration_factor"),
    "a table for a value": ('"29.41 inHg"', "{a = 1}", "air.barometer"),
    "a value for a table": ('[port]\narea = "1.72 in2"', "[bench.port]", "bench.port"),
    "a boolean among readings": ("[47.8]", "[true]", "readings.flow[2]"),
    "a text among readings": ("[47.8]", '["47.8"]', "readings.flow[2]"),
    "a text among lifts": ("[0.05, 0.1", '[0.05, "0.1"', "readings.lift[2]"),
    "an unknown unit": ("29.41 inHg", "29.41 torr", "air.barometer"),
    "a scale's density on no restriction": (
        "[bench]", '[bench]\nscale_density = "1.2 kg/m3"', "bench.scale_density"
    ),
    "a scale's density of nothing": (
        "[bench]", '[bench]\nmeter = "restriction"\nscale_density = "0 kg/m3"',
        "bench.scale_density",
    ),
    "a scale's density in another unit": (
        "[bench]", '[bench]\nmeter = "restriction"\nscale_density = "0.075 lb/ft3"',
        "bench.scale_density",
    ),
    "a gauge that is no text": ("[bench]", "[bench]\ngauge_id = 4", "bench.gauge_id"),
    "a division in percent on a flow scale": (
        "[uncertainty]", '[uncertainty]\nresolution = "0.5 %"', "uncertainty.resolution"
    ),
    "a division below nothing": (
        "[uncertainty]", '[uncertainty]\nresolution = "-0.5 cfm"', "uncertainty.resolution"
    ),
    "a leakage's uncertainty as a pressure": (
        "[uncertainty]", '[uncertainty]\nleakage = "3 Pa"', "uncertainty.leakage"
    ),
    "a leakage's uncertainty in percent": (
        "[uncertainty]", '[uncertainty]\nleakage = "1 %"', "uncertainty.leakage"
    ),
    "a density's uncertainty as a density": (
        "[uncertainty]", '[uncertainty]\ndensity = "0.01 kg/m3"', "uncertainty.density"
    ),
    "an altitude in another unit": (
        "[air]", '[air]\naltitude = "160000 cm"', "air.altitude"
    ),
    "an altitude of no shop": ("[air]", '[air]\naltitude = "16000 m"', "air.altitude"),
    "a unit of something else": ("29.41 inHg", "29.41 mm", "air.barometer"),
    "a unit not of this format": ("29.41 inHg", "0.996 bar", "air.barometer"),
    "an unknown unit of the readings": ('"cfm"', '"CFM"', "readings.flow_unit"),
    "no unit": ("29.41 inHg", "29.41", "air.barometer"),
    "no number": ("29.41 inHg", "inHg", "air.barometer"),
    "nan": ("[47.8]", "[nan]", "readings.flow[2]"),
    "infinity": ("[47.8]", "[inf]", "readings.flow[2]"),
    "nan in a quantity": ("29.41 inHg", "nan inHg", "air.barometer"),
    "a number beyond what a float holds": ("29.41 inHg", "1e400 inHg", "air.barometer"),
    "a reading beyond what a float holds": ("[47.8]", "[1e400]", "readings.flow[2]"),
    "no barometer pressure": ("29.41 inHg", "0 inHg", "air.barometer"),
    "temperature at absolute zero": ("71.5 degF", "-459.67 degF", "air.temperature"),
    "temperature below absolute zero": ("71.5 degF", "-300 degC", "air.temperature"),
    "humidity above all": ("48 %", "100.5 %", "air.humidity"),
    "humidity below none": ("48 %", "-1 %", "air.humidity"),
    "no test pressure": ("25 inH2O", "0 inH2O", "bench.test_pressure"),
    "test pressure negative": ("25 inH2O", "-25 inH2O", "bench.test_pressure"),
    "test pressure at the barometer": ("25 inH2O", "29.41 inHg", "bench.test_pressure"),
    "factor zero": ("1.013", "0", "bench.calibration_factor"),
    "factor negative": ("1.013", "-1.0", "bench.calibration_factor"),
    "leakage negative": ("0.8 cfm", "-0.8 cfm", "bench.leakage"),
    "uncertainty negative": ('"1.2 %"', '"-1.2 %"', "uncertainty.calibration"),
    "head diameter zero": ("1.732 in", "0 in", "valve.head_diameter"),
    "stem as large as the head": ("0.2750 in", "1.732 in", "valve.stem_diameter"),
    "throat as large as the head": ("1.530 in", "1.732 in", "valve.throat_diameter"),
    "throat no larger than the stem": ("1.530 in", "0.2 in", "valve.throat_diameter"),
    "seat angle too flat": ("45 deg", "0.9 deg", "valve.seat_angle"),
    "seat angle too steep": ("45 deg", "89.1 deg", "valve.seat_angle"),
    "seat wider than the valve": ("0.060 in", "1.4 in", "valve.seat_width"),
    "seat geometry in part": ('seat_width = "0.060 in"\n', "", "valve.seat_width"),
    "valve count zero": ("[valve]", "[valve]\ncount = 0", "valve.count"),
    "valve count a fraction": ("[valve]", "[valve]\ncount = 1.5", "valve.count"),
    "valve count a boolean": ("[valve]", "[valve]\ncount = true", "valve.count"),
    "port area zero": ("1.72 in2", "0 in2", "port.area"),
    "lift zero": ("[0.05, 0.1", "[0, 0.1", "readings.lift[1]"),
    "lift negative": ("[0.05, 0.1", "[-0.05, 0.1", "readings.lift[1]"),
    "lifts not increasing": ("[0.05, 0.1", "[0.1, 0.1", "readings.lift[2]"),
    "lifts decreasing": ("0.4, 0.45]", "0.4, 0.35]", "readings.lift[6]"),
    "a row missing": ("[[23.5, 23.9], ", "[", "readings.flow"),
    "a lift without a run": ("[47.8]", "[]", "readings.flow[2]"),
    "a row that is no array": ("[47.8]", "47.8", "readings.flow[2]"),
    "no lifts": ("[0.05, 0.1, 0.2, 0.3, 0.4, 0.45]", "[]", "readings.lift"),
    "a negative reading": ("[47.8]", "[-47.8]", "readings.flow[2]"),
    "leakage at a reading": ("0.8 cfm", "47.8 cfm", "readings.flow[2]"),
    "leakage above a reading": ("0.8 cfm", "30 cfm", "readings.flow[1]"),
    "percent readings on a flow bench": ('= "cfm"', '= "%"', "readings.flow_unit"),
    "flow readings on a percent bench": ("[bench]", ON_PERCENT, "readings.flow_unit"),
    "percent of range without the range": ("[bench]", WITHOUT_RANGE, "bench.range"),
    "an unknown kind of reading": ("[bench]", '[bench]\nreading = "knots"', "bench.reading"),
    "leakage in percent on a flow bench": ("0.8 cfm", "0.8 %", "bench.leakage"),
    "an excluded run without a reason": ("[readings]", NO_REASON, "excluded[1]"),
    "an excluded run where there was none": ("[readings]", NO_PLACE, "excluded[1]"),
    "a moment out of the calendar": (
        'title = "Cylinder 2"', "measured_at = 0001-01-01T00:00:00+14:00", "measured_at"
    ),
    "air without a density": ("71.5 degF", "1e9 degF", "air"),
}  # fmt: skip


@pytest.mark.parametrize(("old", "new", "key"), REFUSED.values(), ids=REFUSED.keys())
def test_what_cannot_be_is_refused_at_its_key(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, old: str, new: str, key: str
) -> None:
    assert old in INTAKE_US
    path = write_session(tmp_path, INTAKE_US.replace(old, new, 1))
    assert main(["reduce", str(path), "--json"]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert any(line.startswith(f"{key}:") for line in printed.err.splitlines()), printed.err


def test_every_fault_is_reported_in_one_go(shopflow: Run, tmp_path: Path) -> None:
    text = INTAKE_US
    for old, new in (
        ("45 deg", "95 deg"),
        ("48 %", "148 %"),
        ("[47.8]", "[-1]"),
        ("title", "tilte"),
    ):
        text = text.replace(old, new)
    done = shopflow(
        "compare", write_session(tmp_path, text), write_session(tmp_path, text, "other.toml")
    )
    assert done.returncode == 2
    assert done.stdout == ""
    for name, key in itertools.product(
        ("session.toml", "other.toml"),
        ("valve.seat_angle", "air.humidity", "readings.flow[2]", "tilte"),
    ):
        assert f"{name}: {key}: " in done.stderr


def test_a_fault_in_a_row_names_the_row_and_its_lift(shopflow: Run, tmp_path: Path) -> None:
    done = shopflow("reduce", write_session(tmp_path, INTAKE_US.replace("[47.8]", "[-1]")))
    assert "row 2 (lift 0.1 in), run 1: negative reading -1" in done.stderr


UNREADABLE = {
    "not TOML": b"schema = = 1",
    "not UTF-8": b'title = "\xff\xfe"',
    "nested too deeply": b"a = " + b"[" * 100_000,
    "a number too long to convert": b"schema = " + b"9" * 10_000,
    "empty": b"",
    "binary": bytes(range(256)),
    "a flood": b"#" * 3_000_000,
}


@pytest.mark.parametrize("content", UNREADABLE.values(), ids=UNREADABLE.keys())
def test_what_cannot_be_read_is_refused_in_words(
    shopflow: Run, tmp_path: Path, content: bytes
) -> None:
    path = tmp_path / "session.toml"
    path.write_bytes(content)
    done = shopflow("reduce", path)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.strip()
    assert "Traceback" not in done.stderr


def test_a_missing_file_and_a_folder_are_refused(shopflow: Run, tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path):
        done = shopflow("reduce", path)
        assert done.returncode == 2
        assert "cannot be read" in done.stderr


DOUBTFUL = {
    "air outside the formula's range": ("71.5 degF", "95 degF", "15 to 27 °C"),
    "a coefficient above 1": ("[[23.5, 23.9]", "[[43.5, 43.9]", "least valve area is 1."),
    "repeats that differ": ("[140.5, 141.0]", "[140.5, 149.0]", "lift 0.3 in: the repeats differ"),
    "a reading out of line": ("[140.5, 141.0]", "[112.0, 112.5]", "0.3 in: the flow is out of"),
    "a lift too deep": ("0.4, 0.45]", "0.4, 0.85]", "0.49 of the valve's diameter"),
}  # fmt: skip


@pytest.mark.parametrize(("old", "new", "words"), DOUBTFUL.values(), ids=DOUBTFUL.keys())
def test_what_looks_wrong_is_a_warning_and_changes_nothing(
    shopflow: Run, tmp_path: Path, old: str, new: str, words: str
) -> None:
    done = shopflow("reduce", write_session(tmp_path, INTAKE_US.replace(old, new, 1)), "--json")
    assert done.returncode == 0
    assert json.loads(done.stdout)["points"]
    assert done.stderr.startswith("warning: ")
    assert words in done.stderr


def test_ordinary_curves_raise_no_warning(shopflow: Run, tmp_path: Path) -> None:
    for text in (INTAKE_US, AFTER_US, EXHAUST_SI, PERCENT):
        assert shopflow("reduce", write_session(tmp_path, text)).stderr == ""


def test_neither_the_web_nor_the_database_is_loaded(tmp_path: Path) -> None:
    path = write_session(tmp_path, INTAKE_US)
    program = (
        "import sys; from shopflow.cli import main; main(sys.argv[1:]);"
        "heavy = {'flask', 'sqlalchemy', 'reportlab', 'alembic'} & set(sys.modules);"
        "sys.exit(f'loaded {heavy}' if heavy else 0)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, "reduce", str(path)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
