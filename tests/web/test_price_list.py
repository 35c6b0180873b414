"""The price list and packages on their pages."""

from __future__ import annotations

from sqlalchemy.orm import Session

from shopflow.models import Shop
from shopflow.services.routing import operations
from tests import factories
from tests.web.client import Client


def test_a_price_is_added_changed_used_and_removed(client: Client, db: Session, shop: Shop):
    visit = factories.create_visit(db)
    kind = operations.kind_by_code(db, "valve-grind")
    page = client.page("/price-list")
    assert "No price yet." in page.text
    page = client.submit(page.links["Add price"], {"price": "6.50"}, status=422)
    assert "Choose a step type, or describe a part" in page.text
    page = client.submit(page, {"kind_id": str(kind.id), "per_valve": "y"})
    assert page.notices == ["Price added: Grind valves."]
    assert "$6.50 a valve" in page.text
    guide = {"description": "Guide", "part_number": "VG-6", "unit": "pc", "price": "7.85"}
    page = client.submit("/price-list/new", guide)
    page = client.submit(page.links["Change Guide"], {"price": "7.95"})
    assert "$7.95" in page.text
    page = client.submit(f"/heads/{visit.tag}/steps/new", {"kind_id": str(kind.id)})
    # 8 valves at 6.50.
    assert visit.operations[0].price == 52
    page = client.page(f"/jobs/{visit.job.number}/lines/new")
    entry = page.tree.xpath("//select[@name='entry']/option")[1].get("value")
    page = client.submit(page, {"entry": entry, "description": "", "quantity": "8"})
    assert page.notices == ["Line added: Guide."]
    assert "8 pc × $7.95" in page.text
    page = client.page("/price-list")
    action = page.tree.xpath("//form[contains(@action, 'remove')]/@action")[0]
    page = client.submit(page, action=action)
    assert page.notices[0].startswith("Price removed")


def test_a_template_with_parts_and_a_price_is_a_package(client: Client, db: Session, shop: Shop):
    visit = factories.create_visit(db)
    typed = {
        "name": "Valve job", "steps-0-kind": "teardown", "steps-1-kind": "valve-grind",
        "parts-0-description": "Seal", "parts-0-quantity": "0", "package_price": "250",
    }  # fmt: skip
    page = client.submit("/work-plans/new", typed, status=422)
    assert "out of range" in page.text
    client.submit(page, {"parts-0-quantity": "8"})
    assert "Valve job: $250.00" in client.page("/price-list").text
    client.submit(f"/heads/{visit.tag}/steps/work-plan", {})
    page = client.page(f"/jobs/{visit.job.number}/lines")
    assert "$250.00" in page.text
    assert "package" in page.text
    package = visit.job.lines[0]
    page = client.submit(page, action=f"/lines/{package.id}/remove")
    assert page.notices == ["Line removed: Valve job."]
    assert "not priced" in page.text
