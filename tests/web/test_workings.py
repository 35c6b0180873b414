"""Following a figure: its working, its budget, and what each step was worth."""

from __future__ import annotations

import pytest
from flask.testing import FlaskClient

from shopflow import testfile
from shopflow.services.bench import benches, sessions
from tests.cli.sessions import AFTER_US, EXHAUST_SI, INTAKE_US, METERED, STRAYING
from tests.factories import BY, create_engine_type, create_visit
from tests.web.client import words
from tests.web.test_comparisons import PORT_2
from tests.web.test_sessions import enter_test


@pytest.fixture
def visit(db):
    return create_visit(db)


def store_session(db, visit, text):
    return sessions.store(db, BY, visit, testfile.loads(text))


def test_every_figure_of_a_session_opens_to_its_working(client, db, visit):
    row = store_session(db, visit, INTAKE_US)
    page = client.page(f"/flow-tests/{row.id}")
    links = {link.get("href") for link in page.tree.findall(".//table[@class='figures']//a")}
    for key in (
        "flow-as-tested",
        "flow",
        "uncertainty",
        "cd-curtain",
        "cd-head",
        "cd-least-area",
        "velocity",
    ):
        assert f"/flow-tests/{row.id}/lifts/3#{key}" in links
    working = client.page(f"/flow-tests/{row.id}/lifts/3")
    for key in (
        "density",
        "flow",
        "uncertainty",
        "effective-area",
        "cd-least-area",
        "kinetic-energy-flux",
    ):
        assert working.tree.find(f".//section[@id='{key}']") is not None
    assert "101.0, 101.5, 100.8 cfm" in working.text
    # By hand: 1.013 x (101.1 - 0.8) = 101.604; by the root x sqrt(28/25) = 107.527 cfm.
    assert "Flow as tested: 101.6 cfm" in working.text
    assert "Flow at the reference pressure, by the root: 107.5 cfm" in working.text
    assert "Flow at the reference pressure, isentropic: " in working.text
    assert "Picard et al." in working.text


def test_a_lift_that_is_not_there_is_not_found(client, db, visit):
    row = store_session(db, visit, INTAKE_US)
    for place in (0, 7, 10**9):
        client.page(f"/flow-tests/{row.id}/lifts/{place}", status=404)


@pytest.mark.parametrize("text", [METERED, STRAYING], ids=["metered", "straying"])
def test_benches_that_read_otherwise_have_workings_too(client, db, visit, text):
    row = store_session(db, visit, text)
    assert "Working at lift" in client.page(f"/flow-tests/{row.id}/lifts/1").text
    assert "Meter" in client.page(f"/flow-tests/{row.id}").text


def test_the_budget_lists_components_with_their_sensitivity(client, db, visit):
    row = store_session(db, visit, INTAKE_US)
    page = client.page(f"/flow-tests/{row.id}")
    assert "Repeats, over all lifts" in page.text
    assert "cfm per %" in page.text
    assert "effective degrees of freedom" in page.text


def test_what_each_step_was_worth(client, db, visit):
    empty = client.page(f"/heads/{visit.tag}/gain-by-step")
    assert "No port of this head was tested twice yet" in empty.text
    store_session(db, visit, INTAKE_US)
    store_session(db, visit, AFTER_US)
    page = client.page(f"/heads/{visit.tag}/gain-by-step")
    assert "Altogether" in page.text
    assert "seat cut" in page.text
    assert page.tree.find(".//svg") is not None


def test_a_reading_is_typed_with_its_own_pressure(client, db, visit):
    enter_test(client, visit, {"rows-0-first": "47.8 @ 24.2"})
    document = sessions.document(visit.sessions[0])
    assert [[str(run) for run in runs] for runs in document.pressures] == [["24.2"], ["25", "25"]]
    assert document.pressure_unit == "inH2O"


@pytest.mark.parametrize("typed", ["47.8 @", "47.8 @ x", "47.8 @ -3", "@ 24"])
def test_a_pressure_that_cannot_be_is_said_at_its_cell(client, db, visit, typed):
    page = enter_test(client, visit, {"rows-0-first": typed}, status=422)
    assert page.fault("rows-0-first")
    assert page.value("rows-0-first") == typed
    assert visit.sessions == []


def test_a_range_with_an_element_sets_up_the_test(client, db, visit):
    bench = benches.create(db, BY, {"name": "South", "reading": "pressure difference"})
    address = f"/benches/{bench.id}/ranges/new"
    page = client.submit(address, {"name": "plate 60"}, status=422)
    assert page.fault("element_kind")
    sizes = {"element_diameter": "60 mm", "pipe_diameter": "100 mm"}
    client.submit(page, {"element_kind": "orifice plate, flange taps", **sizes})
    (added,) = bench.ranges
    page = client.page(f"/heads/{visit.tag}/test?range={added.id}")
    assert page.value("bench-element") == "orifice plate, flange taps"
    assert page.value("bench-element_diameter") == "60 mm"
    assert page.value("bench-reading") == "pressure difference"


def test_a_test_sent_twice_is_stored_once(client, db, visit):
    first = enter_test(client, visit, {"entry": "this-very-test"})
    again = enter_test(client, visit, {"entry": "this-very-test"})
    assert again.path == first.path
    assert len(visit.sessions) == 1


def test_each_value_is_kept_as_it_comes_and_found_again(client, db, visit):
    page = client.page(f"/heads/{visit.tag}/test")
    data = {**dict(page.form("").form_values()), "rows-0-first": "47.8", "stage": "seat cut"}
    address = f"/heads/{visit.tag}/test/results"
    client.release_writes()
    answer = FlaskClient.open(client, address, method="POST", data=data)
    assert (answer.status_code, answer.headers["X-Kept"]) == (200, "1")
    later = client.page(f"/heads/{visit.tag}/test")
    assert (later.value("rows-0-first"), later.value("stage")) == ("47.8", "seat cut")
    assert "You are continuing the intake test, 1 reading" in later.text
    # The first page wrote once more; the later one has not seen that.
    client.release_writes()
    again = FlaskClient.open(client, address, method="POST", data=data)
    assert again.headers["X-Kept"] == "2"
    stale = dict(later.form("").form_values())
    assert FlaskClient.open(client, address, method="POST", data=stale).status_code == 409
    client.submit(later.links["Discard test"])
    fresh = client.page(f"/heads/{visit.tag}/test")
    assert fresh.value("rows-0-first") == ""


def test_lifts_are_set_by_the_diameter(client, visit):
    page = client.page(f"/heads/{visit.tag}/test")
    data = dict(page.form("").form_values())
    values = {"valve-head_diameter": "1.750 in", "ld_step": "0.1", "ld_last": "0.3"}
    set_up = client._page(
        client.post(page.path, data={**data, **values, "ld_lifts": "Load lifts"}), 200
    )
    assert [set_up.value(f"rows-{row}-lift") for row in range(4)] == ["0.175", "0.350", "0.525", ""]
    wrong = {**data, **values, "ld_step": "zero", "ld_lifts": "Load lifts"}
    assert client._page(client.post(page.path, data=wrong), 422).fault("ld_step")


def working_text(client, page, key, part=""):
    """The working that a link of a page leads to, by its key."""
    address = next(
        link.get("href")
        for link in page.tree.findall(".//table//a")
        if part in link.get("href") and link.get("href").endswith(f"#{key}")
    )
    working = client.page(address.partition("#")[0])
    return words(working.tree.find(f".//section[@id='{key}']"))


def test_a_gain_opens_to_its_working(client, db, visit):
    rows = [store_session(db, visit, INTAKE_US), store_session(db, visit, AFTER_US)]
    page = client.page(f"/compare?s={rows[0].id}&s={rows[1].id}")
    point = sessions.compare(*rows).points[0]
    area = working_text(client, page, "area", "/lifts/")
    assert f"after {point.effective_area_after:.6g} m²" in area
    assert "JCGM 100:2008" in working_text(client, page, "uncertainty")
    assert "Holm" in working_text(client, page, "verdict")
    assert "Heywood" in working_text(client, page, "flow", "/parts/")


@pytest.mark.parametrize(
    ("mode", "second", "keys"),
    [
        ("ports", PORT_2, ("mean", "deviation", "spread", "uncertainty", "verdict")),
        ("ratio", EXHAUST_SI, ("ratio", "uncertainty")),
    ],
)
def test_a_spread_and_a_ratio_open_to_their_workings(client, db, visit, mode, second, keys):
    rows = [store_session(db, visit, INTAKE_US), store_session(db, visit, second)]
    page = client.page(f"/compare?s={rows[0].id}&s={rows[1].id}&mode={mode}")
    for key in keys:
        assert "Source:" in working_text(client, page, key)


@pytest.mark.parametrize(
    "address", ["0/lifts/1", "2/lifts/1", "1/lifts/0", "1/lifts/99", "parts/none"]
)
def test_a_working_that_is_not_there_is_not_found(client, db, visit, address):
    rows = [store_session(db, visit, INTAKE_US), store_session(db, visit, AFTER_US)]
    text = f"s={rows[0].id}&s={rows[1].id}"
    client.page(f"/compare/{address}?{text}", status=404)
    client.page("/compare/1/lifts/1", status=404)
    client.page("/compare/1/parts/whole", status=404)


def test_a_steps_worth_opens_to_its_working(client, db, visit):
    store_session(db, visit, INTAKE_US)
    store_session(db, visit, AFTER_US)
    page = client.page(f"/heads/{visit.tag}/gain-by-step")
    links = [link.get("href") for link in page.tree.findall(".//table//a")]
    steps = [link for link in links if "/gain-by-step/" in link]
    assert len(steps) == 8
    for link in steps:
        working = client.page(link)
        assert "Effective areas" in working.text
        assert "against as received" in working.text
    for wrong in ("1/2/whole", "2/1/whole", "0/1/whole", "1/1/none"):
        client.page(f"/heads/{visit.tag}/gain-by-step/{wrong}", status=404)


def test_the_figures_of_an_engine_type_open_to_their_workings(client, db):
    kind = create_engine_type(db)
    visits = [create_visit(db, engine_type=kind) for _ in range(4)]
    rows = [
        store_session(db, item, text)
        for item, text in zip(visits, [INTAKE_US, AFTER_US] * 2, strict=True)
    ]
    page = client.page(f"/engines/{kind.id}")
    for key in ("mean", "peak", "throat-ratio", "coefficient", "velocity", "median", "least"):
        assert "Source:" in working_text(client, page, key)
    assert "type 7 of Hyndman and Fan" in working_text(client, page, "lower-quartile")
    client.page(f"/engines/{kind.id}/results/{rows[-1].id + 1}", status=404)
    client.page(f"/engines/{kind.id}/band/999", status=404)
