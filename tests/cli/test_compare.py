"""`shopflow compare` beside its figures: lifts in other units, doubts, and what it shows."""

from __future__ import annotations

import json
import re
from pathlib import Path

from tests.cli.conftest import Run
from tests.cli.sessions import AFTER_US, EXHAUST_SI, INTAKE_US, ONE_LIFT
from tests.cli.test_numbers import write_session

# The same lifts: 25.4 mm to the inch.
AFTER_MM = INTAKE_US.replace('lift_unit = "in"', 'lift_unit = "mm"').replace(
    "[0.05, 0.1, 0.2, 0.3, 0.4, 0.45]", "[1.27, 2.54, 5.08, 7.62, 10.16, 11.43]"
)


def both(folder: Path, before: str, after: str) -> tuple[Path, Path]:
    return write_session(folder, before, "before.toml"), write_session(folder, after, "after.toml")


def test_lifts_typed_in_mm_and_in_are_the_same_lifts(shopflow: Run, tmp_path: Path) -> None:
    """To the ends of the range: neither conversion may push a lift out of it by a rounding."""
    for pair in ((INTAKE_US, AFTER_MM), (AFTER_MM, INTAKE_US)):
        document = json.loads(shopflow("compare", *both(tmp_path, *pair), "--json").stdout)
        assert len(document["points"]) == 6
        assert [point["gain"] for point in document["points"]] == [0.0] * 6
        assert document["mean_gain_percent"] == 0.0


def test_the_table_shows_after_s_lifts_as_typed(shopflow: Run, tmp_path: Path) -> None:
    shown = shopflow("compare", *both(tmp_path, INTAKE_US, AFTER_US)).stdout
    lines = [line.split() for line in shown.splitlines()]
    assert [line[0] for line in lines if len(line) >= 6 and line[0][0] == "0"] == [
        "0.06", "0.15", "0.25", "0.35", "0.45",
    ]  # fmt: skip
    heads = "Lift Area before Area after Flow before Flow after Gain ±"
    assert heads.split() in lines


def test_a_gain_within_its_uncertainty_is_not_called_one(shopflow: Run, tmp_path: Path) -> None:
    later = INTAKE_US.replace("[160.2]", "[160.4]")
    shown = shopflow("compare", *both(tmp_path, INTAKE_US, later)).stdout
    (row,) = (line for line in shown.splitlines() if line.startswith(" 0.4 "))
    assert row.endswith("no difference shown")


def test_a_gain_is_split_into_opening_and_shape(shopflow: Run, tmp_path: Path) -> None:
    split = "comes from the valve opening and"
    assert split in shopflow("compare", *both(tmp_path, INTAKE_US, AFTER_US)).stdout
    seatless = re.sub(r"^(stem|seat|throat)_.*\n", "", AFTER_US, flags=re.MULTILINE)
    assert split not in shopflow("compare", *both(tmp_path, INTAKE_US, seatless)).stdout


def test_one_calibration_of_two_minds_is_pointed_out(shopflow: Run, tmp_path: Path) -> None:
    later = AFTER_US.replace("1.013", "1.019")
    done = shopflow("compare", *both(tmp_path, INTAKE_US, later))
    assert done.returncode == 0
    assert "warning: both name the same calibration" in done.stderr


def test_nothing_in_common_is_said_and_is_no_error(shopflow: Run, tmp_path: Path) -> None:
    done = shopflow("compare", *both(tmp_path, ONE_LIFT, ONE_LIFT.replace("[10]", "[11]")))
    assert done.returncode == 0
    assert "No lift in common." in done.stdout
    assert "warning: the two tests share no range of lift" in done.stderr


def test_doubts_say_which_file_they_are_about(shopflow: Run, tmp_path: Path) -> None:
    hot = INTAKE_US.replace("71.5 degF", "95 degF")
    done = shopflow("compare", *both(tmp_path, INTAKE_US, hot))
    assert done.stderr.startswith("warning: after: the air temperature, 35.0 °C")
    assert "warning: before" not in done.stderr


def test_files_that_cannot_be_read_are_both_named_once(shopflow: Run, tmp_path: Path) -> None:
    (tmp_path / "bad.toml").write_text("= 1")
    done = shopflow("compare", tmp_path / "none.toml", tmp_path / "bad.toml")
    assert done.returncode == 2
    assert done.stdout == ""
    missing, bad = done.stderr.splitlines()
    assert missing == f"{tmp_path / 'none.toml'}: cannot be read: No such file or directory"
    assert bad.startswith(f"{tmp_path / 'bad.toml'}: this is not TOML: ")


def test_exhaust_against_intake_is_a_ratio_and_never_a_gain_or_loss(
    shopflow: Run, tmp_path: Path
) -> None:
    for pair in ((INTAKE_US, EXHAUST_SI), (EXHAUST_SI, INTAKE_US)):
        files = both(tmp_path, *pair)
        shown = shopflow("compare", *files).stdout
        assert "Exhaust over intake: 0." in shown
        assert "Gain" not in shown
        assert "a gain." not in shown
        document = json.loads(shopflow("compare", *files, "--json").stdout)
        assert {point["verdict"] for point in document["points"]} == {"not stated"}
        assert document["mean_verdict"] == "not stated"


def test_two_ports_flow_more_or_less_and_never_gain_or_lose(shopflow: Run, tmp_path: Path) -> None:
    ports = [
        text.replace("schema = 1", f'schema = 1\ncylinder = "{cylinder}"')
        for cylinder, text in enumerate((INTAKE_US, AFTER_US), start=1)
    ]
    for pair, words in ((ports, "flows more"), (ports[::-1], "flows less")):
        files = both(tmp_path, *pair)
        shown = shopflow("compare", *files).stdout
        assert words in shown
        assert "gain" not in shown.lower()
        assert "loss" not in shown
        document = json.loads(shopflow("compare", *files, "--json").stdout)
        assert not {"gain", "loss"} & {point["verdict"] for point in document["points"]}


def on(text: str, manifold: str) -> str:
    """A test that states its manifold."""
    return text.replace("[readings]", f'[set_up]\nmanifold = "{manifold}"\n\n[readings]')


def test_unlike_set_ups_give_no_verdict_until_they_are_meant(shopflow: Run, tmp_path: Path) -> None:
    files = both(tmp_path, on(INTAKE_US, "none"), on(AFTER_US, "M-2"))
    shown = shopflow("compare", *files).stdout
    assert "The set-ups are unlike (manifold: none, against M-2)" in shown
    document = json.loads(shopflow("compare", *files, "--json").stdout)
    assert document["mean_verdict"] == "not stated"
    assert document["mean_area_gain_expanded_uncertainty_percent"] is None
    assert {point["verdict"] for point in document["points"]} == {"not stated"}
    assert not any(point["significant"] for point in document["points"])
    parts = [{"part": "manifold", "before": "none", "after": "M-2"}]
    assert (document["set_up_differences"], document["set_ups_meant"]) == (parts, False)
    meant = json.loads(shopflow("compare", *files, "--json", "--set-ups-meant").stdout)
    plain = json.loads(shopflow("compare", *both(tmp_path, INTAKE_US, AFTER_US), "--json").stdout)
    assert meant["set_ups_meant"] is True
    assert (meant["points"], meant["mean_verdict"]) == (plain["points"], plain["mean_verdict"])
    assert plain["set_up_differences"] == []


def test_tests_that_state_no_set_up_are_compared_with_a_remark(
    shopflow: Run, tmp_path: Path
) -> None:
    shown = shopflow("compare", *both(tmp_path, INTAKE_US, AFTER_US)).stdout
    assert "Neither test states its set-up" in shown
    alike = shopflow("compare", *both(tmp_path, on(INTAKE_US, "none"), on(AFTER_US, "none"))).stdout
    assert "set-up" not in alike
