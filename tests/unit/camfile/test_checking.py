"""Refusals of a cam file: each error at its key, all in one go."""

from __future__ import annotations

from decimal import Decimal

import pytest

from shopflow.camfile import loads
from shopflow.errors import ValidationError
from tests.unit.camfile.documents import CAM

REFUSED = {
    "an unknown key": ('speed = "', 'spead = "1 rpm"\nspeed = "', "engine.spead"),
    "a misspelt table": ("[exhaust]", "[exhuast]", "exhuast"),
    "a missing key": ('bore = "86.4 mm"\n', "", "engine.bore"),
    "another version": ("schema = 1", "schema = 2", "schema"),
    "a bare number": ('"86.4 mm"', "86.4", "engine.bore"),
    "an unknown unit": ('"6500 rpm"', '"6500 rps"', "engine.speed"),
    "a speed of nothing": ('"6500 rpm"', '"0 rpm"', "engine.speed"),
    "a ratio that is none": ("10.50", "1.0", "engine.compression_ratio"),
    "a rocker that turns the lift": ("1.50", "-1.50", "exhaust.rocker_ratio"),
    "a rocker with a unit": ("1.50", '"1.50 mm"', "exhaust.rocker_ratio"),
    "lash below nothing": ('"0.010 in"', '"-0.010 in"', "exhaust.lash"),
    "lash that leaves no lift": ('"0.010 in"', '"0.42 in"', "exhaust.lash"),
    "a centreline beyond the cycle": ('"108 deg"', '"361 deg"', "intake.centreline"),
    "a duration beyond the cycle": ('"280 deg"', '"721 deg"', "intake.duration"),
    "a bore of no engine": ('"86.4 mm"', '"1e300 m"', "engine.bore"),
    "a speed of no engine": ('"6500 rpm"', '"1e7 rpm"', "engine.speed"),
    "a lift of no valve": ('"9.00 mm"', '"9.00e3 m"', "intake.max_lobe_lift"),
    "a lobe lift of no valve": ("0.28,", "1e200,", "exhaust.lobe_lift[7]"),
    "a rocker of no engine": ("1.50", "1e300", "exhaust.rocker_ratio"),
    "angles too near to one another": ("-100, -80", "-100, -99.9999999", "exhaust.angle[3]"),
    "a duration of nothing": ('"280 deg"', '"0 deg"', "intake.duration"),
    "a stand-in without lift": ('max_lobe_lift = "9.00 mm"\n', "", "intake.max_lobe_lift"),
    "a stand-in without duration": ('duration = "280 deg"\n', "", "intake.duration"),
    "no lobe at all": (
        'duration = "280 deg"\nmax_lobe_lift = "9.00 mm"\n',
        "",
        "intake.angle",
    ),
    "two lobes in one": ("rocker_ratio", 'duration = "280 deg"\nrocker_ratio', "exhaust.duration"),
    "angles that fall": ("-100, -80", "-80, -100", "exhaust.angle[3]"),
    "an angle twice": ("-100, -80", "-100, -100", "exhaust.angle[3]"),
    "an angle of NaN": ("-100", "nan", "exhaust.angle[2]"),
    "a truth among angles": ("-100", "true", "exhaust.angle[2]"),
    "a lift too many": ("0.01, 0.0]", "0.01, 0.0, 0.0]", "exhaust.lobe_lift"),
    "a lift at the start": ("[0, 0.010", "[0.001, 0.010", "exhaust.lobe_lift[1]"),
    "a lift at the end": ("0.01, 0.0]", "0.01, 0.002]", "exhaust.lobe_lift[13]"),
    "a lift below nothing": ("0.070", "-0.070", "exhaust.lobe_lift[3]"),
    "no unit of lift": ('lift_unit = "in"\n', "", "exhaust.lift_unit"),
    "an unknown unit of lift": ('lift_unit = "in"', 'lift_unit = "inch"', "exhaust.lift_unit"),
    "too few points": ("angle = [-120, ", "angle = [-120, 0]\nxangle = [", "exhaust.angle"),
}


def keys(content: str) -> list[str]:
    with pytest.raises(ValidationError) as refused:
        loads(content)
    assert all(fault.message for fault in refused.value.faults)
    return [fault.key for fault in refused.value.faults]


@pytest.mark.parametrize("name", REFUSED)
def test_each_is_refused_at_its_key(name: str) -> None:
    old, new, key = REFUSED[name]
    assert old in CAM
    assert key in keys(CAM.replace(old, new, 1))


def test_all_faults_are_told_in_one_go() -> None:
    spoilt = CAM.replace('"86.4 mm"', "86.4").replace("-100, -80", "-80, -100")
    assert keys(spoilt.replace('"9.00 mm"', '"9.00"')) == [
        "engine.bore", "intake.max_lobe_lift", "exhaust.angle[3]",
    ]  # fmt: skip


def test_no_lift_anywhere_is_refused() -> None:
    flat = ", ".join(["0"] * 13)
    lobe = CAM[CAM.index("lobe_lift = [0") : CAM.index("rocker_ratio")]
    assert keys(CAM.replace(lobe, f"lobe_lift = [{flat}]\n")) == ["exhaust.lobe_lift"]


def test_the_exhaust_may_be_absent() -> None:
    assert loads(CAM.partition("[exhaust]")[0]).exhaust is None


def test_defaults_are_a_ratio_of_one_and_no_lash() -> None:
    intake = loads(CAM).intake
    assert (intake.rocker_ratio, intake.lash.si) == (Decimal(1), 0.0)
    assert intake.motion("intake").greatest_lift == pytest.approx(0.009, rel=1e-15)


def test_the_exhaust_s_centreline_is_before_the_overlap() -> None:
    cam = loads(CAM)
    assert cam.exhaust is not None
    assert cam.intake.motion("intake").centreline == 108.0
    assert cam.exhaust.motion("exhaust").centreline == -112.5
