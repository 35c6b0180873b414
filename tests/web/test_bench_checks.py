"""Checks of a bench in the browser: entry, control chart, and the word on the floor."""

from __future__ import annotations

from shopflow.services.bench import benches
from tests.factories import BY, create_visit


def test_checks_make_a_control_chart_and_a_drift_is_said_on_the_floor(client, db):
    bench = benches.create(db, BY, {"name": "North", "reading": "volume flow"})
    range_ = benches.add_range(db, BY, bench, {"name": "whole"})
    address = f"/benches/ranges/{range_.id}/check"
    refused = client.submit(
        address, {"plate": "p2", "expected": "200 cfm", "indicated": "2oo cfm"}, status=422
    )
    assert "not a number" in refused.fault("indicated")
    assert refused.value("plate") == "p2"
    for indicated in ("200.0", "200.5", "199.5", "200.0", "200.5", "199.5", "200.0", "212.0"):
        values = {"plate": "p2", "expected": "200 cfm", "indicated": f"{indicated} cfm"}
        page = client.submit(address, values)
    assert "8 checks, latest first" in page.text
    assert len(page.tree.find_class("chart-box")) == 1
    assert "outside its control limits" in page.text
    assert client.page(address).value("expected") == "200 cfm"
    assert "North, range whole: its last check on p2 is outside" in client.page("/").text
    visit = create_visit(db)
    choice = client.page(f"/bench/{visit.tag}/benches?side=intake&cylinder=1")
    assert "Its last check on p2 is outside its control limits" in choice.text
    for address in (f"/bench/{visit.tag}/test", f"/heads/{visit.tag}/test"):
        text = client.page(f"{address}?range={range_.id}&side=intake&cylinder=1").text
        assert "its last check on p2 is outside its control limits" in text
