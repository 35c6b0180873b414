"""An engine type's past results on its page: narrowed down, drawn, ranked, kept as CSV, reused."""

from __future__ import annotations

import csv
import io

import pytest
from flask.testing import FlaskClient

from shopflow.models import Role
from shopflow.services.jobs import jobs
from tests.cli.sessions import AFTER_US, EXHAUST_SI, INTAKE_US
from tests.factories import (
    create_customer,
    create_engine_type,
    create_operation,
    create_session,
    create_visit,
)
from tests.web.client import words


@pytest.fixture
def kind(db):
    """An engine type nobody has brought yet."""
    return create_engine_type(db, builder="Hollin", family="Comet")


@pytest.fixture
def visits(db, kind):
    """Three heads of it, tested on both sides before and after a seat cut."""
    rows = []
    for number in range(3):
        customer = create_customer(db, name=f"=Tarn {number}")
        purpose = "drag" if number == 1 else "street"
        visit = create_visit(db, customer=customer, engine_type=kind, purpose=purpose)
        create_session(db, visit, INTAKE_US.replace("140.5", f"{139 + number}.0"))
        step = create_operation(db, visit, "seat-cut", instructions="Intakes to 39")
        create_session(db, visit, AFTER_US.replace("154.5", f"{150 + number}.0"), after=step)
        create_session(db, visit, EXHAUST_SI, after=step)
        rows.append(visit)
    return rows


AIR = {
    "air-barometer": "29.92 inHg",
    "air-temperature": "70 degF",
    "air-humidity": "40 %",
}


def headings(page):
    return [words(item) for item in page.tree.findall(".//main//h2")]


def ranked(page):
    """Rows of the table of every test with its place."""
    (table,) = page.tree.xpath("//*[@id='ranking']//table")
    return [[words(cell) for cell in row] for row in table.findall(".//tbody/tr")]


def test_a_type_without_tests_says_so(client, kind):
    page = client.page(f"/engines/{kind.id}")
    assert headings(page) == ["Usual for this type", "Past results", "Past jobs"]
    assert "No flow tests of this engine type yet." in page.text


def test_one_test_is_drawn_itself_without_a_band(client, db, kind):
    visit = create_visit(db, engine_type=kind)
    create_session(db, visit)
    page = client.page(f"/engines/{kind.id}")
    assert "1 flow test of the intake side" in page.text
    assert "A band needs three heads" in page.text
    assert "two tests with their sizes recorded" in page.text
    assert "Its condition on arrival is not on record." in page.text
    assert [row[0] for row in ranked(page)] == ["1"]


def test_the_page_shows_band_best_measurements_and_ranks(client, kind, visits):
    page = client.page(f"/engines/{kind.id}")
    assert headings(page) == [
        "Usual for this type", "Past results", "Best so far", "Past jobs",
        "All tests, best first", "Measurement against result",
    ]  # fmt: skip
    assert "6 flow tests of the intake side, of 3 heads" in page.text
    assert "effective area, shown as flow at 28 inH₂O in air of 1.204 kg/m³" in page.text
    assert "in about half of cases" in page.text
    assert page.tree.xpath("//*[name()='polygon'][@class='band']")
    assert len(page.tree.find_class("chart-box")) == 4
    assert page.text.count("common practice, no source") > 1
    best = ranked(page)[0]
    assert best[0] == "1"
    assert best[1].startswith(f"{visits[2].tag} seat cut")
    assert "Cut seats Intakes to 39" in page.text


@pytest.mark.parametrize(
    ("asked", "count"),
    [
        ("side=exhaust", 3),
        ("stage=as+received,+state+unknown", 3),
        ("stage=last+of+each+port", 3),
        ("purpose=drag", 2),
        ("side=exhaust&purpose=drag&over=L/D", 1),
        ("least_valve=1.7+in&most_valve=44+mm&kin=own", 6),
        ("least_valve=50+mm", 0),
        ("since=2026-03-05&until=2026-03-05", 6),
        ("until=2026-03-04", 0),
    ],
)
def test_it_is_narrowed_down_by_what_stands_in_the_address(client, kind, visits, asked, count):
    page = client.page(f"/engines/{kind.id}?{asked}")
    if count:
        assert f"{count} flow test" in page.text
        assert len(ranked(page)) == count
    else:
        assert "No flow tests match these filters: use fewer filters." in page.text
    for name, value in (pair.split("=") for pair in asked.split("&")):
        # Relatives are only asked about where there are any.
        if name != "kin":
            assert page.value(name) == value.replace("+", " ")


def test_a_fault_in_a_filter_shows_at_its_field_and_nothing_typed_is_lost(client, kind, visits):
    page = client.page(f"/engines/{kind.id}?least_valve=44+kg&most_valve=wide&purpose=drag", 422)
    assert (
        page.fault("least_valve")
        == "'kg' is a unit of mass, not of length; use one of mm, cm, m, in, ft"
    )
    assert "is not a number and a unit" in page.fault("most_valve")
    assert [page.value(name) for name in ("least_valve", "most_valve", "purpose")] == [
        "44 kg", "wide", "drag",
    ]  # fmt: skip
    page = client.page(f"/engines/{kind.id}?since=2026-03-02&until=2026-03-01", 422)
    assert page.fault("until") == "Not before the day it begins"


def test_relatives_are_named_and_can_be_left_out(client, db, kind, visits):
    late = create_engine_type(db, builder="Hollin", family="Comet late")
    create_session(db, create_visit(db, engine_type=late))
    page = client.page(f"/engines/{kind.id}")
    assert "Hollin Comet late" in page.links
    assert "7 flow tests" in page.text
    assert "6 flow tests" in client.page(f"/engines/{kind.id}?kin=own").text


def test_the_rows_are_kept_as_csv_with_numbers_as_numbers(client, kind, visits):
    page = client.page(f"/engines/{kind.id}?stage=seat+cut")
    answer = client.get(page.links["Download CSV"])
    assert answer.mimetype == "text/csv"
    assert "attachment" in answer.headers["Content-Disposition"]
    rows = list(csv.DictReader(io.StringIO(answer.text.lstrip("\ufeff"))))
    assert [row["place"] for row in rows] == ["1", "2", "3"]
    assert [row["head"] for row in rows] == [visit.tag for visit in reversed(visits)]
    # A customer's name that a spreadsheet would take for a formula.
    assert {row["customer"] for row in rows} == {"'=Tarn 0", "'=Tarn 1", "'=Tarn 2"}
    assert float(rows[0]["valve head, in"]) == 1.732
    assert float(rows[0]["seat angle, deg"]) == 45.0
    assert float(rows[0]["peak flow, cfm"]) == pytest.approx(
        float(ranked(page)[0][5].split()[0]), abs=0.05
    )
    assert client.get(f"/engines/{kind.id}/results.csv?least_valve=44+kg").status_code == 400
    assert client.get("/engines/4711/results.csv").status_code == 404
    assert client.get(f"/engines/{kind.id}/results.csv?engine_type_id=7&q=1").status_code == 200


def test_strange_questions_are_only_questions(client, kind, visits):
    for wanted in ("side=top", "stage=%00", "over=x", "engine_type_id=3&_external=1", "kin=x"):
        assert client.get(f"/engines/{kind.id}?{wanted}").status_code in (200, 422), wanted


def test_hints_stand_on_a_sessions_page(client, visits):
    page = client.page(f"/flow-tests/{visits[0].sessions[-1].id}")
    assert "Hints on where to look first" in page.text
    assert "Source: common practice, no source." in page.text


def test_a_look_up_says_why(client, visits):
    rows = client.page("/look-up?q=comt tarn").rows
    assert len(rows) == 3
    assert all("Matches engine Comet; customer =Tarn" in row[0] for row in rows)
    assert "found by displaces 1792 cm³" in client.page("/search?q=1792 cc").text


def test_a_new_job_starts_like_a_past_one(client, db, kind, visits):
    past = visits[2]
    page = client.page(f"/engines/{kind.id}")
    address = page.links["Copy job"]
    assert address == f"/jobs/new?like={past.job.number}"
    page = client.page(address)
    wanted = page.value("job-asked_for")
    assert wanted.startswith(
        f"More flow, street manners kept\nLike job {past.job.number}.\nIntake:"
    )
    assert "test at lifts 0.06, 0.15, 0.25, 0.35, 0.45 in. To reach over them: mean" in wanted
    assert "Exhaust: test at lifts 1, 2.5, 4, 6, 8, 10, 12 mm" in wanted
    assert page.value("routing_id") == f"like:{past.tag}"
    assert page.value("engine_type_id") == str(kind.id)
    typed = {"customer-name": "Orla Finch", "heads-0-serial": "N1"}
    page = client.submit(page, typed)
    row = jobs.recent(db, 1)[0]
    assert row.customer.name == "Orla Finch"
    (visit,) = row.heads
    assert visit.head.engine_type is kind
    assert [(step.kind.code, step.instructions) for step in visit.operations] == [
        ("seat-cut", "Intakes to 39")
    ]
    # One like that one does not say twice what it took over.
    again = client.page(f"/jobs/new?like={row.number}").value("job-asked_for")
    assert again == f"More flow, street manners kept\nLike job {row.number}."


def test_the_steps_stay_chosen_while_the_form_is_mended(client, visits):
    page = client.page(f"/jobs/new?like={visits[0].job.number}")
    page = client.submit(page, {"customer-name": ""}, status=422)
    assert page.value("routing_id") == f"like:{visits[0].tag}"
    assert "Cut seats. Added to each head" in page.text


def test_a_job_that_is_not_on_file_starts_none(client, kind):
    assert client.get("/jobs/new?like=2020-0001").status_code == 404
    assert client.get("/jobs/new?like=%00").status_code == 200


def test_who_books_nothing_in_is_offered_nothing_to_start(signed_in, kind, visits):
    page = signed_in(Role.MACHINIST).page(f"/engines/{kind.id}")
    assert "Copy job" not in page.links
    assert "Download CSV" in page.links


def test_past_results_lie_behind_the_curve_of_another_head(client, db, kind, visits):
    fresh = create_visit(db, engine_type=kind)
    mine = create_session(db, fresh, INTAKE_US)
    assert "3 past heads: the middle half" in client.page(f"/flow-tests/{mine.id}").text
    assert client.page(f"/flow-tests/{mine.id}").tree.findall(".//svg//polygon[@class='band']")
    other = client.page(f"/flow-tests/{mine.id}?plot=velocity")
    assert not other.tree.findall(".//svg//polygon[@class='band']")
    page = client.page(f"/heads/{fresh.tag}/test")
    data = dict(page.form("").form_values()) | {"rows-0-first": "60", "rows-1-first": "90"} | AIR
    # A piece of a page, which the checking of whole pages does not fit.
    address = f"/heads/{fresh.tag}/test/results"
    client.release_writes()
    shown = FlaskClient.open(client, address, method="POST", data=data)
    assert "3 past heads: the middle half" in shown.text


def test_a_point_of_a_scatter_leads_to_its_test(client, kind, visits):
    page = client.page(f"/engines/{kind.id}")
    links = {point.get("data-link") for point in page.tree.findall(".//svg//g[@data-link]")}
    assert links == {f"/flow-tests/{row.id}" for visit in visits for row in visit.sessions
                     if row.side == "intake"}  # fmt: skip
