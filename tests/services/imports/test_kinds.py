"""Import of files of each kind, row by row, and their formats."""

from __future__ import annotations

from decimal import Decimal
from string import ascii_uppercase

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.models import Customer, Event, Head, Job, JobState
from shopflow.services.bench import sessions
from shopflow.services.imports import kinds
from shopflow.services.imports.flows import Air
from shopflow.services.imports.planning import Plan
from shopflow.services.imports.reading import MOST_COLUMNS, OF_A_PAGE, Writing
from shopflow.services.registry import heads
from tests import factories
from tests.services.imports.files import AIR, Row, csv_of, past_jobs


def plan(db: Session, code: str, content: bytes | list[Row], **written: str) -> Plan:
    factories.shop_or_none(db)
    values = csv_of(content) if isinstance(content, list) else content
    return kinds.plan(db, kinds.get(code), values, Writing(**written), Air(**AIR))


def words_of(plan: Plan) -> list[str]:
    return [action.words for action in plan.actions]


def faults(plan: Plan) -> list[tuple[int, str, str]]:
    return [(fault.row, fault.column, fault.message) for fault in plan.faults]


def test_customers_are_made_added_to_and_left_alone(db: Session):
    customer = factories.create_customer(db, name="Süd Marine", phone="555 0100")
    content = (
        "Name,Email,Phone,Contact name,Firm\n"
        "sud marine,,555 0199,Ada Reed,\n"
        "Orla Finch,orla@finch.example,,,no\n"
        "Orla Finch,,555 0111,Bo Finch,\n"
        "Süd Marine,,,,\n"
    ).encode()
    answer = plan(db, "customers", content)
    assert not answer.faults
    assert words_of(answer) == [
        "adds contact Ada Reed to customer Süd Marine; unchanged: phone",
        "makes customer Orla Finch",
        "adds phone and contact Bo Finch to customer Orla Finch",
        "customer Süd Marine is on record",
    ]
    answer.carry_out(db, factories.BY)
    new_customer = db.scalars(select(Customer).where(Customer.name == "Orla Finch")).one()
    assert (new_customer.email, new_customer.phone) == ("orla@finch.example", "555 0111")
    assert [contact.name for contact in customer.contacts] == ["Ada Reed"]
    assert customer.phone == "555 0100"
    assert plan(db, "customers", content).changes_nothing


def test_heads_are_made_under_their_owner_and_type(db: Session):
    rows = [
        {"customer": "Orla Finch", "builder": "Hollin", "family": "K9", "engine cylinders": "4",
         "casting number": "HC 1", "serial": "S 1"},
        {"customer": "Orla Finch", "builder": "Hollin", "family": "K9", "engine cylinders": "",
         "casting number": "HC 1", "serial": "s-1"},
    ]  # fmt: skip
    twice = plan(db, "heads", rows)
    assert faults(twice) == [(3, "serial", "the same head as in row 2; serials tell heads apart")]
    answer = plan(db, "heads", rows[:1])
    assert words_of(answer) == [
        "makes head HC 1 S 1 of Orla Finch (new customer), Hollin K9 (new engine type)"
    ]
    answer.carry_out(db, factories.BY)
    head = db.scalars(select(Head)).one()
    owner = heads.owner(head)
    assert owner is not None
    assert (head.engine_type.title, owner.name) == ("Hollin K9", "Orla Finch")
    assert plan(db, "heads", rows[:1]).changes_nothing
    other = plan(db, "heads", [rows[0] | {"customer": "Bo Finch"}])
    assert faults(other)[0][:2] == (2, "serial")


def test_a_past_job_is_closed_dated_and_tested_as_typed(db: Session):
    row = past_jobs(1)[0] | {"0.600 in": ""}
    before = row | {"stage": "as received", "0.100 in": "30.0 / 31.0"}
    plan(db, "results", [before, row]).carry_out(db, factories.BY)
    job = db.scalars(select(Job)).one()
    assert (job.state, job.earlier_number) == (JobState.COLLECTED, "A-1000")
    # The first test was made on 1 January 2010 in the shop, which is six hours behind.
    assert job.number == "2010-0001"
    assert job.booked_in_at.isoformat() == "2010-01-01T06:00:00+00:00"
    first, second = job.heads[0].sessions
    document = sessions.document(first)
    assert (document.stage, document.lifts[1]) == ("as received", Decimal("0.100"))
    assert document.flows[1] == (Decimal("30.0"), Decimal("31.0"))
    assert len(document.lifts) == 11
    assert document.notes == (
        "Not noted with the test but stated at import: barometer 29.92 inHg, temperature 68 degF."
    )
    assert second.gain_over_first is not None
    events = db.scalars(select(Event).where(Event.job_id == job.id)).all()
    assert {event.at for event in events} == {factories.NOW}
    assert {event.verb for event in events} == {"booked in", "taken in", "tested", "moved"}


def test_a_later_test_is_added_to_its_job_and_another_figure_refused(db: Session):
    row = past_jobs(1)[0]
    plan(db, "results", [row]).carry_out(db, factories.BY)
    later = row | {"stage": "bowls blended"}
    answer = plan(db, "results", [row, later])
    assert [action.kind for action in answer.actions] == ["already there", "added to a past job"]
    answer.carry_out(db, factories.BY)
    assert len(db.scalars(select(Job)).one().heads[0].sessions) == 2
    changed = plan(db, "results", [row | {"0.100 in": "99"}])
    assert faults(changed)[0][:2] == (2, "job")
    stranger = plan(db, "results", [later | {"customer": "Bo Finch"}])
    assert faults(stranger)[0][:2] == (2, "customer")


def test_a_head_that_came_twice_is_one_head_and_its_owner_of_now_stays(db: Session):
    first, second = past_jobs(2)
    second = second | {name: first[name] for name in ("serial", "casting number", "family")}
    plan(db, "results", [second, first]).carry_out(db, factories.BY)
    head = db.scalars(select(Head)).one()
    assert len(head.visits) == 2
    owner = heads.owner(head)
    assert owner is not None
    assert owner.name == second["customer"]


def test_a_continental_file_reads_the_same(db: Session):
    row = past_jobs(1)[0]
    content = csv_of(
        [
            {
                (name.replace("0.", "0,") if name.endswith(" in") else name): text.replace(".", ",")
                for name, text in (row | {"date": "1.1.2010", "customer": "Müller"}).items()
            }
        ],
        ";",
    ).decode()
    content = content.replace("1,1,2010", "1.1.2010")
    written = {
        "encoding": "windows-1252",
        "separator": "semicolon",
        "decimal_mark": "comma",
        "date_order": "dmy",
    }
    answer = plan(db, "results", content.encode("cp1252"), **written)
    assert not answer.faults
    answer.carry_out(db, factories.BY)
    job = db.scalars(select(Job)).one()
    assert job.customer.name == "Müller"
    assert sessions.document(job.heads[0].sessions[0]).lifts[1] == Decimal("0.100")


def test_units_stand_in_the_cell_the_heading_or_a_column(sqlite_db: Session):
    row = past_jobs(1)[0]
    row["valve diameter (mm)"] = row.pop("valve diameter").removesuffix(" mm")
    row["test pressure"], row["test pressure unit"] = "28", "inH2O"
    row["0.050 in (L/s)"] = row.pop("0.050 in")
    answer = plan(sqlite_db, "results", [row])
    assert faults(answer) == [
        (2, "0.600 in", "flows of one test in L/s and cfm: use one unit"),
    ]
    row["0.050 in"] = row.pop("0.050 in (L/s)")
    assert not plan(sqlite_db, "results", [row]).faults


def test_what_looks_like_a_formula_is_text(sqlite_db: Session):
    answer = plan(sqlite_db, "customers", b"name,notes\n'=Sum Racing,=1+1\n")
    assert words_of(answer) == ["makes customer =Sum Racing"]


@pytest.mark.parametrize(
    ("content", "written", "fault"),
    [
        (b"", {}, (1, "", "the first row must hold the headings")),
        (b"name\n", {}, (2, "", "there is no row under the headings")),
        (b"name;phone\nA;1\n", {}, (1, "", "one column only: is the separator a semicolon?")),
        (b"nmae,phone\nA,1\n", {}, (1, "name", "this column is missing")),
        (b"name,name\nA,B\n", {}, (1, "name", "this column appears twice: remove one")),
        (b"name\nA,B\n", {}, (2, "B", "'B' stands under no heading")),
        (b"name\nM\xfcller\n", {},
         (0, "", "line 2 is not written in UTF-8: choose the other character encoding")),
        ("name\nA\n".encode("utf-16"), {},
         (0, "", "the file is written in UTF-16; save it as 'CSV UTF-8'")),
        (b'name\n"A"b\n', {}, (0, "", "line 2 is not CSV: ',' expected after '\"'")),
        (b"name\n" + b"A\n" * (OF_A_PAGE.rows + 1), {},
         (0, "", "more than 20,000 rows: import them in parts")),
        (b",".join([b"name"] * (MOST_COLUMNS + 1)) + b"\nA\n", {},
         (1, "", "more than 200 columns")),
        (b"name\n" + b"A" * 2001 + b"\n", {},
         (2, "name", "2,001 characters is too long: enter at most 2,000")),
        (b"name\nA\x00B\n", {}, (2, "name",
          "contains a character that cannot be stored: remove it")),
        (b"name,firm\nA,perhaps\n", {}, (2, "firm", "'perhaps' is neither yes nor no")),
        (b"name,tax rate\nA,x\n", {}, (2, "tax rate", "'x' is not a number")),
        (b"name,contact role\nA,boss\n", {},
         (2, "contact name", "required: the row has other details of this contact")),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_said_at_its_place(sqlite_db: Session, content, written, fault):
    assert fault in faults(plan(sqlite_db, "customers", content, **written))


def test_a_marked_utf_8_file_reads_as_one_without(sqlite_db: Session):
    answer = plan(sqlite_db, "customers", b"\xef\xbb\xbfname\nA\n")
    assert words_of(answer) == ["makes customer A"]


@pytest.mark.parametrize("kind", kinds.KINDS.values(), ids=lambda kind: kind.code)
def test_every_template_can_be_brought_in_as_it_is(sqlite_db: Session, kind: kinds.Kind):
    rows = [{name: example.get(name, "") for name in kind.headings} for example in kind.examples]
    answer = plan(sqlite_db, kind.code, rows)
    assert not answer.faults
    assert len(answer.actions) == len(rows)


def test_many_heads_on_one_past_job_have_tags_of_letters_alone(db: Session):
    rows = [row | {"job": "A-1", "customer": "Bo Finch", "family": "K1"} for row in past_jobs(28)]
    plan(db, "results", rows).carry_out(db, factories.BY)
    (job,) = db.scalars(select(Job))
    tags = [visit.tag.removeprefix(f"{job.number}-") for visit in job.heads]
    # As spreadsheets name their columns.
    assert tags == [*ascii_uppercase, "AA", "AB"]


def test_a_head_written_two_ways_is_not_brought_in_twice_from_rows_in_another_order(db: Session):
    row = past_jobs(1)[0]
    other = row | {"stage": "later", "casting number": "HC 0 b"}
    plan(db, "results", [row, other]).carry_out(db, factories.BY)
    (job,) = db.scalars(select(Job))
    assert [test.head for test in job.heads[0].sessions] == [
        "casting HC 0, serial S-0",
        "casting HC 0 b, serial S-0",
    ]
    for again in ([row, other], [other, row], [other]):
        assert plan(db, "results", again).changes_nothing


@pytest.mark.parametrize(
    ("column", "typed", "words"),
    [
        ("date", "2931-03-14", "'2931-03-14' is in the future: enter the date the test was made"),
        ("cylinder", "99", "'99' is not a cylinder of this engine: enter a number from 1 to 4"),
    ],
)
def test_a_past_result_of_the_future_or_of_no_cylinder_is_a_fault_of_its_row(
    db: Session, column: str, typed: str, words: str
):
    """The second row is like the first, which was checked whole."""
    rows = past_jobs(2)
    assert not plan(db, "results", rows).faults
    for row in (0, 1):
        changed = [dict(item) for item in past_jobs(2)]
        changed[row][column] = typed
        assert faults(plan(db, "results", changed)) == [(row + 2, column, words)]
