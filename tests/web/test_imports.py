"""Bringing records in through the pages."""

from __future__ import annotations

import io

from sqlalchemy import event, select

from shopflow.models import Customer, Job, Role
from tests.services.imports.files import AIR, csv_of, past_jobs

TOLD = {"encoding": "utf-8", "separator": "comma", "decimal_mark": "point", "date_order": "ymd"}


def uploaded(client, code, content, status=200, **told):
    page = client.page(f"/import/{code}")
    token = page.form().fields["csrf_token"]
    data = {**TOLD, **told, "csrf_token": token, "file": (io.BytesIO(content), "records.csv")}
    return client._page(client.post(f"/import/{code}", data=data), status)


def test_a_file_is_shown_then_written_then_known_again(client, db):
    content = b"name,phone\nOrla Finch,555 0100\n"
    page = uploaded(client, "customers", content)
    assert page.rows == [["2", "Makes customer Orla Finch"]]
    assert db.scalars(select(Customer)).all() == []
    page = client.press(page, "Import all rows")
    assert page.notices == ["Imported: 1 row, new customer."]
    assert [customer.name for customer in db.scalars(select(Customer))] == ["Orla Finch"]
    page = uploaded(client, "customers", content)
    assert "there is nothing to import" in page.text


def test_faults_stand_by_row_and_column_and_nothing_can_be_written(client, db):
    row = past_jobs(1)[0]
    page = uploaded(client, "results", csv_of([row, row | {"job": "7", "side": "up"}]), **AIR)
    assert page.rows[0] == ["3", "side", 'Must be "intake" or "exhaust", not \'up\'.']
    assert not page.tree.xpath("//button[.='Import all rows']")
    answer = client.get(page.links["Download errors CSV"])
    assert answer.text.splitlines()[1].startswith("3,side,")


def test_air_that_nobody_states_is_asked_for_at_its_column(client):
    page = uploaded(client, "results", csv_of(past_jobs(1)))
    assert {row[1] for row in page.rows} == {"barometer", "temperature"}


def test_what_is_pasted_reads_as_a_file_would(client):
    page = client.submit("/import/customers", {"pasted": "name\nMüller\n", "file": None})
    assert page.rows == [["2", "Makes customer Müller"]]


def test_nothing_given_is_said_at_the_field(client):
    page = client.submit("/import/customers", {"file": None}, status=422)
    assert page.fault("file") == "No rows: choose a file, or paste its rows below"


def test_air_that_is_none_is_said_at_the_field(client):
    values = {"file": None, "pasted": "job\n1\n", "barometer": "high"}
    page = client.submit("/import/results", values, status=422)
    assert "is not a number and a unit" in page.fault("barometer")
    assert page.value("pasted").split() == ["job", "1"]


def test_records_changed_meanwhile_are_shown_anew(client, db):
    page = uploaded(client, "customers", b"name\nOrla Finch\nBo Finch\n")
    db.commit()
    other = uploaded(client, "customers", b"name\nOrla Finch\n")
    client.press(other, "Import all rows")
    page = client.press(page, "Import all rows", status=422)
    assert "records have changed since" in page.alerts
    assert page.rows[0] == ["2", "Customer Orla Finch is on record"]
    client.press(page, "Import all rows")
    assert len(db.scalars(select(Customer)).all()) == 2


def test_the_write_lock_is_held_only_while_rows_are_written(client, web_app):
    page = uploaded(client, "customers", b"name\nOrla Finch\n")
    rows = []

    def note(connection, cursor, statement, *rest):
        rows.append(statement)

    engine = web_app.extensions["shopflow.engine"]
    event.listen(engine, "before_cursor_execute", note)
    client.press(page, "Import all rows")
    event.remove(engine, "before_cursor_execute", note)
    begun = [index for index, statement in enumerate(rows) if statement.startswith("BEGIN")]
    # The language; who it is; what the file does; the writing.
    kinds = ["BEGIN", "BEGIN IMMEDIATE", "BEGIN", "BEGIN IMMEDIATE"]
    assert [rows[place] for place in begun[:4]] == kinds
    reading, writing = rows[begun[2] : begun[3]], rows[begun[3] : (*begun, len(rows))[4]]
    assert any("FROM engine_type" in statement for statement in reading)
    assert any(statement.startswith("INSERT INTO customer") for statement in writing)


def test_past_jobs_are_found_by_the_number_they_had(client, db):
    page = uploaded(client, "results", csv_of(past_jobs(2)), **AIR)
    client.press(page, "Import all rows")
    numbers = [job.number for job in db.scalars(select(Job).order_by(Job.id))]
    assert numbers == ["2010-0001", "2011-0001"]
    assert "found by earlier number A-1000" in client.page("/search?q=A-1000").text
    assert "A-1000" in client.page("/jobs/2010-0001").text


def test_a_template_has_every_heading(client):
    answer = client.get("/import/results/template.csv")
    assert answer.text.startswith("\ufeffjob,customer,engine type,builder")
    assert "0.400 in" in answer.text.splitlines()[0]


def test_an_address_that_was_not_made_here_is_not_found(client):
    page = uploaded(client, "customers", b"name\nOrla Finch\n")
    path = page.path.partition("?")[0]
    for wrong in (f"{path}?separator=x", f"{path}?barometer=high", "/import/customers/abc",
                  f"/import/customers/{'0' * 64}", "/import/nothing"):  # fmt: skip
        client.page(wrong, status=404)


def test_only_the_owner_brings_records_in(signed_in):
    for role in (Role.MACHINIST, Role.COUNTER, Role.READER):
        signed_in(role).page("/import", status=403)
