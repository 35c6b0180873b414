"""Bench sessions in the browser: entry by form and by file, and their figures."""

from __future__ import annotations

import dataclasses
import io
from decimal import Decimal
from typing import Any

import pytest
from flask.testing import FlaskClient
from sqlalchemy import event

from shopflow import testfile
from shopflow.calc.results import FLOW_AS_TESTED
from shopflow.models import OperationState
from shopflow.services.bench import benches, calibrations, sessions
from shopflow.services.routing import operations
from shopflow.units import parse
from tests.cli.sessions import INTAKE_US, PERCENT
from tests.factories import BY, create_operation, create_visit, someone
from tests.web.client import words

SET_UP = {
    "stage": "as received",
    "side": "intake",
    "cylinder": "2",
    "measured_at": "2026-03-04 09:30",
    "air-barometer": "29.41 inHg",
    "air-temperature": "71.5 degF",
    "air-humidity": "48 %",
    "valve-head_diameter": "1.732 in",
    "bench-test_pressure": "25 inH2O",
    "bench-leakage": "0.8 cfm",
    "lift_unit": "in",
    "flow_unit": "cfm",
    "rows-0-lift": "0.100",
    "rows-0-first": "47.8",
    "rows-1-lift": "0.200",
    "rows-1-first": "101.0",
    "rows-1-second": "101.50",
}
BLANK = {f"rows-{row}-lift": "" for row in range(2, 10)}


def enter_test(client, visit, values=None, button="Save test", status=200, address=""):
    """The page that entering this session leads to."""
    address = address or f"/heads/{visit.tag}/test"
    name = {"Save test": "save", "Calculate": "work_out", "More rows": "more_rows"}
    page = client.page(address)
    form = page.form("")
    data = {**dict(form.form_values()), **BLANK, **SET_UP, **(values or {}), name[button]: button}
    return client._page(client.post(address, data=data), status)


@pytest.fixture
def visit(db):
    return create_visit(db)


@pytest.fixture
def stored(db, visit):
    """A session on file, from a session file."""
    return sessions.store(db, BY, visit, testfile.loads(INTAKE_US))


def test_a_bare_number_is_in_the_unit_beside_its_box(client, db, visit):
    bare = {"air-barometer": "29.41", "air-temperature": "71", "air-humidity": "48",
            "valve-head_diameter": "1.732"}  # fmt: skip
    shown = client.page(f"/heads/{visit.tag}/test").tree.get_element_by_id("air-barometer-unit")
    assert shown.text_content() == "inHg"
    enter_test(client, visit, bare)
    document = sessions.document(visit.sessions[0])
    texts = (document.barometer, document.temperature, document.humidity, document.head_diameter)
    assert [quantity.text for quantity in texts] == ["29.41 inHg", "71 degF", "48 %", "1.732 in"]


def test_an_uncertainty_says_what_it_leaves_out(client, db, visit):
    bare = INTAKE_US.replace('lift = "0.001 in"', "")
    row = sessions.store(db, BY, visit, testfile.loads(bare))
    text = " ".join(client.page(f"/flow-tests/{row.id}").text.split())
    assert "The ± leaves out what was not stated:" in text
    assert "lift setting" in text.partition("was not stated:")[2].partition(".")[0]


def test_a_session_entered_by_form_is_kept_as_typed(client, db, visit):
    page = enter_test(client, visit)
    assert page.heading == "Intake: as received, cylinder 2"
    (row,) = visit.sessions
    document = sessions.document(row)
    assert document.lifts == (Decimal("0.100"), Decimal("0.200"))
    assert [str(run) for run in document.flows[1]] == ["101.0", "101.50"]
    assert document.barometer.text == "29.41 inHg"
    assert row.measured_at.isoformat() == "2026-03-04T15:30:00+00:00"  # Chicago keeps CST then


def test_working_it_out_first_shows_figures_and_stores_nothing(client, visit):
    page = enter_test(client, visit, button="Calculate")
    assert len(page.tree.find_class("chart-box")) == 2
    assert page.value("rows-1-second") == "101.50"
    assert visit.sessions == []


def test_more_rows_loses_nothing(client, visit):
    page = enter_test(client, visit, button="More rows")
    assert page.value("rows-1-second") == "101.50"
    assert page.value("rows-14-lift") == ""


FAULTS = {
    "no barometer": ({"air-barometer": ""}, "air-barometer", "Required: enter a value"),
    "a wrong unit": ({"air-barometer": "29 mm"}, "air-barometer", "not of pressure"),
    "a reading that is no number": ({"rows-0-first": "4o"}, "rows-0-first", "is not a number"),
    "a reading of nan": ({"rows-0-first": "nan"}, "rows-0-first", "is not a number"),
    "a run without a lift": ({"rows-0-lift": ""}, "rows-0-lift", "Required: enter a value"),
    "lifts that fall": ({"rows-1-lift": "0.05"}, "rows-1-lift", "not above the lift before it"),
    "leakage above": ({"bench-leakage": "60 cfm"}, "rows-0-first", "not above the leakage"),
    "percent on a flow bench": ({"flow_unit": "%"}, "flow_unit", "does not go with reading"),
    "half a seat": ({"valve-seat_angle": "45 deg"}, "valve-seat_width", "needs it"),
    "a fraction of a valve": ({"valve-count": "1.5"}, "valve-count", "not a whole number"),
    "a moment that is none": ({"measured_at": "yesterday"}, "measured_at", "Enter it like"),
    "a title too long": ({"title": "x" * 201}, "title", "enter at most 200"),
}


@pytest.mark.parametrize(("change", "field", "words"), FAULTS.values(), ids=FAULTS.keys())
def test_a_fault_is_shown_at_its_field_and_nothing_typed_is_lost(
    client, visit, change, field, words
):
    page = enter_test(client, visit, change, status=422)
    assert words.lower() in page.fault(field).lower()
    for name, value in {**SET_UP, **change}.items():
        assert page.value(name) == value
    assert visit.sessions == []


def test_a_session_without_readings_is_refused(client, visit):
    nothing = {name: "" for name in SET_UP if name.startswith("rows-")}
    page = enter_test(client, visit, nothing, status=422)
    assert page.fault("rows-0-first") == "Enter at least one reading"
    assert "Readings-flow" not in page.text
    assert "must have" not in page.text


def test_the_next_session_starts_from_the_last_set_up(client, visit, stored):
    page = client.page(f"/heads/{visit.tag}/test")
    assert page.value("bench-test_pressure") == "25 inH2O"
    assert page.value("valve-seat_width") == "0.060 in"
    assert page.value("rows-0-lift") == "0.05"
    assert page.value("rows-0-first") == ""


def test_a_test_follows_only_steps_that_were_done(client, db, visit):
    done, skipped, declined, _ = (create_operation(db, visit) for _ in range(4))
    operations.start(db, someone(db), done)
    operations.sign_off(db, someone(db, "Wynn Abara"), done, {"actual_minutes": "5"})
    skipped.state, skipped.skip_reason = OperationState.SKIPPED, "not needed"
    declined.state = OperationState.DECLINED
    db.flush()
    page = client.page(f"/heads/{visit.tag}/test")
    assert page.value("after") == str(done.id)
    assert page.form("").inputs["after"].value_options == ["", str(done.id)]


def test_a_session_file_is_stored_and_given_back_unchanged(client, visit):
    page = uploaded(client, visit, PERCENT.encode())
    assert page.heading.startswith("Exhaust")
    (row,) = visit.sessions
    text = client.get(f"/flow-tests/{row.id}/file").text
    assert testfile.loads(text) == testfile.loads(PERCENT)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "choose a test file"),
        (b"\xff\xfe", "not text in UTF-8"),
        (b"schema = 1", "missing"),
        (INTAKE_US.replace("[47.8]", "[-1]").encode(), "row 2 (lift 0.1 in)"),
    ],
    ids=["empty", "binary", "incomplete", "a negative reading"],
)
def test_a_bad_file_is_refused_in_words(client, visit, content, words):
    page = uploaded(client, visit, content, status=422)
    assert words.lower() in page.text.lower()
    assert visit.sessions == []


def uploaded(client, visit, content, status=200):
    """The page that sending this file leads to."""
    form = client.page(f"/heads/{visit.tag}/test").form(f"/heads/{visit.tag}/test/file")
    data = {
        "csrf_token": form.fields["csrf_token"],
        "file": (io.BytesIO(content), "session.toml" if content else ""),
    }
    response = client.post(form.action, data=data, content_type="multipart/form-data")
    return client._page(response, status)


def test_the_page_of_a_session_shows_its_figures(client, stored):
    page = client.page(f"/flow-tests/{stored.id}")
    row = page.tree.xpath("//table[@class='figures']/tbody/tr")[1]
    lift, over_diameter, runs, flow, *_ = map(words, row)
    reduction = sessions.reduction(stored)
    assert (lift, over_diameter, runs) == ("0.100", "0.058", "1")
    assert float(flow) == pytest.approx(reduction.flow_as_tested[1] / (0.3048**3 / 60), abs=0.05)
    assert len(page.tree.find_class("chart-box")) == 2


def test_a_reading_is_left_out_with_a_reason_and_counted_again(client, db, stored):
    reading = stored.lifts[2].readings[0]
    before = stored.mean_area
    page = client.page(f"/flow-tests/{stored.id}")
    refused = client.submit(
        page, {"reason": " "}, action=f"/flow-tests/readings/{reading.id}/exclude", status=422
    )
    assert refused.fault("reason") == "Required: enter a value"
    page = client.submit(
        page, {"reason": "dial slipped"}, action=f"/flow-tests/readings/{reading.id}/exclude"
    )
    assert "excluded: dial slipped" in page.text
    db.refresh(stored)
    assert stored.mean_area != before
    client.press(page, "Include reading")
    db.refresh(stored)
    assert stored.mean_area == pytest.approx(before)


@pytest.mark.parametrize(
    "address",
    ["/flow-tests/999999", "/flow-tests/999999/file", "/heads/none/test"],
)
def test_what_is_not_there_is_said_so(client, stored, address):
    client.page(address, status=404)


def test_the_budget_shows_what_each_component_adds(client, stored):
    page = client.page(f"/flow-tests/{stored.id}")
    answer = sessions.reduction(stored)
    table = page.tree.xpath("(//details[@class='budget']//table)[1]/tbody/tr")
    cells = [words(cell) for cell in table[1].findall("td")]
    runs, division, calibration, pressure, lift, leakage, together = cells[:7]
    # Half of 1.2 %; 0.3 % of the pressure, of which the flow of air has a little less than half.
    assert (calibration, pressure) == ("0.60", "0.14")
    assert (division, leakage) == ("not stated", "not stated")
    parts = (float(text) for text in (runs, calibration, pressure, lift))
    assert float(together) == pytest.approx(sum(part**2 for part in parts) ** 0.5, abs=0.01)
    margin = FLOW_AS_TESTED.expanded(answer)
    assert margin is not None
    relative = 100 * float(margin[1] / answer.flow_as_tested[1])
    assert float(cells[8].split()[0]) == pytest.approx(relative, abs=0.006)


UNCERTAINTIES = ("u_calibration", "u_repeatability", "u_pressure", "u_lift")


def store_without(db, visit, **uncertainties):
    """A test with single runs that states these uncertainties, and no other."""
    document = testfile.loads(INTAKE_US)
    stated: dict[str, Any] = dict.fromkeys(UNCERTAINTIES)
    stated |= {name: parse(text, "ratio") for name, text in uncertainties.items()}
    single = tuple(runs[:1] for runs in document.flows)
    changed = dataclasses.replace(document, flows=single, **stated)
    return sessions.store(db, BY, visit, changed)


def test_a_blank_uncertainty_is_not_stated_on_the_page_and_in_the_next_tests_defaults(
    client, db, visit
):
    row = store_without(db, visit)
    page = client.page(f"/flow-tests/{row.id}")
    budget = page.tree.xpath("(//details[@class='budget']//table)[1]/tbody/tr")
    assert {words(cell) for cell in budget[0].findall("td")} == {"not stated"}
    results = page.tree.xpath("(//table[@class='figures'])[1]/tbody/tr[1]/td")
    assert words(results[3]) == words(results[7]) == "not stated"
    following = client.page(f"/heads/{visit.tag}/test")
    for name in ("calibration", "repeatability", "pressure", "lift", "resolution"):
        assert not following.value(f"uncertainty-{name}")


def test_a_typed_0_is_a_statement_and_shown_as_one(client, db, visit):
    row = store_without(db, visit, u_pressure="0 %", u_repeatability="0.4 %")
    page = client.page(f"/flow-tests/{row.id}")
    cells = page.tree.xpath("(//details[@class='budget']//table)[1]/tbody/tr[1]/td")
    assert words(cells[3]) == "0.00"
    assert words(cells[4]) == "not stated"
    assert client.page(f"/heads/{visit.tag}/test").value("uncertainty-pressure") == "0 %"


def test_the_verdict_against_the_first_test_stands_on_the_page_with_what_would_settle_it(
    client, db, visit
):
    first = store_without(db, visit)
    assert "in effective area" not in client.page(f"/flow-tests/{first.id}").text
    later = store_without(db, visit)
    page = client.page(f"/flow-tests/{later.id}")
    assert "in effective area, 0.05 to 0.45 in: uncertainty not stated" in page.text
    assert "enter one division of the scale as its resolution, or repeat a lift" in page.text
    assert "once more to know." in page.text
    summaries = page.tree.xpath("//details/summary[text()='About this number']")
    assert len(summaries) == 2


def test_how_the_numbers_are_made_is_told_to_everyone(client):
    page = client.page("/how-the-numbers-are-made")
    for output in (
        "CIPM-2007",
        "JCGM 100:2008",
        "common practice, no source",
        "A gain that is not called",
    ):
        assert output in page.text


def test_a_lift_set_up_but_not_tested_is_left_aside(client, visit):
    enter_test(client, visit, {"rows-2-lift": "0.300", "rows-3-lift": "0.400"})
    (row,) = visit.sessions
    assert [str(lift.lift_typed) for lift in row.lifts] == ["0.100", "0.200"]


def test_every_fault_of_a_session_is_shown_in_one_go(client, visit):
    wrong = {"air-barometer": "", "air-temperature": "72 mm", "rows-0-first": "47,8"}
    page = enter_test(client, visit, {**wrong, "rows-1-lift": "0.05"}, status=422)
    assert page.fault("air-barometer") == "Required: enter a value"
    assert "not of temperature" in page.fault("air-temperature")
    assert "write decimals with a point" in page.fault("rows-0-first")
    assert "not above the lift before it" in page.fault("rows-1-lift")


def test_the_same_session_is_not_stored_twice(client, visit):
    uploaded(client, visit, MEASURED)
    page = uploaded(client, visit, MEASURED, status=409)
    assert "on record" in page.text
    assert len(visit.sessions) == 1


MEASURED = INTAKE_US.replace("[air]", "measured_at = 2026-03-01T10:00:00\n[air]").encode()


@pytest.mark.parametrize("range_id", ["9" * 30, "0", "x", "²", "-1"])
def test_an_address_with_no_such_range_is_no_failure(client, visit, range_id):
    response = client.get(f"/heads/{visit.tag}/test?range={range_id}")
    assert response.status_code in (200, 404)


def test_what_cannot_be_worked_out_yet_is_told_by_the_fields_labels(client, visit):
    data = {**SET_UP, "air-barometer": "", "rows-0-first": "x", "csrf_token": token(client, visit)}
    # A piece of a page, which the checking of whole pages does not fit.
    address = f"/heads/{visit.tag}/test/results"
    client.release_writes()
    response = FlaskClient.open(client, address, method="POST", data=data)
    assert "Barometer:" in response.text
    assert "Run 1, row 1:" in response.text


def test_a_value_typed_keeps_other_writers_waiting_for_no_figure(client, db, visit, stored):
    engine = client.application.extensions["shopflow.engine"]
    address = f"/heads/{visit.tag}/test/results"
    data = {**SET_UP, "csrf_token": token(client, visit), "entry": "its-key", "writer": "a-page"}
    sent: dict[object, list[str]] = {}

    def note(connection, cursor, statement, *rest):
        sent.setdefault(connection, []).append(statement)

    client.release_writes()
    event.listen(engine, "before_cursor_execute", note)
    try:
        response = FlaskClient.open(client, address, method="POST", data=data)
    finally:
        event.remove(engine, "before_cursor_execute", note)
    assert response.headers["X-Kept"] == "1"
    assert "<svg" in response.text
    (writing,) = [output for output in sent.values() if any("INSERT" in one for one in output)]
    own = ("open_test", "discarded_test", "entry_key", "BEGIN")
    assert all(any(name in item for name in own) for item in writing)
    assert len(writing) <= 5


def token(client, visit):
    """The token that guards this form."""
    return client.page(f"/heads/{visit.tag}/test").value("csrf_token")


def test_an_overdue_calibration_is_said_before_the_test_is_taken(client, db, visit):
    bench = benches.create(db, BY, {"name": "North", "reading": "volume flow"})
    range_ = benches.add_range(db, BY, bench, {"name": "whole"})
    dates = {"made_on": "2020-01-06", "due_on": "2021-01-06"}
    values = {"identifier": "N-1", "factor": "1.01", "expanded_uncertainty": "1 %", **dates}
    calibrations.calibrate(db, BY, range_, values)
    page = client.page(f"/heads/{visit.tag}/test?range={range_.id}")
    assert "fell due Jan 6, 2021" in page.text
    assert page.value("bench-calibration_factor") == "1.01"
    assert page.value("bench-calibration_id") == "N-1"


def test_what_is_drawn_is_chosen_by_the_address(client, stored):
    page = client.page(f"/flow-tests/{stored.id}?plot=velocity&against=ld")
    assert page.value("plot") == "velocity"
    assert page.value("against") == "ld"
    first = page.tree.find(".//svg")
    assert "Velocity, ft/s" in "".join(first.itertext())
    assert client.page(f"/flow-tests/{stored.id}?plot=nothing&against=it").value("plot") == "flow"


def test_a_chart_has_its_figures_as_a_table(client, stored):
    page = client.page(f"/flow-tests/{stored.id}?plot=head")
    (table, _) = page.tree.xpath("//details[@class='chart-table']//table")
    points = sessions.reduction(stored).points
    shown = [row.findtext("td") for row in table.findall("tbody/tr")]
    assert [cell.split(" ± ")[0] for cell in shown] == [f"{point.cd_head:.3f}" for point in points]


def test_a_test_of_2031_or_of_cylinder_99_is_refused_at_its_field(client, visit):
    page = enter_test(client, visit, {"measured_at": "2031-03-14 09:30"}, status=422)
    assert "'2031-03-14' is in the future" in page.fault("measured_at")
    page = enter_test(client, visit, {"cylinder": "99"}, status=422)
    assert "'99' is not a cylinder of this engine" in page.fault("cylinder")
