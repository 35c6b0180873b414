"""Writing down what was measured, several in a row, and correcting it."""

from __future__ import annotations

import pytest

from shopflow.models import Role, Verdict, When
from shopflow.services import audit_log
from shopflow.services.measuring import measurements
from shopflow.services.routing import operations
from tests.factories import BY, create_visit
from tests.optional import present


@pytest.fixture
def visit(db):
    """A head in the shop."""
    answer = create_visit(db)
    db.commit()
    return answer


@pytest.fixture
def kind(db):
    """Guide clearance."""
    return measurements.kind_by_code(db, "guide clearance")


def test_figures_follow_each_other_with_the_cylinder_counted_on(client, db, visit, kind):
    page = client.page(f"/heads/{visit.tag}/measure/{kind.id}")
    values = {"cylinder": "1", "side": "intake", "lower": "0.0010", "upper": "0.0025"}
    page = client.submit(page, {**values, "value": "0.0021"})
    assert page.notices == ["Saved: Guide clearance, cylinder 1 intake, 0.0021 in."]
    by_name = {name: page.value(name) for name in ("cylinder", "side", "lower", "upper", "value")}
    assert by_name == {**values, "cylinder": "2", "value": ""}
    first = visit.measurements[0]
    assert (first.value.text, first.lower.text, first.verdict) == (
        "0.0021 in",
        "0.0010 in",
        Verdict.WITHIN,
    )


def test_the_last_cylinder_is_not_counted_past(client, visit, kind):
    values = {"cylinder": "4", "value": "0.04 mm"}
    page = client.submit(f"/heads/{visit.tag}/measure/{kind.id}", values)
    assert page.value("cylinder") == ""


def test_a_number_with_its_own_unit_keeps_it(client, db, visit, kind):
    client.submit(f"/heads/{visit.tag}/measure/{kind.id}", {"value": "0.055 mm", "unit": "in"})
    assert visit.measurements[0].value.text == "0.055 mm"


def test_a_figure_of_a_step_stands_under_that_step(client, db, by, visit, kind):
    step = operations.add(db, by, visit, operations.kind_by_code(db, "inspection").id, {})
    page = client.page(f"/heads/{visit.tag}/measure?operation={step.id}")
    page = client.submit(page.links["Guide clearance"], {"value": "0.004", "upper": "0.003"})
    assert "outside" in page.text
    assert visit.measurements[0].operation == step
    rows = client.page(f"/heads/{visit.tag}").rows
    place = rows.index(["Inspect and measure"])
    assert rows[place + 1][3:6] == ["0.004 in", "up to 0.003 in", "outside"]


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("value", "", "required: enter a value"),
        ("value", "thick", "not a number and a unit"),
        ("value", "3 psi", "not of length"),
        ("value", "1e400", "too large"),
        ("value", "1." + "0" * 80, "too long"),
        ("value", "1 mm\x00", "cannot be stored"),
        ("value", "١", "not a number and a unit"),
        ("lower", "0.009", "above the maximum"),
        ("cylinder", "0", "whole number from 1"),
        ("cylinder", "9" * 5000, "whole number"),
        ("place", "p" * 201, "at most 200"),
        ("notes", "\x00", "cannot be stored"),
    ],
)
def test_what_cannot_be_is_said_at_its_field(client, db, visit, kind, field, typed, words):
    values = {"value": "0.002", "upper": "0.004", field: typed}
    page = client.submit(f"/heads/{visit.tag}/measure/{kind.id}", values, status=422)
    assert words in page.fault(field).lower()
    assert page.value("upper") == "0.004"
    assert visit.measurements == []


def test_a_correction_starts_from_what_was_typed_and_is_logged(client, db, by, visit, kind):
    values = {"value": "0.0031 in", "upper": "0.06 mm", "when": "before", "side": "exhaust"}
    row = measurements.record(db, by, visit, kind.id, values)
    page = client.page(f"/measurements/{row.id}/correct")
    assert (page.value("value"), page.value("upper")) == ("0.0031", "0.06 mm")
    client.submit(page, {"value": "0.0013"})
    db.expire_all()
    assert (row.value.text, present(row.upper).text, row.when) == (
        "0.0013 in",
        "0.06 mm",
        When.BEFORE,
    )
    assert audit_log.of_job(db, visit.job)[0].changes["value"] == ["0.0031 in", "0.0013 in"]


def test_two_who_correct_one_figure_do_not_overwrite_each_other(client, db, by, visit, kind):
    row = measurements.record(db, by, visit, kind.id, {"value": "0.0031 in"})
    page = client.page(f"/measurements/{row.id}/correct")
    measurements.correct(db, by, row, {"value": "0.0032 in"})
    page = client.submit(page, {"value": "0.0013"}, status=422)
    assert "0.0032" in page.text


@pytest.mark.parametrize(
    "address", ["measure/999", "measure/1?operation=999", "measure?operation=x"]
)
def test_what_is_not_there_is_said_to_be_missing(client, visit, address):
    client.page(f"/heads/{visit.tag}/{address}", status=404)


def test_odd_addresses_only_start_an_odd_form(client, visit, kind):
    client.page(f"/heads/{visit.tag}/measure/{kind.id}?cylinder=%00&unit=x&side=up&lower=%F0%9F")


def test_the_counter_and_a_reader_only_read_them(signed_in, db, by, visit, kind):
    row = measurements.record(db, by, visit, kind.id, {"value": "0.0031 in"})
    for role in (Role.COUNTER, Role.READER):
        client = signed_in(role)
        client.page(f"/measurements/{row.id}/correct", status=403)
        page = client.page(f"/heads/{visit.tag}")
        assert "0.0031 in" in page.text
        assert not [words for words in page.links if words.startswith("Correct")]


def test_a_measurement_is_struck_out_with_a_reason_and_restored(client, db):
    visit = create_visit(db)
    kind = measurements.kind_by_code(db, "throat diameter")
    row = measurements.record(db, BY, visit, kind.id, {"value": "39 mm", "side": "intake"})
    db.flush()
    at = f"/measurements/{row.id}/strike"
    assert client.submit(at, {"reason": ""}, status=422).fault("reason")
    page = client.submit(at, {"reason": "measured on the exhaust"})
    assert "measured on the exhaust" in page.text
    assert page.tree.xpath("//td/s[contains(., '39')]")
    page = client.submit(page, action=f"/measurements/{row.id}/restore")
    assert not page.tree.findall(".//td/s")
