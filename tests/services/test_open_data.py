"""Open data: out of one shop without names, into another, and never counted as its own."""

from __future__ import annotations

import copy
import json
import shutil
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from sqlalchemy import Enum, String, Text, func, select, text
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from shopflow.calc.reduction import reduce
from shopflow.database import open_engine, session_factory
from shopflow.errors import ValidationError
from shopflow.models import Base, BenchSession, Customer, GainCase, Head, Job
from shopflow.services.actor import Actor
from shopflow.services.bench import bands, past_tests, sessions
from shopflow.services.certificates import drafts
from shopflow.services.counter import development
from shopflow.services.open_data import publication, reception
from shopflow.services.open_data.schema import SCHEMA
from shopflow.services.registry import customers
from tests import factories
from tests.cli.sessions import AFTER_US, EXHAUST_SI, INTAKE_US, PERCENT
from tests.demo_shop import DemoShop
from tests.factories import BY
from tests.once import SharedFolder
from tests.services.expecting import refused

STATED = INTAKE_US.replace(
    'lift = "0.001 in"', 'lift = "0.001 in"\nresolution = "0.5 cfm"\nleakage = "0.1 cfm"'
)
OWN_PRESSURES = AFTER_US.replace("lift_unit = ", 'pressure_unit = "inH2O"\nlift_unit = ') + (
    "pressure = [[25, 25.1], [25], [24.8, 24.9], [24, 24.1, 24.2], [23.1]]\n"
)


@pytest.fixture
def owner(db: Session) -> Actor:
    return Actor(factories.create_person(db, login="owner"), factories.NOW)


@pytest.fixture
def visit(db: Session):
    """A head of a customer who agreed, tested on both sides before and after work."""
    customer = factories.create_customer(db, open_data_consent=True)
    visit = factories.create_job(db, customer=customer).heads[0]
    for test in (STATED, OWN_PRESSURES, EXHAUST_SI):
        factories.create_session(db, visit, test)
    return visit


@pytest.fixture
def other_shop(shared_folder: SharedFolder, tmp_path: Path) -> Iterator[Session]:
    shutil.copyfile(
        shared_folder.once("empty-shop.db", factories.a_new_shop), tmp_path / "other.db"
    )
    engine = open_engine(f"sqlite:///{tmp_path / 'other.db'}")
    with session_factory(engine)() as db:
        yield db
    engine.dispose()


def published(db: Session, *, with_family: bool = False) -> dict[str, Any]:
    """Open data as a reader has it, true to its schema."""
    written = json.dumps(publication.published(db, with_family=with_family))
    content: dict[str, Any] = json.loads(written)
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    jsonschema.validate(content, SCHEMA)
    return content


def taken_in(db: Session, content: dict[str, Any]) -> reception.Imported:
    return reception.bring_in(db, Actor.now(None), json.dumps(content).encode())


def test_nobody_s_results_are_published_unless_they_agreed(db, owner, visit):
    other = factories.create_visit(db)
    factories.create_session(db, other, PERCENT)
    assert not other.job.customer.open_data_consent
    assert publication.counted(db) == publication.Counted(1, 3)
    first = published(db)
    (head,) = first["heads"]
    assert sorted((test["side"], test["port"]) for test in head["tests"]) == [
        ("exhaust", 1), ("intake", 1), ("intake", 1),
    ]  # fmt: skip
    assert published(db) == first
    customers.change(db, owner, other.job.customer, {"open_data_consent": True})
    assert len(published(db)["heads"]) == 2
    customers.change(db, owner, visit.job.customer, {"open_data_consent": False})
    (head,) = published(db)["heads"]
    assert head["id"] != first["heads"][0]["id"]


def test_consent_says_who_recorded_it_and_when(db, owner):
    customer = factories.create_customer(db)
    assert (customer.open_data_consent, customer.open_data_consent_at) == (False, None)
    customers.change(db, owner, customer, {"open_data_consent": True})
    assert customer.open_data_consent_at == owner.at
    assert customer.open_data_consent_by_id == owner.person_id
    customers.change(db, BY, customer, {"open_data_consent": True, "phone": "555 0199"})
    assert customer.open_data_consent_by_id == owner.person_id


def test_the_shop_s_own_heads_are_published_by_the_owner_s_act(db):
    factories.shop_or_none(db)
    engine_type = factories.create_engine_type(db)
    visit = development.begin_new(db, BY, engine_type, {"serial": "own"})
    factories.create_session(db, visit, STATED)
    assert publication.counted(db) == publication.Counted(1, 1)


def test_withdrawn_and_practice_tests_stay_in_the_shop(db, visit):
    visit.job.is_practice = True
    db.flush()
    assert published(db)["heads"] == []


SKIPPED = ("_typed", "_unit", "_sha256", "_key")
KEPT_AS_THEY_ARE = {
    "side",
    "part",
    "time_zone",
    "meter_kind",
    "element_kind",
    "calibration_model",
    "language",
    "version_num",
}


def plant(db: Session) -> set[tuple[str, str]]:
    """A secret in every column of text that may hold one; the columns that took it."""
    planted: set[tuple[str, str]] = set()
    for table in Base.metadata.sorted_tables:
        for column in table.columns:
            is_text = isinstance(column.type, String | Text) and not isinstance(column.type, Enum)
            if not is_text or column.name in KEPT_AS_THEY_ARE or column.name.endswith(SKIPPED):
                continue
            # Some must differ from row to row.
            number = " || id" if "id" in table.c else ""
            query = text(f"UPDATE {table.name} SET {column.name} = 'SECRET'{number}")
            try:
                with db.begin_nested():
                    db.execute(query)
            except DBAPIError:
                continue
            planted.add((table.name, column.name))
    return planted


def test_no_text_of_a_shop_full_of_secrets_is_published(demo_shop: DemoShop, tmp_path: Path):
    """Deny by default: every column of text holds a secret, and every customer has agreed."""
    engine = open_engine(f"sqlite:///{demo_shop.copy_to(tmp_path / 'shop') / 'shopflow.db'}")
    with session_factory(engine)() as db:
        tests = len(list(db.scalars(select(BenchSession.id))))
        db.execute(text("UPDATE customer SET open_data_consent = true"))
        planted = plant(db)
        assert planted >= {
            ("shop", "name"), ("shop", "address"), ("customer", "name"), ("customer", "notes"),
            ("person", "name"), ("head", "serial"), ("head", "casting_number"), ("head", "notes"),
            ("job", "number"), ("job_head", "tag"), ("bench_session", "title"),
            ("bench_session", "operator"), ("bench_session", "notes"), ("bench_session", "stage"),
            ("bench_session", "bench_name"), ("bench_session", "cylinder"),
            ("engine_type", "family"), ("engine_type", "builder"), ("operation_kind", "name"),
        }  # fmt: skip
        db.expire_all()
        content = published(db)
        named = published(db, with_family=True)
        db.rollback()
    engine.dispose()
    assert 50 < sum(len(head["tests"]) for head in content["heads"]) <= tests
    assert "SECRET" not in json.dumps(content)
    families = {head["engine"].pop("family") for head in named["heads"]}
    assert families
    assert all(family.startswith("SECRET") for family in families)
    assert "SECRET" not in json.dumps(named)


def reductions(db: Session, head_key: str):
    head = db.scalars(select(Head).where(Head.open_data_key == head_key)).one()
    return [reduce(sessions.document(row).flow_test())
            for visit in head.visits for row in visit.sessions]  # fmt: skip


def test_what_one_shop_publishes_another_reduces_to_the_same_figures(db, visit, other_shop):
    content = published(db)
    assert taken_in(other_shop, content) == reception.Imported(1, 3, 0)
    key = content["heads"][0]["id"]
    for before, after in zip(reductions(db, key), reductions(other_shop, key), strict=True):
        for name in ("lifts", "effective_area", "mass_flow", "cd_curtain", "cd_head"):
            assert getattr(after, name) == pytest.approx(getattr(before, name), rel=1e-9), name
        assert after.cd_least_area == pytest.approx(before.cd_least_area, rel=1e-9)
        assert after.run_counts.tolist() == before.run_counts.tolist()
        stated, again = (item.effective_area_expanded_uncertainty for item in (before, after))
        assert (stated is None) == (again is None)
        if stated is not None:
            # A division counts at the test pressure, and no more at a run's own.
            assert again == pytest.approx(stated, rel=0.03)


def test_a_second_import_changes_nothing_and_a_longer_file_adds_what_is_new(db, visit, other_shop):
    content = published(db)
    shorter = copy.deepcopy(content)
    del shorter["heads"][0]["tests"][2]
    assert taken_in(other_shop, shorter) == reception.Imported(1, 2, 0)
    assert taken_in(other_shop, shorter) == reception.Imported(0, 0, 2)
    assert taken_in(other_shop, content) == reception.Imported(0, 1, 2)
    assert other_shop.scalar(select(func.count(Head.id))) == 1
    # The shop's own file, come back.
    assert taken_in(db, content) == reception.Imported(0, 0, 3)


def test_imported_tests_are_marked_and_never_count_as_the_shop_s_own(db, owner, visit, other_shop):
    content = published(db)
    taken_in(other_shop, content)
    (head,) = other_shop.scalars(select(Head))
    (imported,) = head.visits
    assert head.from_open_data
    assert (head.serial, imported.job.customer.name) == ("", "Open data")
    assert other_shop.scalar(select(func.count(GainCase.id))) == 0
    assert past_tests.of_keys(other_shop, [head.engine_type_id], past_tests.Wanted()) == []
    assert bands.best_test(other_shop, head.engine_type, "intake") is None
    assert sessions.latest_of_shop(other_shop) is None
    somebody = Actor(factories.create_person(other_shop), BY.at)
    with refused("imported as open data"):
        drafts.write(other_shop, somebody, imported, list(imported.sessions))
    # Nor are they published again, and the shop's own development has a customer of its own.
    assert publication.counted(other_shop) == publication.Counted(0, 0)
    own = development.begin_new(other_shop, BY, head.engine_type, {})
    assert own.job.customer is not imported.job.customer
    assert development.standing(other_shop) == [own]


def test_engine_types_are_matched_by_name_and_size(db, visit, other_shop):
    content = published(db, with_family=True)
    kin = factories.create_engine_type(other_shop, family=visit.head.engine_type.family)
    taken_in(other_shop, content)
    (head,) = other_shop.scalars(select(Head))
    assert head.engine_type is kin
    unnamed = published(db)
    unnamed["heads"][0]["id"] = str(uuid.uuid4())
    other = copy.deepcopy(unnamed["heads"][0])
    other["id"] = str(uuid.uuid4())
    other["engine"]["bore"] = 0.0999
    unnamed["heads"].append(other)
    taken_in(other_shop, unnamed)
    types = {head.engine_type.builder for head in other_shop.scalars(select(Head))}
    assert types == {kin.builder, "Open data"}


def broken(content: dict[str, Any], *path: Any, value: Any) -> bytes:
    changed = copy.deepcopy(content)
    part: Any = changed
    for step in path[:-1]:
        part = part[step]
    part[path[-1]] = value
    return json.dumps(changed).encode()


TEST = ("heads", 0, "tests", 1)


@pytest.mark.parametrize(
    ("path", "value", "key"),
    [
        ((*TEST, "side"), "left", "heads[0].tests[1].side"),
        ((*TEST, "month"), "2026-02-03", "heads[0].tests[1].month"),
        ((*TEST, "month"), "2199-01", "heads[0].tests[1].month"),
        ((*TEST, "operator"), "Ruth", "heads[0].tests[1].operator"),
        ((*TEST, "lifts"), [], "heads[0].tests[1].lifts"),
        ((*TEST, "lifts", 0), True, "heads[0].tests[1].lifts[0]"),
        ((*TEST, "flows", 0, 0), -1.0, "heads[0].tests[1].flows[0][0]"),
        ((*TEST, "flows"), [[0.1]], "heads[0].tests[1].flows"),
        ((*TEST, "effective_area", 2), 1e-3, "heads[0].tests[1].effective_area[2]"),
        ((*TEST, "lifts", 1), 0.0001, "heads[0].tests[1].readings.lift[2]"),
        ((*TEST, "head_diameter"), 1e400, "file"),
        ((*TEST, "steps"), ["anything"], "heads[0].tests[1].steps[0]"),
        (("heads", 0, "engine"), None, "heads[0].engine"),
        (("heads", 0, "id"), "J-2026-0001", "heads[0].id"),
        (("version",), 2, "version"),
        (("format",), "something else", "file"),
        (("shop",), "Falling Water", "shop"),
    ],
)
def test_every_fault_is_told_with_its_path_and_nothing_is_written(
    db, visit, other_shop, path, value, key
):
    content = broken(published(db), *path, value=value)
    with pytest.raises(ValidationError) as caught:
        reception.bring_in(other_shop, Actor.now(None), content)
    assert key in [fault.key for fault in caught.value.faults]
    assert other_shop.scalar(select(func.count(Job.id))) == 0
    assert other_shop.scalar(select(func.count(Customer.id))) == 0


@pytest.mark.parametrize(
    "content", [b"", b"{", b"[]", b"\xff\xfe", b'{"format": NaN}', b"[" * 9999]
)
def test_what_is_no_open_data_is_refused_whole(db, content):
    factories.shop_or_none(db)
    with pytest.raises(ValidationError):
        reception.bring_in(db, BY, content)
