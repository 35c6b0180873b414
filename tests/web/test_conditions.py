"""Conditions on pages: chosen on the form and on the sheet, and a type of the shop's own."""

from __future__ import annotations

from shopflow.services.measuring import measurements
from tests import factories


def test_a_condition_is_chosen_corrected_and_shown(client, db):
    visit = factories.create_planned_visit(db)
    kind = measurements.kind_by_code(db, "thread condition")
    db.commit()
    address = f"/heads/{visit.tag}/measure/{kind.id}"
    page = client.page(address)
    assert page.tree.xpath("//select[@name='value']/option/@value") == [
        "good", "repaired", "damaged"
    ]  # fmt: skip
    assert not page.tree.xpath("//*[@name='unit' or @name='lower' or @name='upper']")
    page = client.submit(address, {"value": "damaged", "place": "stud 4"})
    assert "damaged outside good or repaired" in page.text
    (row,) = visit.measurements
    page = client.submit(f"/measurements/{row.id}/correct", {"value": "repaired"})
    assert "Thread condition is corrected." in page.notices
    db.expire_all()
    assert (row.value.text, row.place) == ("repaired", "stud 4")
    assert "good or repaired" in client.page(f"/heads/{visit.tag}").text


def test_the_sheet_has_a_choice_for_each_place(client, db):
    visit = factories.create_planned_visit(db)
    db.commit()
    address = f"/heads/{visit.tag}/sheet?kind=plug+thread&taken=before"
    page = client.page(address)
    cells = page.tree.xpath("//select[contains(@class, 'cell-input')]/@name")
    assert len(cells) == 4
    client.submit(page, {cells[0]: "damaged", cells[1]: "good"})
    db.expire_all()
    assert sorted(row.value.text for row in visit.measurements) == ["damaged", "good"]
    states = client.page(address).tree.xpath("//td[select]/@data-state")
    assert states == ["out", "in", "missing", "missing"]


def test_a_shop_adds_a_condition_of_its_own(client, db):
    fields = {"name": "Water jacket", "place_kind": "cylinder", "dimension": "condition"}
    page = client.submit("/measurement-kinds/new", fields)
    assert "Water jacket was added." in page.notices
    assert "good, repaired or damaged" in page.text
