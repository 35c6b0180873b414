"""Open data on the pages: consent, export, import."""

from __future__ import annotations

import io
import json
import uuid

from sqlalchemy import select

from shopflow.models import Head, Role
from tests import factories
from tests.cli.sessions import INTAKE_US


def test_consent_export_and_import(client, db):
    row = factories.create_session(db)
    customer = row.job_head.job.customer
    assert "No customer has agreed yet" in client.page("/export").text
    address = f"/customers/{customer.id}"
    assert "Open data" not in client.page(address).text
    page = client.submit(f"{address}/change", {"open_data_consent": True})
    assert "agreed" in page.text
    page = client.page("/export")
    assert "1 head with 1 flow test" in page.text
    form = page.form("/export/open-data.json")
    answer = client.post("/export/open-data.json", data=dict(form.form_values()))
    assert answer.headers["Content-Disposition"] == 'attachment; filename="open-data.json"'
    (head,) = answer.json["heads"]
    assert "family" not in head["engine"]
    with_family = {**dict(form.form_values()), "with_family": "y"}
    named = client.post("/export/open-data.json", data=with_family).json["heads"]
    assert named[0]["engine"]["family"] == row.job_head.head.engine_type.family
    assert client.get("/export/open-data-schema.json").json["title"]
    content = answer.json
    content["heads"][0]["id"] = str(uuid.uuid4())
    file = json.dumps(content).encode()
    page = client.submit("/import/open-data", {"file": (io.BytesIO(file), "open-data.json")})
    assert "Imported: 1 head with 1 flow test." in page.notices
    page = client.submit("/import/open-data", {"file": (io.BytesIO(file), "open-data.json")})
    assert "1 flow test already there" in page.notices[0]
    assert "Open data" in client.page("/customers").text
    marked = db.scalars(select(Head).where(Head.from_open_data)).one()
    assert "Imported open data" in client.page(f"/heads/{marked.id}").text


def test_faults_of_a_file_are_shown_and_nothing_is_imported(client, db):
    factories.create_session(db, text=INTAKE_US)
    page = client.submit("/import/open-data", {}, status=422)
    assert "No contents: choose a file" in page.text
    wrong = b'{"format": "shopflow open data", "version": 1, "heads": [{"id": 5}]}'
    page = client.submit("/import/open-data", {"file": (io.BytesIO(wrong), "a.json")}, status=422)
    assert "heads[0].id" in page.text.casefold()
    assert "heads[0].tests" in page.text.casefold()


def test_only_the_owner_exports_it(signed_in):
    machinist = signed_in(Role.MACHINIST)
    assert machinist.get("/export/open-data-schema.json").status_code == 403
