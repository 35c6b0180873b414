"""Taking records out through the pages."""

from __future__ import annotations

import io
import json
import zipfile

from shopflow.models import Role
from tests import factories


def test_the_owner_takes_everything_out(client, db):
    factories.create_customer(db, name="Orla Finch")
    page = client.page("/export")
    answer = client.get(page.links["Download JSON"])
    assert answer.headers["Content-Disposition"].endswith('.json"')
    document = json.loads(answer.data)
    assert [row["name"] for row in document["tables"]["customer"]] == ["Orla Finch"]
    answer = client.get(page.links["Download all tables"])
    with zipfile.ZipFile(io.BytesIO(answer.data)) as file:
        assert "Orla Finch" in file.read("customers.csv").decode()


def test_nobody_else_does(signed_in):
    for role in (Role.MACHINIST, Role.COUNTER, Role.READER):
        client = signed_in(role)
        for address in ("/export", "/export/records.json", "/export/records.zip"):
            client.page(address, status=403)
