"""Bench mode: heads, ports and benches to choose from, and the set-up that a test starts with."""

from __future__ import annotations

from datetime import timedelta

import pytest
from flask.testing import FlaskClient

from shopflow.models import Role
from shopflow.services.actor import Actor
from shopflow.services.bench import benches, test_drafts, testable_heads
from shopflow.services.jobs import jobs
from shopflow.services.registry import casting_status
from shopflow.web.bench.bench_mode.scans import label_of
from tests.cli.sessions import EXHAUST_SI, INTAKE_US
from tests.factories import (
    BY,
    create_bench,
    create_engine_type,
    create_operation,
    create_planned_visit,
    create_session,
    create_visit,
)
from tests.web.client import words
from tests.web.test_sessions import enter_test


def tiles(page, heading=""):
    """Addresses of the tiles of a page, by their words."""
    return {
        words(tile): tile.get("href") for tile in page.tree.xpath("//a[contains(@class,'tile')]")
    }


def keep_draft(db, visit, **typed):
    fields = {"side": "intake", "rows-0-lift": "0.1", "rows-0-first": "47.8", **typed}
    return test_drafts.keep(
        db, BY, visit, key=test_drafts.new_key(), writer="w", seen=0, typed=fields
    )


def test_heads_that_await_a_flow_test_come_first(client, db):
    other, waiting = create_visit(db), create_visit(db)
    create_operation(db, other, "hot-wash")
    create_operation(db, waiting)
    page = client.page("/bench")
    assert list(tiles(page).values()) == [f"/bench/{waiting.tag}", f"/bench/{other.tag}"]
    assert "Next: Hot-wash" in page.text


@pytest.mark.parametrize(
    "typed", ["{tag}", " {tag} ", "https://shop.example/heads/{tag}", "{tag}?x=1 /heads/{tag}#top"]
)
def test_a_label_typed_or_scanned_leads_to_its_ports(client, db, typed):
    tag = create_visit(db).tag
    page = client.page(f"/bench?label={typed.format(tag=tag).replace('#', '%23')}")
    assert page.path == f"/bench/{tag}"


def test_an_unknown_label_is_quoted_and_stays(client, db):
    create_visit(db)
    page = client.page("/bench?label=2020-0001-Z")
    assert page.fault("label").startswith("No open job has a head with the label “2020-0001-Z”")
    assert page.value("label") == "2020-0001-Z"


def test_a_label_is_read_from_the_address_in_its_code():
    assert label_of("http://10.0.0.5:8000/heads/2026-0001-a?x=1") == "2026-0001-A"
    assert label_of("") == ""


def test_the_ports_are_those_of_the_layout(client, db):
    visit = create_planned_visit(db, cylinders="3", exhaust="", exhaust_ports="1, 2+3")
    ports = testable_heads.ports(visit)
    assert [port.label for port in ports["intake"]] == ["1", "2", "3"]
    assert [(port.label, port.cylinder) for port in ports["exhaust"]] == [
        ("1", "1"),
        ("2 + 3", "2"),
    ]
    assert "Exhaust 2 + 3" in tiles(client.page(f"/bench/{visit.tag}"))


def test_without_a_layout_every_cylinder_of_the_engine_is_offered(db):
    ports = testable_heads.ports(create_visit(db))
    assert [port.cylinder for port in ports["intake"]] == ["1", "2", "3", "4", ""]


def test_a_port_tested_on_this_visit_says_its_stage(client, db):
    visit = create_visit(db)
    create_session(db, visit, INTAKE_US.replace("side =", 'cylinder = "2"\nside ='))
    assert "Intake 2 ✓ as received" in tiles(client.page(f"/bench/{visit.tag}"))


def test_the_chosen_port_and_bench_are_the_test_that_starts(client, db):
    visit = create_visit(db)
    create_session(db, visit)
    bench = create_bench(db)
    page = client.page(f"/bench/{visit.tag}/benches?side=exhaust&cylinder=3")
    start = f"{bench.name}, whole scale not calibrated"
    (address,) = (href for text, href in tiles(page).items() if text.startswith(start))
    page = client.page(address)
    typed = [page.value(name) for name in ("side", "cylinder", "bench-name")]
    assert typed == ["exhaust", "3", bench.name]


def test_a_shop_without_a_bench_on_record_goes_straight_to_the_test(client, db):
    visit = create_visit(db)
    page = client.page(f"/bench/{visit.tag}/benches?side=intake&cylinder=1")
    assert page.path.startswith(f"/bench/{visit.tag}/test")


@pytest.mark.parametrize("query", ["", "?side=left", "?side="])
def test_without_a_side_the_port_is_asked_again(client, db, query):
    visit = create_visit(db)
    assert client.page(f"/bench/{visit.tag}/benches{query}").path == f"/bench/{visit.tag}"


def test_the_set_up_is_that_of_the_last_test_of_the_side(client, db):
    visit = create_visit(db)
    create_session(db, visit, EXHAUST_SI)
    create_session(db, visit)
    page = client.page(f"/bench/{visit.tag}/test?side=exhaust&cylinder=1")
    assert page.value("valve-head_diameter") == "36.5 mm"
    assert page.value("lift_unit") == "mm"


def test_room_air_read_today_on_another_head_is_used(client, db):
    now = Actor.now(None)
    today = f"schema = 1\nmeasured_at = {now.at - timedelta(minutes=1):%Y-%m-%dT%H:%M:%SZ}"
    create_session(db, None, INTAKE_US.replace("schema = 1", today), now)
    visit = create_visit(db)
    create_session(db, visit)
    page = client.page(f"/bench/{visit.tag}/test?side=intake&cylinder=1")
    assert page.value("air-barometer") == "29.41 inHg"
    assert "Room air of the last test" not in page.text


def test_room_air_of_another_day_is_asked_for_above_the_readings(client, db):
    visit = create_visit(db)
    create_session(db, visit)
    page = client.page(f"/bench/{visit.tag}/test?side=intake&cylinder=1")
    wanted = page.tree.xpath("//*[contains(@class,'to-fill')]//input/@name")
    assert wanted == ["air-barometer", "air-temperature", "air-humidity"]
    assert "Room air of the last test is from" in page.text


def test_an_open_test_is_listed_and_must_end_before_another_port(client, db):
    visit = create_visit(db)
    keep_draft(db, visit)
    page = client.page("/bench")
    open_tile = next(text for text in tiles(page) if "Intake test, 1 reading" in text)
    assert tiles(page)[open_tile] == f"/bench/{visit.tag}/test"
    page = client.page(f"/bench/{visit.tag}")
    assert tiles(page) == {}
    assert page.links["Continue test"] == f"/bench/{visit.tag}/test"
    page = client.page(f"/bench/{visit.tag}/test?side=exhaust&cylinder=2")
    assert page.value("side") == "intake"


def test_an_open_test_without_a_reading_takes_the_port_chosen(client, db):
    visit = create_visit(db)
    draft = keep_draft(db, visit, **{"rows-0-first": ""})
    page = client.page(f"/bench/{visit.tag}/test?side=exhaust&cylinder=2")
    assert (page.value("side"), page.value("entry")) == ("exhaust", draft.key)


def test_the_saved_test_leads_back_to_the_ports(client, db):
    visit = create_visit(db)
    page = enter_test(client, visit, address=f"/bench/{visit.tag}/test")
    (row,) = visit.sessions
    assert page.path == f"/bench/{visit.tag}?saved={row.id}"
    assert page.links["Show results"] == f"/flow-tests/{row.id}"
    assert "The test is saved." in page.notices


def test_a_reading_that_cannot_be_is_asked_about_before_it_is_saved(client, db):
    visit = create_visit(db)
    address = f"/bench/{visit.tag}/test"
    page = enter_test(client, visit, {"rows-0-first": "810"}, status=422, address=address)
    assert visit.sessions == []
    (fault,) = page.tree.xpath("//*[@id='rows-0-first-fault']/text()")
    assert "810" in fault
    assert "cannot be" in fault
    enter_test(client, visit, {"rows-0-first": "810", "as_doubtful": "y"}, address=address)
    db.expire_all()
    (row,) = visit.sessions
    page = client.page(f"/bench/{visit.tag}")
    assert "check reading" in page.text
    assert "no opening passes more than the ideal" in client.page(f"/flow-tests/{row.id}").text


def test_faults_of_folded_fields_unfold_the_set_up(client, db):
    visit = create_visit(db)
    address = f"/bench/{visit.tag}/test"
    page = enter_test(client, visit, {"valve-stem_diameter": "9 m/s"}, status=422, address=address)
    assert page.tree.get_element_by_id("set-up").get("open") is not None
    page = enter_test(client, visit, {"rows-1-first": "12,,3"}, status=422, address=address)
    assert page.tree.get_element_by_id("set-up").get("open") is None


@pytest.mark.parametrize("size", [("900", "500"), ("99999", "1"), ("x", ""), ("-5", "1e3")])
def test_the_curve_is_drawn_in_the_room_there_is(client, db, size):
    visit = create_visit(db)
    tag = visit.tag
    page = client.page(f"/bench/{tag}/test")
    data = {**dict(page.form("").form_values()), "chart_width": size[0], "chart_height": size[1]}
    for name, value in {"air-barometer": "29.41 inHg", "air-temperature": "71 degF",
                        "valve-head_diameter": "44 mm", "rows-0-first": "40"}.items():  # fmt: skip
        data[name] = value
    address = f"/heads/{tag}/test/results?layout=bench"
    # A piece of a page, which the client does not know.
    answer = FlaskClient.open(client, address, method="POST", data=data)
    assert answer.status_code == 200
    assert ('viewBox="0 0 900 500"' in answer.text) == (size == ("900", "500"))
    assert "Mean flow so far" in answer.text


def test_scans_open_bench_mode_on_the_device_that_asks_for_it(client, db):
    tag = create_visit(db).tag
    assert client.page(f"/heads/{tag}").path == f"/heads/{tag}"
    client.press("/bench", "Open flow test")
    assert client.page(f"/heads/{tag}").path == f"/bench/{tag}"
    answer = client.get(f"/heads/{tag}", headers={"Referer": "http://localhost/"})
    assert answer.status_code == 200
    client.press("/bench", "Open head’s page")
    assert client.page(f"/heads/{tag}").path == f"/heads/{tag}"


def test_the_counter_takes_no_test(signed_in, db):
    tag = create_visit(db).tag
    counter = signed_in(Role.COUNTER)
    for address in ("/bench", f"/bench/{tag}", f"/bench/{tag}/test"):
        assert counter.get(address).status_code == 403
    assert benches.list_all(db) == []


def begin_own(client, db, **values):
    """The ports of a head that nobody booked in."""
    engine_type = create_engine_type(db)
    values = {"engine_type": str(engine_type.id), **values}
    return client.submit("/bench", values, action="/bench/own-heads")


def test_a_head_without_a_job_is_tested_in_three_answers(client, db):
    page = begin_own(client, db, serial="mule 1")
    assert "in development, without a job" in page.text
    tag = page.path.removeprefix("/bench/")
    page = client.page(f"/bench/{tag}/benches?side=exhaust&cylinder=2")
    assert page.path.startswith(f"/bench/{tag}/test")
    assert f"/bench/{tag}" in tiles(client.page("/bench")).values()
    assert "mule 1" not in client.page("/").text
    assert client.page(f"/heads/{tag}").heading
    assert client.page(f"/jobs/{tag[:-2]}").heading


def test_the_engine_type_of_a_head_without_a_job_must_be_chosen(client, db):
    create_engine_type(db)
    page = client.submit("/bench", action="/bench/own-heads", status=422)
    assert page.fault("engine_type")


def test_a_spare_casting_is_tested_by_one_tap(client, db):
    spare = casting_status.add_spare(db, BY, create_engine_type(db), {"serial": "S 900"}, "")
    page = client.page("/bench")
    (action,) = page.tree.xpath("//button[contains(@class,'tile')]/ancestor::form/@action")
    assert action == f"/bench/own-heads/{spare.id}"
    page = client.submit(page, action=action)
    assert "serial S 900" in page.text


def test_the_tests_of_a_head_without_a_job_move_to_one(client, db):
    tag = begin_own(client, db).path.removeprefix("/bench/")
    visit = jobs.visit(db, tag)
    create_session(db, visit)
    assert "No open job has a head" in client.page(f"/bench/{tag}/move").text
    to = create_visit(db, engine_type=visit.head.engine_type)
    page = client.submit(f"/bench/{tag}/move", {"label": to.tag})
    assert page.path == f"/heads/{to.tag}"
    assert page.notices == [f"The tests of {tag} are on {to.tag} now."]
    assert "End development" not in client.page(f"/bench/{tag}").text


def test_development_is_ended_from_its_ports(client, db):
    page = begin_own(client, db)
    tag = page.path.removeprefix("/bench/")
    page = client.press(page, "End development")
    assert page.path == "/bench"
    assert f"/bench/{tag}" not in tiles(page).values()
