"""Fixtures, the set-ups that name them, and comparisons across unlike ones, on both databases."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow import testfile
from shopflow.calc.array_types import Against
from shopflow.calc.set_up import Part
from shopflow.calc.verdicts import Verdict
from shopflow.documents import PortSpread
from shopflow.errors import NotFoundError, RuleError, ValidationError
from shopflow.files import FileStore
from shopflow.models import BenchSession, Event, GainCase, Visit
from shopflow.services.actor import Actor
from shopflow.services.analysis import comparisons, gain_by_step, since_stock
from shopflow.services.bench import (
    bands,
    fixtures,
    sessions,
    set_up_confirmations,
    set_ups,
    test_gains,
    test_results,
)
from shopflow.services.certificates import drafts, recomputation, tested_ports
from shopflow.services.integrity import examine
from shopflow.units import SI
from tests import factories, photos
from tests.cli.sessions import AFTER_US, INTAKE_US
from tests.factories import create_session, create_visit
from tests.optional import present
from tests.services.test_metal_cuts import later, planned, sign_off


def on(text: str, **parts: str) -> str:
    """A flow test file with this set-up."""
    rows = "\n".join(f'{part} = "{stated}"' for part, stated in parts.items())
    return text.replace("[readings]", f"[set_up]\n{rows}\n\n[readings]")


BARE = {"sleeve": "S-86, bore 86 mm", "manifold": "none"}
DRESSED = {"sleeve": "S-86, bore 86 mm", "manifold": "M-2"}


@pytest.fixture
def store(tmp_path: Path) -> FileStore:
    return FileStore(tmp_path / "files")


def a_cut_head(db: Session, before: dict[str, str], after: dict[str, str]) -> Visit:
    """A head tested, ported and tested again, on these set-ups."""
    visit = create_visit(db)
    (step,) = planned(db, visit, "port-work")
    for text, parts, hours in ((INTAKE_US, before, 1), (AFTER_US, after, 3)):
        document = testfile.loads(on(text, **parts) if parts else text)
        timed = dataclasses.replace(document, measured_at=later(hours), stage="")
        if hours > 2:
            sign_off(db, step, 2)
        sessions.store(db, factories.BY, visit, timed, step if hours > 2 else None)
    db.flush()
    return visit


def verdict(visit: Visit) -> Verdict:
    """The verdict on the last test over the first."""
    return sessions.compare(visit.sessions[0], visit.sessions[-1]).mean_verdict


def test_a_fixture_is_stated_by_its_name_and_its_sizes(db: Session, by: Actor) -> None:
    sleeve = {"kind": "bore sleeve", "name": "S-86", "bore": "86 mm", "length": "110 mm"}
    row = fixtures.create(db, by, sleeve)
    assert row.stated == "S-86, bore 86 mm, length 110 mm"
    fixtures.create(db, by, {"kind": "clay inlet", "name": "by hand"})
    offered = fixtures.answers(db)
    assert offered[Part.SLEEVE][0] == (row.stated, row.stated)
    assert [text for text, _ in offered[Part.INLET]] == ["by hand", "none"]
    assert [text for text, _ in offered[Part.SPARK_PLUG]] == ["in", "out"]
    fixtures.archive(db, by, row)
    assert [text for text, _ in fixtures.answers(db)[Part.SLEEVE]] == ["none"]
    fixtures.restore(db, by, row)
    assert len(fixtures.answers(db)[Part.SLEEVE]) == 2


@pytest.mark.parametrize(
    ("changed", "key"),
    [({"kind": "teapot"}, "kind"), ({"name": ""}, "name"), ({"bore": "0 mm"}, "bore"),
     ({"radius": "twelve"}, "radius"), ({"name": "x" * 61}, "name")],
)  # fmt: skip
def test_a_fixture_that_cannot_be_is_refused_at_its_field(
    sqlite_db: Session, by: Actor, changed: dict[str, str], key: str
) -> None:
    with pytest.raises(ValidationError) as refused:
        fixtures.create(sqlite_db, by, {"kind": "manifold", "name": "M-1", **changed})
    assert [fault.key for fault in refused.value.faults] == [key]


def test_a_name_is_given_once_a_kind(db: Session, by: Actor) -> None:
    row = factories.create_fixture(db, name="M-9")
    factories.create_fixture(db, kind="header", name="M-9")
    with pytest.raises(ValidationError, match="one of this name"):
        factories.create_fixture(db, name="M-9")
    fixtures.change(db, by, row, {"name": "M-9", "notes": "cracked flange"})
    assert row.notes == "cracked flange"


def test_what_tests_state_of_a_fixture_stays(db: Session, by: Actor) -> None:
    row = factories.create_fixture(db, name="M-2")
    fixtures.change(db, by, row, {"bore": "40 mm"})
    create_session(db, text=on(INTAKE_US, manifold=row.stated))
    fixtures.change(db, by, row, {"notes": "the long runners"})
    with pytest.raises(RuleError, match="archive it and add another"):
        fixtures.change(db, by, row, {"bore": "41 mm"})


def test_a_photo_is_kept_in_the_store_and_checked(db: Session, by: Actor, store: FileStore) -> None:
    photo = fixtures.stage_photo(store, photos.jpeg())
    row = fixtures.create(db, by, {"kind": "header", "name": "H-1"}, photo)
    assert store.get(row.photo_sha256)
    assert store.get(row.photo_small_sha256)
    assert fixtures.stage_photo(store, b"") is None
    with pytest.raises(ValidationError):
        fixtures.stage_photo(store, b"no picture")
    with pytest.raises(NotFoundError):
        fixtures.with_photo(db, factories.create_fixture(db).id)
    faults = [
        fault
        for finding in examine.examine(db, FileStore(store.folder / "elsewhere"))
        for fault in finding.faults
    ]
    assert any("photo of fixture H-1" in fault for fault in faults)


def test_a_set_up_goes_through_a_file_as_typed(db: Session) -> None:
    document = testfile.loads(on(INTAKE_US, **DRESSED, spark_plug="in"))
    row = create_session(db, text=testfile.dumps(document))
    assert sessions.document(row) == document
    assert testfile.loads(testfile.dumps(document)) == document
    assert row.set_up_manifold == "M-2"
    assert dict(set_ups.plain(row).stated)[Part.SPARK_PLUG] == "in"


def test_tests_without_a_set_up_are_compared_as_before(db: Session, by: Actor) -> None:
    visit = a_cut_head(db, {}, {})
    assert verdict(visit) is not Verdict.NOT_STATED
    assert visit.sessions[1].gain_over_first is not None
    first, last = comparisons.members(visit.sessions)
    answer = comparisons.difference(first, last, Against.LIFT)
    assert "Neither test states its set-up" in answer.set_ups
    assert db.scalars(select(GainCase)).all()


@pytest.mark.parametrize("after", [DRESSED, {}], ids=["unlike", "half stated"])
def test_nothing_is_said_of_a_head_on_unlike_set_ups(
    db: Session, by: Actor, after: dict[str, str]
) -> None:
    visit = a_cut_head(db, BARE, after)
    assert verdict(visit) is Verdict.NOT_STATED
    assert visit.sessions[1].gain_over_first is None
    assert db.scalars(select(GainCase)).all() == []
    first, last = comparisons.members(visit.sessions)
    answer = comparisons.difference(first, last, Against.LIFT)
    assert "manifold: none, against" in answer.reasons[0]
    assert {point.verdict for point in answer.points} == {Verdict.NOT_STATED}
    (port,) = gain_by_step.of_head(visit)
    assert port.reasons
    assert {step.flow.verdict for step in present(port.worth).total} == {Verdict.NOT_STATED}
    gain = test_gains.gain(db, visit.sessions[0], visit.sessions[1], SI)
    assert present(gain.mean).verdict == "not stated"
    assert gain.reasons
    assert gain.set_ups == ""


def test_a_confirmed_difference_has_a_verdict_and_is_logged(db: Session, by: Actor) -> None:
    visit = a_cut_head(db, BARE, DRESSED)
    assert len(set_up_confirmations.unconfirmed(visit.sessions)) == 1
    (item,) = set_up_confirmations.confirm(
        db, by, visit.sessions, "with the manifold", is_same=False
    )
    assert set_up_confirmations.unconfirmed(visit.sessions) == []
    assert verdict(visit) is not Verdict.NOT_STATED
    assert visit.sessions[1].gain_over_first is not None
    # What the manifold takes is not of the steps: no forecast may rest on it.
    assert db.scalars(select(GainCase)).all() == []
    event = db.scalars(select(Event).where(Event.subject == "set_up_confirmation")).one()
    assert (event.verb, event.person_id, event.subject_id) == ("confirmed", by.person_id, item.id)
    assert event.job_id == visit.job_id
    assert "with the manifold" in event.note
    assert "with the manifold" in set_up_confirmations.among(db, visit.sessions)[0]
    with pytest.raises(RuleError, match="need no confirmation"):
        set_up_confirmations.confirm(db, by, visit.sessions, "again", is_same=False)


def test_a_set_up_that_was_the_same_lets_the_gain_count_in_full(db: Session, by: Actor) -> None:
    visit = a_cut_head(db, {}, BARE)
    set_up_confirmations.confirm(db, by, visit.sessions, "same sleeve, not noted", is_same=True)
    assert verdict(visit) is not Verdict.NOT_STATED
    assert db.scalars(select(GainCase)).all()


def test_set_ups_both_stated_are_not_confirmed_as_the_same(db: Session, by: Actor) -> None:
    visit = a_cut_head(db, BARE, DRESSED)
    with pytest.raises(RuleError, match="both tests state their set-up"):
        set_up_confirmations.confirm(db, by, visit.sessions, "same", is_same=True)
    with pytest.raises(ValidationError):
        set_up_confirmations.confirm(db, by, visit.sessions, " ", is_same=False)


def test_a_certificate_says_who_confirmed_and_comes_out_again(db: Session) -> None:
    by = factories.someone(db)
    visit = a_cut_head(db, BARE, DRESSED)
    set_up_confirmations.confirm(db, by, visit.sessions, "with the manifold", is_same=False)
    draft = drafts.write(db, by, visit, visit.sessions, {}, None)
    content = drafts.stated(db, draft)
    (gain,) = content.gains
    assert "with the manifold" in gain.set_ups
    assert gain.set_ups in gain.conclusion
    stated = dict(content.sessions[1].conditions)
    assert stated["Set-up"] == "bore sleeve S-86, bore 86 mm; manifold M-2"
    files = {item.file_name: item.file_text for item in content.sessions}
    assert recomputation.recompute(content, files).agrees


def test_a_certificate_states_no_spread_of_ports_on_unlike_set_ups(db: Session) -> None:
    def spread(*set_ups: dict[str, str]) -> list[PortSpread]:
        texts = [
            on(INTAKE_US, **parts).replace("schema = 1", f'schema = 1\ncylinder = "{number}"')
            for number, parts in enumerate(set_ups, start=1)
        ]
        visit = create_visit(db)
        rows = [create_session(db, visit, text) for text in texts]
        return list(tested_ports.spread([test_results.session_result(row) for row in rows]))

    assert len(spread(BARE, BARE)) == 1
    assert spread(BARE, BARE, DRESSED) == []


def test_a_band_leaves_out_heads_on_other_set_ups(db: Session, by: Actor) -> None:
    engine_type = factories.create_engine_type(db)
    for parts in (BARE, BARE, BARE, DRESSED):
        visit = create_visit(db, engine_type=engine_type)
        create_session(db, visit, on(INTAKE_US, **parts))
    db.flush()
    bare = testfile.loads(on(INTAKE_US, **BARE)).set_up
    assert bands.band_for(db, engine_type, "intake").heads == 4
    alike = bands.band_for(db, engine_type, "intake", set_up=bare)
    assert (alike.heads, alike.left_out) == (3, 1)
    band = present(alike.past_band())
    assert "without 1 on unlike set-ups" in band.name
    unstated = testfile.loads(INTAKE_US).set_up
    assert bands.band_for(db, engine_type, "intake", set_up=unstated).heads == 0


def test_the_cost_of_a_manifold_is_shown_where_nothing_was_cut(db: Session, by: Actor) -> None:
    visit = create_visit(db)
    less = AFTER_US.replace("seat cut", "as received, manifold on")
    create_session(db, visit, on(less, **BARE))
    create_session(db, visit, on(INTAKE_US, **DRESSED))
    first, last = comparisons.members(visit.sessions)
    cost = comparisons.difference(first, last, Against.LIFT).part_cost
    assert present(cost).text == "M-2"
    cut = a_cut_head(db, BARE, DRESSED)
    first, last = comparisons.members(cut.sessions)
    assert comparisons.difference(first, last, Against.LIFT).part_cost is None


def test_a_port_since_stock_says_that_its_set_ups_are_unlike(db: Session, by: Actor) -> None:
    visit = a_cut_head(db, BARE, DRESSED)
    for port in since_stock.since_stock(visit.head):
        assert port.is_unlike
        assert port.gain is None
    assert all(isinstance(row, BenchSession) for row in visit.sessions)
