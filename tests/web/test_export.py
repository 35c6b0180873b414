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


def test_the_owner_takes_out_what_another_shop_imports(client, db):
    factories.create_head(db, serial="S 17")
    db.commit()
    answer = client.get(client.page("/export").links["Download heads CSV"])
    assert 'filename="shopflow-heads-' in answer.headers["Content-Disposition"]
    assert ",S 17," in answer.data.decode("utf-8-sig")
    page = client.submit("/import/heads", {"pasted": answer.data.decode("utf-8-sig")})
    assert "All of it is on record already" in page.text
    assert client.get("/export/nothing.csv").status_code == 404


def test_nobody_else_does(signed_in):
    for role in (Role.MACHINIST, Role.COUNTER, Role.READER):
        client = signed_in(role)
        for address in ("/export", "/export/records.json", "/export/records.zip",
                        "/export/heads.csv"):  # fmt: skip
            client.page(address, status=403)
