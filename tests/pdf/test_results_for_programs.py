"""The JSON inside a certificate: by its schema, and read by programs that know nothing of ours."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from jsonschema import Draft202012Validator

from shopflow import papers
from shopflow.documents import machine_readable
from tests.oracle.session import Session
from tests.pdf import samples

BEFORE = samples.session()
AFTER = samples.session(stage="seats and bowls", gain=1.06)
GAIN = replace(
    samples.gain(BEFORE, AFTER), before_file="session-1.toml", after_file="session-2.toml"
)
CERTIFICATE = samples.certificate([BEFORE, AFTER], (GAIN,))
SCHEMA = json.loads(machine_readable.schema())


@pytest.fixture(scope="module")
def attached() -> dict[str, bytes]:
    """The files inside a certificate's PDF."""
    with pikepdf.open(io.BytesIO(papers.flow_certificate(CERTIFICATE))) as pdf:
        return {name: spec.get_file().read_bytes() for name, spec in pdf.attachments.items()}


@pytest.fixture(scope="module")
def content(attached: dict[str, bytes]) -> Any:
    """The JSON among them."""
    return json.loads(attached[f"{CERTIFICATE.number}.json"])


@pytest.mark.source("JSON Schema 2020-12, by jsonschema 4.26")
def test_it_is_as_its_schema_has_it(content: Any) -> None:
    Draft202012Validator.check_schema(SCHEMA)
    validator = Draft202012Validator(SCHEMA, format_checker=Draft202012Validator.FORMAT_CHECKER)
    validator.validate(content)
    wrong = {**content, "tests": [{**content["tests"][0], "air_density": 1.2}]}
    assert not validator.is_valid(wrong)
    assert not validator.is_valid({**content, "surprise": 1})


def test_its_values_are_those_of_an_independent_calculation(
    content: Any, attached: dict[str, bytes], tmp_path: Path
) -> None:
    """From the flow test file that it names, by the oracle, which shares no code with ours."""
    assert len(content["tests"]) == 2
    for test in content["tests"]:
        path = tmp_path / test["file"]
        path.write_bytes(attached[test["file"]])
        again = Session(path)
        columns = {column["key"]: column for column in test["results"]}
        for key in ("lift", "flow_as_tested", "flow_isentropic", "effective_area", "cd_curtain",
                    "cd_head", "mass_flow"):  # fmt: skip
            expected = [point[key] for point in again.points]
            if key in columns:
                assert columns[key]["values"] == pytest.approx(expected, rel=1e-6), key
        assert {"lift", "flow_as_tested", "effective_area", "cd_curtain"} <= set(columns)
        assert columns["effective_area"]["expanded_uncertainties"] == pytest.approx(
            [point["effective_area_expanded_uncertainty"] for point in again.points], rel=1e-3
        )
        assert test["air_density"]["value"] == pytest.approx(again.density, rel=1e-6)


def test_its_gain_is_that_of_the_areas_it_states(content: Any) -> None:
    (gain,) = content["gains"]
    areas = {
        test["file"]: next(row for row in test["results"] if row["key"] == "effective_area")
        for test in content["tests"]
    }
    before, after = areas[gain["before"]]["values"], areas[gain["after"]]["values"]
    stated = [row["gain"]["value"] for row in gain["lifts"]]
    ratios = [later / earlier - 1 for earlier, later in zip(before, after, strict=True)]
    assert stated == pytest.approx(ratios, abs=2e-6)
    assert {row["verdict"] for row in gain["lifts"]} <= {"gain", "no difference shown"}


UNIT = re.compile(r"\\([a-z]+)(?:\\tothe\{(-?\d+)\})?")


@pytest.mark.source("The International System of Units (BIPM, 2019), tables 2 to 5")
@pytest.mark.parametrize(
    ("kind", "dimension"),
    [
        ("", {}),
        ("lift", {"m": 1}),
        ("flow", {"m": 3, "s": -1}),
        ("mass flow", {"kg": 1, "s": -1}),
        ("port area", {"m": 2}),
        ("velocity", {"m": 1, "s": -1}),
        # 1 W = 1 m2 kg s-3
        ("power", {"m": 2, "kg": 1, "s": -3}),
    ],
)
def test_the_units_have_the_dimension_of_their_results(
    kind: str, dimension: dict[str, int]
) -> None:
    base = {
        "one": {}, "metre": {"m": 1}, "second": {"s": 1}, "kilogram": {"kg": 1},
        "watt": {"m": 2, "kg": 1, "s": -3},
    }  # fmt: skip
    total: dict[str, int] = {}
    for name, power in UNIT.findall(machine_readable.UNITS[kind]):
        for symbol, exponent in base[name].items():
            total[symbol] = total.get(symbol, 0) + exponent * int(power or 1)
    assert total == dimension
