"""The head's own record leaves one shop and comes to another: the same files go out of both."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.database import open_engine, session_factory
from shopflow.models import Event, Head, IntegrityKind, Job, JobState, Visit, When
from shopflow.models.places import PlaceKind
from shopflow.services.actor import Actor
from shopflow.services.export import for_import
from shopflow.services.imports import kinds
from shopflow.services.imports.flows import Air
from shopflow.services.imports.planning import Plan
from shopflow.services.imports.reading import Writing
from shopflow.services.measuring import integrity_tests, measurements, seat_profiles
from shopflow.services.registry import casting_status, customers
from shopflow.services.shop import built_in_kinds
from shopflow.services.springs import records
from shopflow.units import SI
from tests import factories
from tests.factories import BY
from tests.once import SharedFolder
from tests.optional import present

POINTS: list[dict[str, object]] = [
    {"height": "1.800 in", "load": "105 lbf", "measured": True},
    {"height": "1.300 in", "load": "280 lbf"},
]
HEAD = "job,customer,builder,family,engine cylinders,serial"
OF_1842 = "1842,Orla Finch,Hollin,K9,4,T 1"
LATER = Actor(None, factories.NOW + timedelta(days=3))


@pytest.fixture
def empty(shared_folder: SharedFolder, tmp_path: Path) -> Iterator[Session]:
    """Another shop, with nothing but its settings and the kinds every shop has."""
    path = tmp_path / "other.db"
    shutil.copyfile(shared_folder.once("empty-shop.db", factories.a_new_shop), path)
    engine = open_engine(f"sqlite:///{path}")
    with session_factory(engine)() as db:
        built_in_kinds.ensure(db)
        db.commit()
        yield db
    engine.dispose()


def files_of(db: Session) -> dict[str, bytes]:
    return {code: b"".join(for_import.chunks(db, code)) for code in for_import.FILES}


def planned(db: Session, code: str, content: bytes) -> Plan:
    return kinds.plan(db, kinds.get(code), content, Writing(), Air("", ""))


def take_in(db: Session, files: dict[str, bytes]) -> None:
    for code, content in files.items():
        plan = planned(db, code, content)
        assert not plan.faults, (code, plan.faults[:3])
        plan.carry_out(db, LATER)
        db.commit()
        db.expire_all()


def fill(db: Session) -> Visit:
    """A head measured in every way there is, beside a spare and a scrapped one."""
    factories.create_shop(db)
    visit = factories.create_planned_visit(db)
    head = visit.head
    head.casting_number, head.serial, head.notes = "0917 L", "S 12", "=thin at the flange"
    for code, value, where in (
        ("installed height", "1.812 in", {"cylinder": 1, "side": "intake", "valve": "front"}),
        ("installed height", "46 mm", {"cylinder": 4, "side": "exhaust", "valve": "rear"}),
        ("stem diameter top", "0.3412 in", {"cylinder": 1, "side": "intake", "valve": "rear"}),
        ("stem diameter bottom", "0.3405 in", {"cylinder": 1, "side": "intake", "valve": "rear"}),
        ("chamber volume", "44.6 cm3", {"cylinder": 2, "when": When.BEFORE}),
        ("port area", "1.98 in2", {"cylinder": 2, "side": "intake", "distance": "25 mm",
                                   "datum": "port flange", "place": "pushrod pinch"}),
        ("port width", "1.7 in", {"cylinder": 2, "side": "intake", "distance": "25 mm"}),
        ("short-side radius", "12 mm", {"cylinder": 2, "side": "intake", "distance": "25 mm"}),
        ("deck flatness", "0.004 in", {"lower": "0 in", "upper": "0.003 in", "notes": "warped"}),
        ("thread condition", "damaged", {"place": "stud 4"}),
        ("plug thread", "repaired", {"cylinder": 3}),
    ):  # fmt: skip
        kind = measurements.kind_by_code(db, code)
        measurements.record(db, BY, visit, kind.id, {"value": value, **where})
    struck = measurements.record(
        db, BY, visit, measurements.kind_by_code(db, "deck cut").id, {"value": "0.5 mm"}
    )
    measurements.strike(db, BY, struck, "of another head")
    crack = {"method": "dye penetrant", "result": "repairable", "place": "around hole 7",
             "spot": "to the water jacket", "notes": "12 mm"}  # fmt: skip
    integrity_tests.add(db, BY, visit, IntegrityKind.CRACK, crack)
    leak = {"medium": "air", "duration": "30 s", "pressure": "20 inHg", "drop": "0.5 inHg",
            "result": "passed", "part": "valve", "cylinder": 2, "side": "exhaust",
            "valve": "rear"}  # fmt: skip
    integrity_tests.add(db, LATER, visit, IntegrityKind.VACUUM, leak)
    for seat in present(head.plan).places(PlaceKind.SEAT)[:2]:
        seat_profiles.save(db, BY, visit, seat, When.AFTER, factories.SEAT, SI)
    seat_profiles.save_usual(db, BY, head.engine_type, "intake", factories.SEAT, SI)
    spring = {"name": "dual, orange", "wanted_height": "1.800 in", "lobe_lift": "0.320 in",
              "rocker_ratio": "1.60", "lash": "0.010 in"}  # fmt: skip
    records.save(db, BY, visit, "exhaust", spring, POINTS)
    records.save(db, BY, head.engine_type, "intake", {"name": "single"}, [])
    casting_status.add_spare(db, BY, head.engine_type, {"serial": "spare 1"}, "a breaker's yard")
    gone = factories.create_head(db, engine_type=head.engine_type, serial="S 13")
    casting_status.set_status(db, BY, gone, "scrapped", "cracked through")
    orla = factories.create_customer(
        db, name="Orla Finch", is_firm=True, email="orla@finch.example", address="1 Mill Lane",
        tax_rate_percent="4.5", tax_exemption="EX 77", exemption_certificate="TX-0042",
        exemption_valid_until="2027-12-31", notes="rings at noon", language="en_GB",
        exemption_kind="reverse charge", country="AT", vat_id="ATU99999993", buyer_reference="R-1",
    )  # fmt: skip
    ada = {"name": "Ada Reed", "role": "parts", "phone": "555 0177", "email": "ada@finch.example"}
    customers.add_contact(db, BY, orla, ada)
    db.flush()
    return visit


@pytest.mark.slow
def test_what_leaves_one_shop_leaves_the_other_the_same(db: Session, empty: Session):
    visit = fill(db)
    files = files_of(db)
    take_in(empty, files)
    assert files_of(empty) == files
    for code, content in files.items():
        assert planned(empty, code, content).changes_nothing, code
    job = empty.scalars(select(Job)).one()
    assert (job.state, job.earlier_number) == (JobState.COLLECTED, visit.job.number)
    (there,) = job.heads
    assert {row.kind.code for row in there.measurements if row.calculated} == {"stem wear"}
    assert sorted(row.verdict.value for row in there.measurements) == sorted(
        row.verdict.value for row in visit.measurements
    )
    assert len(empty.scalars(select(Head)).all()) == 3
    assert "imported" in {event.note.split("; ")[-1] for event in empty.scalars(select(Event))}


def test_no_column_of_a_customer_is_left_out(db: Session):
    fill(db)
    names = for_import.headings("customers")
    rows = [dict(zip(names, row, strict=True)) for row in for_import.rows(db, "customers")]
    (orla,) = [row for row in rows if row["name"] == "Orla Finch"]
    assert [name for name in names if not orla[name]] == []


def test_measurements_alone_make_the_past_job_they_name(empty: Session):
    rows = (
        HEAD.encode() + b",date,measurement,cylinder,value,unit\n"
        b"1842,Orla Finch,Hollin,K9,4,T 1,2019-05-31,Chamber volume,1,44.6,cm3\n"
        b"1842,Orla Finch,Hollin,K9,4,T 1,2019-06-02,chamber volume,2,44.9,cm3\n"
        b"1900,Orla Finch,Hollin,K9,4,T 1,2020-01-15,chamber volume,1,45.1,cm3\n"
    )
    plan = planned(empty, "measurements", rows)
    assert [action.words for action in plan.actions] == [
        "makes head 1 of job 1842, Hollin K9 (new engine type), of Orla Finch (new customer); "
        "adds Chamber volume 44.6 cm3 to head 1 of job 1842",
        "adds Chamber volume 44.9 cm3 to head 1 of job 1842",
        "makes head 1 of job 1900, Hollin K9, of Orla Finch; "
        "adds Chamber volume 45.1 cm3 to head 1 of job 1900",
    ]
    plan.carry_out(empty, BY)
    head = empty.scalars(select(Head)).one()
    assert [visit.job.earlier_number for visit in head.visits] == ["1842", "1900"]
    first, second = (visit.job for visit in head.visits)
    assert first.booked_in_at.isoformat() == "2019-05-31T05:00:00+00:00"
    assert (first.closed_at or first.booked_in_at) < second.booked_in_at
    assert planned(empty, "measurements", rows).changes_nothing


@pytest.mark.parametrize(("code", "columns", "cells", "column", "words"), [
    ("measurements", "date,measurement,value", "2019-05-31,Head weight,4 kg", "measurement",
     "no measurement type is called 'Head weight': add it first"),
    ("measurements", "date,measurement,value", "2019-05-31,Deck flatness,4", "value",
     "the unit is missing"),
    ("measurements", "date,measurement,value,cylinder", "2019-05-31,chamber volume,44 cm3,9",
     "cylinder", "'9' is not a cylinder of this engine"),
    ("measurements", "date,measurement,value", "May 2019,Deck flatness,0.1 mm", "date",
     "'May 2019' is not a date"),
    ("measurements", "date,measurement,value", "2019-05-31,recession,0.1 mm", "value",
     "calculated from the stem height"),
    ("tests", "date,test,verdict", "2019-05-31,crack test,failed", "method",
     "Enter the method"),
    ("tests", "date,test,verdict,method", "2019-05-31,x-ray,failed,film", "test",
     "'x-ray' is not a choice"),
    ("seats", "side,cylinder,angle", "intake,,45 deg", "cylinder", "required"),
    ("seats", "side,cylinder,angle", "intake,1,45 deg", "valve", "head layout of"),
    ("springs", "side,height,load", "intake,40 mm,300 N", "height", "one point is not enough"),
    ("springs", "side,height,load", "left,40 mm,300 N", "side", "is not a choice"),
])  # fmt: skip
def test_a_fault_is_at_its_row_and_column(
    empty: Session, code: str, columns: str, cells: str, column: str, words: str
):
    content = f"{HEAD},{columns}\n{OF_1842},{cells}\n".encode()
    if code == "seats" and "1,45" in cells:
        # A type of four valves says nothing of how they stand until its layout is set.
        content = content.replace(b"engine cylinders,", b"engine cylinders,valves per cylinder,")
        content = content.replace(b"K9,4,", b"K9,4,4,")
    (fault,) = planned(empty, code, content).faults
    assert (fault.row, fault.column) == (2, column)
    assert words in fault.message


def test_a_job_of_another_shop_is_not_taken_for_one_of_this(db: Session):
    """Numbers of jobs are alike in every shop: customer and engine type tell them apart."""
    factories.shop_or_none(db)
    job = factories.create_visit(db).job
    row = f"{job.number},Orla Finch,Hollin,M3,4,T 1,2019-05-31,Deck flatness,0.1 mm"
    content = f"{HEAD},date,measurement,value\n{row}\n".encode()
    (fault,) = planned(db, "measurements", content).faults
    assert (fault.column, fault.message) == (
        "customer", f"job {job.number} is on record, of {job.customer.name}"
    )  # fmt: skip
    row = row.replace("Orla Finch", job.customer.name).replace("T 1", "")
    (fault,) = planned(db, "measurements", f"{HEAD},date,measurement,value\n{row}".encode()).faults
    assert fault.column == "builder"
    assert "this head is on record as" in fault.message


def test_an_imported_job_is_told_by_the_number_it_had(empty: Session):
    """A number that this shop gave it is another job's in the records it comes from."""
    columns = f"{HEAD},date,measurement,value"
    rows = [
        f"{year}-0001,Orla Finch,Hollin,K9,4,T {year},{day},Deck flatness,0.1 mm"
        for year, day in ((2018, "2019-05-31"), (2019, "2019-06-01"))
    ]
    for row in rows:
        planned(empty, "measurements", f"{columns}\n{row}".encode()).carry_out(empty, BY)
    numbers = {job.number: job.earlier_number for job in empty.scalars(select(Job))}
    assert numbers == {"2019-0001": "2018-0001", "2019-0002": "2019-0001"}


def test_the_cuts_of_one_seat_must_agree_and_each_fault_is_at_its_cut(db: Session):
    visit = factories.create_planned_visit(db, intake="1", exhaust="1")
    of_seat = f"{visit.job.number},1,1,intake"
    content = (
        "job,head,cylinder,side,valve head diameter,angle,width,outer diameter,seat\n"
        f"{of_seat},44 mm,30 deg,,46 mm,\n"
        f"{of_seat},44 mm,45 deg,1.5 mm,43 mm,yes\n"
        f"{of_seat},45 mm,40 deg,2 mm,,\n"
    ).encode()
    faults = planned(db, "seats", content).faults
    assert [(fault.row, fault.column) for fault in faults] == [
        (4, "angle"), (4, "valve head diameter"),
    ]  # fmt: skip
    good = content.replace(b"45 mm,40 deg", b"44 mm,60 deg")
    plan = planned(db, "seats", good)
    assert [action.words for action in plan.actions] == [
        f"adds cylinder 1, intake seat of head {visit.tag}", "belongs to row 2", "belongs to row 2",
    ]  # fmt: skip
    plan.carry_out(db, BY)
    assert planned(db, "seats", good).changes_nothing
    other = planned(db, "seats", good.replace(b"60 deg", b"65 deg"))
    assert {action.kind for action in other.actions} == {"seat replaced"}


def test_the_status_of_a_head_on_record_is_changed_and_kept_where_none_is_given(db: Session):
    head = factories.create_head(db, casting_number="", serial="S 20")
    stated = f"{head.owners[0].customer.name},{head.engine_type.title},S 20"
    content = f"customer,engine type,serial,status,status reason\n{stated},Scrapped,cracked\n"
    plan = planned(db, "heads", content.encode())
    assert [action.kind for action in plan.actions] == ["change of status"]
    plan.carry_out(db, BY)
    assert (head.status.value, head.status_because) == ("scrapped", "cracked")
    assert planned(db, "heads", content.encode()).changes_nothing
    without = f"customer,engine type,serial\n{stated}\n"
    assert planned(db, "heads", without.encode()).changes_nothing
    back = planned(db, "heads", content.replace("Scrapped,cracked", "in use,").encode())
    assert [(fault.column, fault.message) for fault in back.faults] == [
        ("status reason", "required: say why")
    ]
