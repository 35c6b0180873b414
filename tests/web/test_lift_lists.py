"""Saved lists of lifts: their pages, and setting a flow test's rows by one."""

from __future__ import annotations

import pytest

from shopflow.services.registry import lift_lists
from tests.factories import create_visit


def test_a_list_is_saved_changed_and_removed(client, db):
    assert "No lift lists yet" in client.page("/lift-lists").text
    page = client.submit("/lift-lists/new", {"name": "Small", "lifts": "2 1"}, status=422)
    assert page.fault("lifts")
    assert page.value("lifts") == "2 1"
    page = client.submit(page, {"unit": "mm", "lifts": "1 2"})
    assert "1, 2 mm" in page.text
    (row,) = lift_lists.list_all(db)
    page = client.submit(f"/lift-lists/{row.id}/change", {"lifts": "1 2 3"})
    assert "1, 2, 3 mm" in page.text
    assert "No lift lists yet" in client.press(page, "Remove Small").text


@pytest.mark.parametrize("reading", ["", "47.8"])
def test_a_list_sets_the_rows_that_hold_no_reading(client, db, reading):
    visit = create_visit(db)
    page = client.submit("/lift-lists/new", {"name": "Small", "unit": "mm", "lifts": "1 2.50 4"})
    (row,) = lift_lists.list_all(db)
    page = client.page(f"/heads/{visit.tag}/test")
    data = dict(page.form("").form_values())
    chosen = {"lift_list": str(row.id), "rows-0-first": reading, "ld_lifts": "Load lifts"}
    answer = client.post(page.path, data={**data, **chosen})
    shown = client._page(answer, 422 if reading else 200)
    if reading:
        assert shown.fault("lift_list")
        assert shown.value("rows-0-first") == reading
    else:
        assert [shown.value(f"rows-{place}-lift") for place in range(4)] == ["1", "2.50", "4", ""]
        assert shown.value("lift_unit") == "mm"


def test_every_fault_of_a_list_is_said_at_once(client):
    page = client.submit("/lift-lists/new", {"name": "", "lifts": "0.1 0.05"}, status=422)
    assert page.fault("name") == "Required: enter a value"
    assert page.fault("lifts") == "'0.05' is not above the lift before it: enter rising lifts"
