"""A calibration by points and the uncertainties of sizes, as a session file has them."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from shopflow import testfile
from shopflow.calc.reduction import reduce
from shopflow.errors import ValidationError
from tests.cli.sessions import INTAKE_US, METERED, PERCENT

CFM = 0.3048**3 / 60.0
KEYS = {
    "calibration_factor": "1.0",
    "calibration_model": '"line"',
    "calibration_reading_unit": '"cfm"',
    "calibration_readings": "[10, 50.0, 120, 200]",
    "calibration_flow_unit": '"cfm"',
    "calibration_flows": "[9.9, 50.3, 121.2, 202.5]",
    "calibration_uncertainties": "[2.0, 1.0, 1.0, 1.20]",
}


def with_points(text: str = INTAKE_US, /, **changed: str | None) -> str:
    """A session file with a calibration by points, some of its keys otherwise or left out."""
    lines = [line for line in text.splitlines() if not line.startswith("calibration_factor")]
    keys = KEYS | changed
    added = [f"{name} = {value}" for name, value in keys.items() if value is not None]
    place = lines.index("[bench]") + 1
    return "\n".join([*lines[:place], *added, *lines[place:]])


def faults(text: str) -> dict[str, str]:
    with pytest.raises(ValidationError) as caught:
        testfile.loads(text)
    return {fault.key: fault.message for fault in caught.value.faults}


def test_points_are_kept_to_the_last_digit_as_typed() -> None:
    document = testfile.loads(with_points())
    assert document.calibration_uncertainties == tuple(map(Decimal, ("2.0", "1.0", "1.0", "1.20")))
    text = testfile.dumps(document)
    assert "calibration_readings = [10, 50.0, 120, 200]" in text
    assert "calibration_uncertainties = [2.0, 1.0, 1.0, 1.20]" in text
    assert testfile.loads(text) == document


def test_the_points_correct_every_reading() -> None:
    """Points on a line of slope 1.02 through nothing: the same as a factor of 1.02."""
    line = with_points(calibration_flows="[10.2, 51, 122.4, 204]")
    factor = with_points(**dict.fromkeys(KEYS, None)).replace(
        "[bench]", "[bench]\ncalibration_factor = 1.02"
    )
    by_points, by_factor = (reduce(testfile.loads(text).flow_test()) for text in (line, factor))
    assert by_points.flow.tolist() == pytest.approx(by_factor.flow.tolist(), rel=1e-12)
    assert by_points.effective_area == pytest.approx(by_factor.effective_area, rel=1e-12)


def test_a_line_is_what_runs_through_points_unless_said_otherwise() -> None:
    stated, bare = with_points(), with_points(calibration_model=None)
    assert (
        reduce(testfile.loads(stated).flow_test()).flow.tolist()
        == reduce(testfile.loads(bare).flow_test()).flow.tolist()
    )


def test_points_in_percent_stand_for_flows_of_the_range() -> None:
    text = with_points(
        PERCENT, calibration_reading_unit='"%"', calibration_readings="[10, 40, 70, 100]"
    )
    document = testfile.loads(text)
    curve = document.calibration_curve
    assert curve is not None
    assert document.range is not None
    assert curve.span == pytest.approx((0.1 * document.range.si, document.range.si))


REFUSED: dict[str, tuple[dict[str, str | None], str, str]] = {
    "flows missing": ({"calibration_flows": None}, "calibration_flows", "missing"),
    "unit missing": ({"calibration_reading_unit": None}, "calibration_reading_unit", "missing"),
    "only a model": (
        dict.fromkeys(KEYS, None) | {"calibration_model": '"cubic"'},
        "calibration_readings",
        "calibration_model needs it",
    ),
    "another number of flows": (
        {"calibration_flows": "[1, 2, 3]"},
        "calibration_flows",
        "3 values for 4 readings",
    ),
    "not rising": (
        {"calibration_readings": "[10, 60, 50, 200]"},
        "calibration_readings[3]",
        "row 3: 50 is not above the reading before it, 60",
    ),
    "nothing read": (
        {"calibration_readings": "[0, 50, 120, 200]"},
        "calibration_readings[1]",
        "row 1: 0 is not above 0",
    ),
    "negative flow": (
        {"calibration_flows": "[9.9, -50.3, 121.2, 202.5]"},
        "calibration_flows[2]",
        "row 2: -50.3 is not above 0",
    ),
    "no uncertainty": (
        {"calibration_uncertainties": "[2, 1, 0, 1]"},
        "calibration_uncertainties[3]",
        "row 3: 0 is not above 0",
    ),
    "above 100 %": (
        {"calibration_uncertainties": "[2, 1, 101, 1]"},
        "calibration_uncertainties[3]",
        "row 3: 101 is above 100 %",
    ),
    "a text": (
        {"calibration_readings": '[10, "50", 120, 200]'},
        "calibration_readings",
        "row 2: '50' is not a number",
    ),
    "no array": ({"calibration_flows": "12"}, "calibration_flows", "must be an array of numbers"),
    "not a number": ({"calibration_flows": "[nan, 1, 2, 3]"}, "calibration_flows", "row 1: NaN"),
    "a factor beside": ({"calibration_factor": "1.02"}, "calibration_factor", "must be 1"),
    "another model": (
        {"calibration_model": '"quadratc"'},
        "calibration_model",
        "did you mean 'quadratic'",
    ),
    "percent of nothing": (
        {"calibration_reading_unit": '"%"'},
        "calibration_reading_unit",
        "percent of range",
    ),
    "flow in percent": ({"calibration_flow_unit": '"%"'}, "calibration_flow_unit", "is no flow"),
    "too few": (
        {
            "calibration_readings": "[10, 50]",
            "calibration_flows": "[10, 50]",
            "calibration_uncertainties": "[1, 1]",
        },
        "calibration_readings",
        "a straight line needs 3 points or more",
    ),
    "falling": (
        {"calibration_flows": "[202, 150, 80, 20]"},
        "calibration_readings",
        "does not rise all the way",
    ),
    "too many": (
        {
            name: f"[{', '.join(str(place) for place in range(1, 52))}]"
            for name in KEYS
            if name.endswith(("readings", "flows", "uncertainties"))
        },
        "calibration_readings",
        "at most 50 points",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_is_refused_at_its_key_and_row(case: str) -> None:
    changed, key, words = REFUSED[case]
    answer = faults(with_points(**changed))
    assert words in answer[f"bench.{key}"]


def test_a_pressure_difference_is_calibrated_by_the_flow_it_gave() -> None:
    answer = faults(with_points(METERED, calibration_reading_unit='"%"'))
    assert "bench.calibration_reading_unit" in answer
    document = testfile.loads(with_points(METERED))
    assert reduce(document.flow_test()).test.fitted is not None


SIZES = {
    "head_diameter": '"0.02 mm"', "stem_diameter": '"0.0004 in"', "seat_angle": '"0.5 deg"',
    "seat_width": '"0.1 mm"', "throat_diameter": '"0.20 mm"', "port_area": '"0.02 in2"',
}  # fmt: skip


def with_sizes(**stated: str) -> str:
    lines = [f"{name} = {value}" for name, value in stated.items()]
    return INTAKE_US.replace("[uncertainty]", "\n".join(["[uncertainty]", *lines]))


def test_uncertainties_of_sizes_are_kept_as_typed() -> None:
    document = testfile.loads(with_sizes(**SIZES))
    assert str(document.u_throat_diameter) == "0.20 mm"
    assert testfile.loads(testfile.dumps(document)) == document
    stated: Any = document.flow_test().uncertainty
    assert stated.stem_diameter == pytest.approx(0.0004 * 0.0254)
    bare = testfile.loads(INTAKE_US).flow_test().uncertainty
    assert bare.head_diameter is None


@pytest.mark.parametrize(
    ("stated", "key", "words"),
    [
        ({"head_diameter": '"-1 mm"'}, "head_diameter", "below 0"),
        ({"head_diameter": '"80 mm"'}, "head_diameter", "is not smaller than the size"),
        ({"seat_angle": '"1 mm"'}, "seat_angle", "mm"),
        ({"port_area": "0.1"}, "port_area", "a number and its unit in quotes"),
    ],
)
def test_an_uncertainty_of_a_size_that_cannot_be_is_refused(
    stated: dict[str, str], key: str, words: str
) -> None:
    assert words in faults(with_sizes(**stated))[f"uncertainty.{key}"]


def test_an_uncertainty_goes_with_a_size_that_is_there() -> None:
    text = with_sizes(throat_diameter='"0.1 mm"', port_area='"0.02 in2"')
    gone = ("stem_diameter", "seat_", 'throat_diameter = "1', "area =")
    bare = "\n".join(line for line in text.splitlines() if not line.startswith(gone))
    answer = faults(bare)
    assert "only with valve.throat_diameter" in answer["uncertainty.throat_diameter"]
    assert "only with port.area" in answer["uncertainty.port_area"]
