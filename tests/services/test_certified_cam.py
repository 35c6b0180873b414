"""Certificates that show their tests through the engine's cam."""

from __future__ import annotations

import dataclasses
from typing import Any

import pymupdf
import pytest

from shopflow import camfile, claims, papers, testfile
from shopflow.attached import attached_files
from shopflow.calc.cam_gain import cam_mean
from shopflow.calc.reduction import reduce
from shopflow.documents import FlowCertificate
from shopflow.documents.snapshot import from_plain, to_plain
from shopflow.models import Role
from shopflow.services.actor import Actor
from shopflow.services.certificates import drafts
from shopflow.services.certificates.recomputation import recompute
from shopflow.services.engine import cams
from tests import factories
from tests.cli.sessions import EXHAUST_SI
from tests.services.expecting import faults_at
from tests.services.test_through_cam import CUT, SURE
from tests.unit.camfile.documents import CAM

OWNERS_NOTE = "notes = 'Ground by a friend of the shop'\n"


@pytest.fixture
def visit(db):
    """A head tested before and after its seats were cut, and its exhaust, on a job with a cam."""
    visit = factories.create_visit(db)
    for text in (SURE, EXHAUST_SI, CUT):
        factories.create_session(db, visit, text)
    db.expire_all()
    return visit


@pytest.fixture
def cam(db, visit):
    return factories.create_cam(
        db, visit.job, CAM.replace("schema = 1\n", f"schema = 1\n{OWNERS_NOTE}")
    )


@pytest.fixture
def owner(db) -> Actor:
    return Actor(factories.create_person(db, Role.OWNER, login="owner"), factories.NOW)


@pytest.fixture
def stated(db, owner, visit, cam) -> FlowCertificate:
    draft = drafts.write(db, owner, visit, list(visit.sessions), {"cam_id": str(cam.id)})
    return drafts.stated(db, draft)


def text_of(certificate: FlowCertificate) -> list[str]:
    with pymupdf.open(stream=papers.flow_certificate(certificate)) as pdf:
        return [" ".join(page.get_text().split()) for page in pdf]


def test_it_is_left_out_unless_asked_for(db, owner, visit, cam):
    plain = drafts.stated(db, drafts.write(db, owner, visit, list(visit.sessions)))
    assert plain.through_cam is None
    # A certificate of before has no such key, and so keeps its code.
    assert "through_cam" not in to_plain(plain)
    assert not any("Through the cam" in page for page in text_of(plain))


@pytest.mark.source("the mean of the area over the cam's motion, by the module it is tested in")
def test_means_gain_and_cam_are_printed_after_the_first_page(stated, visit, cam):
    first, *others = text_of(stated)
    assert "Through the cam" not in first
    section = " ".join(others).partition("Through the cam: ")[2]
    motion = camfile.loads(stated.through_cam.file_text).motions["intake"]
    mean = cam_mean(reduce(testfile.loads(SURE).flow_test()), motion)
    assert mean == stated.through_cam.ports[0].mean
    units = stated.display.units
    area, margin = (
        units.number(value, "port area") for value in (mean.area, mean.expanded_uncertainty)
    )
    assert f"{area} ± {margin}" in section
    assert "Intake: seats cut, against as received" in section
    (gain,) = stated.through_cam.gains
    assert " ".join(gain.in_words) in section
    assert gain.in_words[1] in ("flows more", "gain")
    assert "the customer's own, holds the valves open" in section


def test_lifts_beyond_the_test_and_a_stand_in_are_named(stated):
    pages = " ".join(text_of(stated))
    assert "The intake lobe is a stand-in" in pages
    shares = [port.mean.share_beyond_test for port in stated.through_cam.ports]
    assert ("above the last lift tested" in pages) == any(share >= 0.005 for share in shares)


def test_it_is_at_most_a_page_longer(db, owner, visit, stated):
    without = len(text_of(dataclasses.replace(stated, through_cam=None)))
    assert without <= len(text_of(stated)) <= without + 1


def test_it_is_worked_out_again_from_the_files_inside(stated):
    pdf = papers.flow_certificate(stated)
    files = attached_files(pdf)
    assert stated.through_cam.file_name in files
    assert "friend" not in files[stated.through_cam.file_name]
    result = recompute(stated, files)
    assert result.differing == ()
    assert (
        result.compared > recompute(dataclasses.replace(stated, through_cam=None), files).compared
    )
    # The cam's file is no test: a copy is still known by its tests.
    assert set(claims.read(pdf).tests) == {item.file_name for item in stated.sessions}


@pytest.mark.parametrize(
    ("where", "key"),
    [
        (("ports", 0, "mean"), "area"),
        (("ports", 1, "mean"), "share_beyond_test"),
        (("ports", 2, "figures"), "time_area"),
        (("gains", 0), "area_after"),
        (("gains", 0), "expanded_uncertainty"),
    ],
)
def test_a_figure_that_was_changed_is_found(stated, where, key):
    plain: Any = to_plain(stated)
    part = plain["through_cam"]
    for step in where:
        part = part[step]
    part[key] = part[key] * 1.001 + 0.001
    changed = from_plain(FlowCertificate, plain)
    assert changed.verification_code != stated.verification_code
    files = attached_files(papers.flow_certificate(stated))
    (differing,) = recompute(changed, files).differing
    assert key.split("_")[-1] in differing
    cam = stated.through_cam.file_name
    del files[cam]
    assert f"{cam} is not attached" in recompute(stated, files).differing


def test_a_point_of_the_curve_and_a_verdict_that_were_changed_are_found(stated):
    plain: Any = to_plain(stated)
    curve = plain["through_cam"]["ports"][0]["curve"]
    curve[len(curve) // 2][1] *= 1.01
    plain["through_cam"]["gains"][0]["verdict"] = "loss"
    files = attached_files(papers.flow_certificate(stated))
    assert len(recompute(from_plain(FlowCertificate, plain), files).differing) == 2


def test_an_issued_one_keeps_it_when_the_cam_is_changed(db, owner, visit, cam):
    issued = factories.issue_certificate(db, owner, list(visit.sessions), cam_id=str(cam.id))
    kept = from_plain(FlowCertificate, issued.snapshot)
    assert kept.verification_code == issued.code
    cams.change(db, owner, cam, camfile.loads(CAM.replace("108", "104")))
    files = attached_files(issued.pdf)
    assert recompute(from_plain(FlowCertificate, issued.snapshot), files).differing == ()


def test_a_changed_cam_takes_the_check_back(db, owner, visit, cam):
    draft = drafts.write(db, owner, visit, list(visit.sessions), {"cam_id": str(cam.id)})
    answers = dict.fromkeys(drafts.doubts_of(db, draft), "Tested before it was booked in.")
    drafts.check(db, owner, draft, "Read over.", answers)
    assert drafts.stands_as_checked(db, draft)
    cams.change(db, owner, cam, camfile.loads(CAM.replace("108", "104")))
    assert not drafts.stands_as_checked(db, draft)


def test_another_engine_s_cam_is_refused(db, owner, visit):
    other = factories.create_cam(db)
    with faults_at("cam_id"):
        drafts.write(db, owner, visit, list(visit.sessions), {"cam_id": str(other.id)})
