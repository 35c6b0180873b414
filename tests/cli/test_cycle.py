"""`shopflow cycle`: its figures in full, what it shows, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Run
from tests.cli.sessions import EXHAUST_SI, INTAKE_US
from tests.cli.test_numbers import write_session
from tests.unit.camfile.documents import CAM

STRAIGHT = """
schema = 1
side = "intake"
[air]
barometer = "101325 Pa"
temperature = "20 degC"
[valve]
head_diameter = "40 mm"
[bench]
test_pressure = "28 inH2O"
[readings]
lift_unit = "mm"
flow_unit = "L/s"
lift = [1, 12]
flow = [[6], [72]]
"""
"""Flow, and so area, in proportion to lift."""


@pytest.fixture
def files(tmp_path: Path) -> dict[str, Path]:
    texts = {"cam": CAM, "intake": INTAKE_US, "exhaust": EXHAUST_SI, "straight": STRAIGHT}
    return {name: write_session(tmp_path, text, f"{name}.toml") for name, text in texts.items()}


def answer(run: Run, *arguments: object) -> dict[str, Any]:
    done = run("cycle", *arguments, "--json")
    assert done.returncode == 0, done.stderr
    document: dict[str, Any] = json.loads(done.stdout)
    return document


def test_the_json_has_every_key_of_both_sides(run: Run, files: dict[str, Path]) -> None:
    result = answer(run, files["cam"], "--intake", files["intake"], "--exhaust", files["exhaust"])
    side = {
        "opens", "closes", "max_lift", "area_integral", "mean_effective_area", "time_area",
        "share_beyond_test",
    }  # fmt: skip
    assert set(result["intake"]) == side
    assert set(result["exhaust"]) == side | {"blowdown_area_integral"}
    assert result["overlap_area_integral"] > 0.0
    assert result["mach_index"] > 0.0
    assert result["exhaust"]["blowdown_area_integral"] > 0.0
    assert (result["intake"]["opens"], result["intake"]["closes"]) == (-32.0, 248.0)
    assert result["exhaust"]["closes"] < 7.5


def test_area_in_proportion_to_lift_is_half_the_greatest(run: Run, files: dict[str, Path]) -> None:
    """9 mm of 12: the mean is 4.5/12 of the area at the last lift."""
    last = json.loads(run("reduce", files["straight"], "--json").stdout)["points"][-1]
    result = answer(run, files["cam"], "--intake", files["straight"])["intake"]
    assert result["mean_effective_area"] == pytest.approx(
        last["effective_area"] * 4.5 / 12.0, rel=1e-8
    )
    assert result["time_area"] == pytest.approx(result["area_integral"] / (360 * 6500 / 60))
    assert result["share_beyond_test"] == 0.0


def test_what_cannot_be_had_is_null(run: Run, files: dict[str, Path]) -> None:
    result = answer(run, files["cam"], "--intake", files["intake"])
    assert result["exhaust"]["area_integral"] is None
    assert result["exhaust"]["share_beyond_test"] is None
    assert result["overlap_area_integral"] is None
    files["cam"].write_text(CAM.partition("[exhaust]")[0])
    assert answer(run, files["cam"], "--intake", files["intake"])["exhaust"] is None


def test_the_intake_s_air_is_the_cam_s_or_else_the_test_s(run: Run, files: dict[str, Path]) -> None:
    """By the root of 298.15 K over 293.15 K."""
    values = answer(run, files["cam"], "--intake", files["straight"])["mach_index"]
    files["cam"].write_text(CAM.replace('intake_temperature = "25 degC"\n', ""))
    tested = answer(run, files["cam"], "--intake", files["straight"])["mach_index"]
    assert tested / values == pytest.approx((298.15 / 293.15) ** 0.5, rel=1e-12)


def test_the_table_names_the_stand_in_and_what_is_beyond_the_test(
    run: Run, files: dict[str, Path]
) -> None:
    files["cam"].write_text(CAM.replace('"9.00 mm"', '"14 mm"'))
    done = run("cycle", files["cam"], "--intake", files["intake"], "--exhaust", files["exhaust"])
    assert done.returncode == 0
    assert "The intake lobe is a stand-in" in done.stdout
    assert "The exhaust lobe" not in done.stdout
    assert "0.5 (JSME" in done.stdout
    lines = [line.split() for line in done.stdout.splitlines()]
    assert [line[0] for line in lines if line and line[0] in ("intake", "exhaust")] == [
        "intake", "exhaust",
    ]  # fmt: skip
    assert "warning: intake: for" in done.stderr
    assert "% of the open period the valve is above the last lift tested, 0.45 in" in done.stderr


REFUSED = {
    "a cam with faults": ({"cam": CAM.replace('"86.4 mm"', "86.4")}, "engine.bore: "),
    "a cam that is no TOML": ({"cam": "schema = "}, "cam.toml: this is not TOML"),
    "an unknown key": ({"cam": CAM.replace("[intake]", "[intake]\nlsh = 1")}, "intake.lsh: "),
    "a test of the other side": ({"intake": EXHAUST_SI}, "intake.toml: side: "),
    "a test with faults": ({"exhaust": EXHAUST_SI.replace("7.2 kPa", "7.2")}, "exhaust.toml: be"),
    "an exhaust without its lobe": ({"cam": CAM.partition("[exhaust]")[0]}, "exhaust: missing"),
    "figures beyond bounds": ({"cam": CAM.replace("86.4 mm", "1e300 m")}, "engine.bore: "),
}


@pytest.mark.parametrize("name", REFUSED)
def test_each_refusal_is_a_line_a_fault_and_nothing_else(
    run: Run, files: dict[str, Path], name: str
) -> None:
    texts, line = REFUSED[name]
    for which, text in texts.items():
        files[which].write_text(text)
    for json_too in ((), ("--json",)):
        done = run(
            "cycle", files["cam"], "--intake", files["intake"], "--exhaust", files["exhaust"],
            *json_too,
        )  # fmt: skip
        assert done.returncode == 2
        assert done.stdout == ""
        assert any(line in output for output in done.stderr.splitlines())
        assert all(": " in line for line in done.stderr.splitlines())


def test_faults_of_all_files_come_in_one_go(run: Run, files: dict[str, Path]) -> None:
    files["cam"].write_text(CAM.replace('"86.4 mm"', "86.4"))
    files["intake"].write_text(INTAKE_US.replace('"25 inH2O"', "25"))
    done = run("cycle", files["cam"], "--intake", files["intake"], "--exhaust", "gone.toml")
    assert done.returncode == 2
    keys = [line.split(": ")[0].rpartition("/")[2] for line in done.stderr.splitlines()]
    assert keys == ["engine.bore", "intake.toml", "gone.toml"]


def test_the_intake_s_test_is_asked_for(run: Run, files: dict[str, Path]) -> None:
    done = run("cycle", files["cam"])
    assert done.returncode == 2
    assert "--intake" in done.stderr
