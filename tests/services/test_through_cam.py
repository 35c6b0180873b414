"""A head's ports through its cams: which tests, which figures, what is said of them."""

from __future__ import annotations

import json

import pytest

from shopflow import camfile, testfile
from shopflow.calc.verdicts import Verdict
from shopflow.services.bench import sessions
from shopflow.services.engine import cams, through_cam
from shopflow.services.engine.through_cam import Chosen
from tests import factories
from tests.cli.conftest import run as run
from tests.cli.sessions import AFTER_US, EXHAUST_SI, INTAKE_US
from tests.factories import BY
from tests.unit.camfile.documents import CAM

FLOWS = "[[23.5, 23.9], [47.8], [101.0, 101.5, 100.8], [140.5, 141.0], [160.2], [164.0, 164.4]]"
MORE = "[[25.9, 26.3], [52.6], [111.1, 111.6, 110.9], [154.5, 155.1], [176.2], [180.4, 180.8]]"
SURE = INTAKE_US.replace(
    'lift = "0.001 in"', 'lift = "0.001 in"\nresolution = "0.5 cfm"\nleakage = "0.1 cfm"'
    '\ndensity = "0.2 %"'
)  # fmt: skip
CUT = SURE.replace(FLOWS, MORE).replace("as received", "seats cut")


@pytest.fixture
def visit(db):
    """A head tested before and after its seats were cut, and its exhaust."""
    visit = factories.create_visit(db)
    factories.create_session(db, visit, SURE)
    factories.create_session(db, visit, EXHAUST_SI)
    factories.create_session(db, visit, CUT)
    # The exhaust was measured first.
    db.expire_all()
    return visit


def shown(db, visit, cam, intake=None):
    chosen = {side: through_cam.suggested(visit, side) for side in through_cam.SIDES}
    if intake is not None:
        chosen["intake"] = intake
    return through_cam.through_cam(db, visit, cam, chosen, BY.at)


def test_the_last_test_is_held_against_the_first_of_its_port(db, visit):
    intake, exhaust = (through_cam.suggested(visit, side) for side in through_cam.SIDES)
    assert [row.position for row in intake.rows] == [2, 3]
    assert (exhaust.before, exhaust.after) == (None, visit.sessions[0])


def test_a_tenth_more_flow_is_a_gain_of_a_tenth_on_every_cam(db, visit):
    cam = factories.create_cam(db, visit.job)
    factories.create_cam(db, visit.head.engine_type, CAM.replace("9.00 mm", "6.00 mm"))
    answer = shown(db, visit, cam)
    (compared,) = answer.comparisons
    assert compared.is_gain
    assert len(compared.cams) == 2
    for part in compared.areas.parts:
        # The leakage counts more in the smaller reading.
        assert part.gain == pytest.approx(0.1, abs=0.004)
        assert part.verdict == Verdict.GAIN
    assert compared.on("Fast road").endswith("in mean effective area over the cam: gain")
    assert answer.cam.of_job


def test_curves_figures_and_shades_agree(db, visit):
    cam = shown(db, visit, factories.create_cam(db, visit.job)).cam
    assert [(port.side, port.is_first) for port in cam.ports] == [
        ("intake", True), ("intake", False), ("exhaust", False),
    ]  # fmt: skip
    for port in cam.ports:
        assert port.curve[0] == (port.figures.opens, 0.0)
        assert port.curve[-1] == (port.figures.closes, 0.0)
        assert port.mean.area == pytest.approx(port.figures.mean_effective_area, rel=1e-5)
    assert cam.latest.intake == cam.ports[1].figures
    assert cam.earlier.mach_index > cam.latest.mach_index
    assert cam.blowdown[-1][0] == -180.0
    assert cam.overlap[0][0] == -32.0
    area = sum(
        (b - a) * (x + y) / 2 for (a, x), (b, y) in zip(cam.overlap, cam.overlap[1:], strict=False)
    )
    assert area == pytest.approx(cam.latest.overlap_area_integral, rel=0.02)
    assert cam.stand_ins == ("intake",)


def test_the_command_says_the_same_of_the_files(db, visit, run, tmp_path):
    """The exported tests and the downloaded cam, through `shopflow cycle`."""
    row = factories.create_cam(db, visit.job)
    latest = shown(db, visit, row).cam.latest
    texts = {"cam": camfile.dumps(cams.document(row))}
    for side in through_cam.SIDES:
        test = through_cam.suggested(visit, side).after
        assert test is not None
        texts[side] = testfile.dumps(sessions.document(test))
    paths = {name: tmp_path / f"{name}.toml" for name in texts}
    for name, text in texts.items():
        paths[name].write_text(text)
    done = run("cycle", paths["cam"], "--intake", paths["intake"], "--exhaust", paths["exhaust"],
               "--json")  # fmt: skip
    document = json.loads(done.stdout)
    assert document["mach_index"] == latest.mach_index
    assert document["overlap_area_integral"] == latest.overlap_area_integral
    assert document["exhaust"]["blowdown_area_integral"] == latest.blowdown_area_integral
    assert document["intake"]["mean_effective_area"] == latest.intake.mean_effective_area


def test_two_ports_have_a_difference_and_no_gain(db, visit):
    cam = factories.create_cam(db, visit.job)
    other = SURE.replace('side = "intake"', 'side = "intake"\ncylinder = "2"')
    row = factories.create_session(db, visit, other.replace(FLOWS, MORE))
    chosen = Chosen(row, visit.sessions[1])
    (compared,) = shown(db, visit, cam, intake=chosen).comparisons
    assert not compared.is_gain
    assert compared.cuts == ""
    assert compared.rows[0][2] == "flows more"


def test_where_nothing_is_stated_the_reason_is(db):
    visit = factories.create_visit(db)
    bare = INTAKE_US.replace("[uncertainty]", "[uncertainty]\n#").replace("#\ncal", "cal")
    single = "[[23.5], [47.8], [101.0], [140.5], [160.2], [164.0]]"
    lines = ("repeatability", "pressure = ", 'lift = "')
    text = "\n".join(
        line for line in bare.replace(FLOWS, single).splitlines() if not line.startswith(lines)
    )
    factories.create_session(db, visit, text)
    factories.create_session(db, visit, text.replace("[47.8]", "[49.8]"))
    (compared,) = shown(db, visit, factories.create_cam(db, visit.job)).comparisons
    assert compared.rows[0][2] == "not stated"
    assert any("resolution" in text for text in compared.reasons)


def test_a_cam_without_exhaust_and_a_head_without_intake_tests(db):
    visit = factories.create_visit(db)
    factories.create_session(db, visit, EXHAUST_SI)
    total = factories.create_cam(db, visit.job)
    cam = shown(db, visit, total).cam
    assert [port.side for port in cam.ports] == ["exhaust"]
    assert cam.latest.mach_index is None
    assert cam.overlap == ()
    assert cam.blowdown
    half = factories.create_cam(db, visit.job, CAM.partition("[exhaust]")[0])
    assert shown(db, visit, half).cam.ports == ()


def test_tests_of_earlier_visits_are_offered_too(db, visit):
    offered = through_cam.offered(visit, "intake")
    assert [row.id for row in offered] == [visit.sessions[1].id, visit.sessions[2].id]
    names = through_cam.names(offered)
    assert len(set(names)) == 2


def test_after_us_has_lifts_of_its_own(db, visit):
    """Lifts that only one side tested make no gain."""
    factories.create_session(db, visit, AFTER_US)
    answer = shown(db, visit, factories.create_cam(db, visit.job))
    assert answer.comparisons[0].areas.parts[0].low == pytest.approx(0.06 * 0.0254)
