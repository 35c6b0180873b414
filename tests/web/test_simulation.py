"""Flow tests of a head downloaded for engine simulation."""

from __future__ import annotations

import csv
import io
import zipfile

from tests import factories
from tests.cli.sessions import AFTER_US, EXHAUST_SI, INTAKE_US


def table(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_each_port_s_last_tests_are_ticked_and_downloaded(client, db):
    visit = factories.create_visit(db)
    for text in (INTAKE_US, EXHAUST_SI, AFTER_US, AFTER_US.replace("25 inH2O", "10 inH2O")):
        factories.create_session(db, visit, text)
    page = client.page(f"/heads/{visit.head_id}")
    page = client.page(page.links["Download for simulation"])
    ticked = page.tree.xpath(".//main//input[@name='tests'][@checked]/@value")
    assert len(ticked) == 3
    query = [("tests", key) for key in ticked]
    address = f"/heads/{visit.head_id}/simulation"
    answer = client.get(address, query_string=[*query, ("file", "csv")])
    assert answer.headers["Content-Disposition"].endswith('.csv"')
    rows = table(answer.text)
    assert {(row["side"], row["test_pressure_pa"]) for row in rows} == {
        ("intake", "2490.8891"), ("intake", "6227.22275"), ("exhaust", "7200.0"),
    }  # fmt: skip
    answer = client.get(address, query_string=[*query, ("file", "zip")])
    with zipfile.ZipFile(io.BytesIO(answer.data)) as archive:
        assert table(archive.read("effective-area.csv").decode()) == rows
        assert visit.head.engine_type.title in archive.read("README.txt").decode()
    answer = client.get(address, query_string=[*query, ("file", "json")])
    assert [test["head"] for test in answer.json["tests"]] == [visit.tag] * 3


def test_without_a_choice_the_page_says_so(client, db):
    row = factories.create_session(db)
    page = client.page(f"/heads/{row.job_head.head_id}/simulation?file=zip", 422)
    assert "Choose at least one flow test" in page.text


def test_a_head_that_was_never_tested_has_nothing_to_download(client, db):
    visit = factories.create_visit(db)
    page = client.page(f"/heads/{visit.head_id}/simulation")
    assert "No flow tests yet" in page.text
    assert "Download for simulation" not in client.page(f"/heads/{visit.head_id}").links
