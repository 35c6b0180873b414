"""Parts on their pages: catalog, stock, purchase orders, needs of heads, work sent out."""

from __future__ import annotations

import pytest
from sqlalchemy.orm import Session

from shopflow.models import LineKind, Shop, Visit
from shopflow.services.billing import job_lines
from shopflow.services.parts import catalog, needs, orders, stock, suppliers
from shopflow.services.routing import holds
from tests import factories
from tests.web.client import Client


@pytest.fixture
def visit(db: Session, shop: Shop) -> Visit:
    """A head of a shop that uses parts."""
    shop.uses_parts = True
    return factories.create_visit(db)


def test_a_shop_that_uses_no_parts_sees_no_trace(client: Client, db: Session, shop: Shop):
    visit = factories.create_visit(db)
    for path in ("/", f"/heads/{visit.tag}", f"/jobs/{visit.job.number}"):
        page = client.get(path).text
        assert "Parts of job" not in page
        assert "Purchase orders" not in page
        assert 'href="/parts"' not in page
    for path in ("/parts", "/suppliers", "/purchase-orders", "/sent-out"):
        assert client.get(path).status_code == 404
    client.submit("/shop", {"uses_parts": "y"})
    assert "No parts yet." in client.page("/parts").text
    assert "Parts of job" in client.page(f"/heads/{visit.tag}").text


def test_a_part_is_added_found_counted_and_corrected(client: Client, db: Session, visit: Visit):
    page = client.submit(
        "/suppliers/new", {"name": "Northgate", "email": "orders@north"}, status=422
    )
    page = client.submit(page, {"email": "orders@north.example"})
    assert page.notices == ["Supplier added: Northgate."]
    typed = {"number": "EV-36", "name": "Exhaust valve", "bin": "B 3", "price": "18.50",
             "reorder_point": "4"}  # fmt: skip
    page = client.submit("/parts/new", {**typed, "price": "x"}, status=422)
    page = client.submit(page, {"price": "18.50"})
    assert page.notices == ["Part added: EV-36, Exhaust valve."]
    page = client.submit(page.links["Count stock"], {"counted": "many"}, status=422)
    page = client.submit(page, {"counted": "12"})
    assert page.notices == ["Stock of EV-36, Exhaust valve: 12."]
    page = client.submit(page.links["Correct stock"], {"change": "-9"}, status=422)
    page = client.submit(page, {"change": "-13", "why": "lost"}, status=422)
    assert "12 of EV-36, Exhaust valve in stock, 13 wanted" in page.text
    page = client.submit(page, {"change": "-9"})
    assert page.notices == ["Stock of EV-36, Exhaust valve: 3."]
    assert "Corrected" in page.text
    listed = client.page("/parts?q=b+3").text
    assert "low" in listed
    assert "No parts match" in client.page("/parts?q=none").text
    page = client.submit(page.links["Change"], {"price": "19.00"})
    assert "$19.00" in page.text


def test_a_part_is_needed_ordered_received_and_fitted_with_a_tap_each(
    client: Client, db: Session, visit: Visit
):
    supplier = suppliers.add(db, factories.BY, {"name": "Northgate", "email": "o@north.example"})
    part = catalog.add(db, factories.BY, {"number": "EV-36", "name": "Exhaust valve",
                                          "cost": "11.20", "price": "18.50",
                                          "supplier_id": supplier.id})  # fmt: skip
    step = factories.create_operation(db, visit, "valve-grind", price="60.00")
    head = f"/heads/{visit.tag}"
    page = client.page(head)
    page = client.submit(page.links["Add part"], {"quantity": "8"}, status=422)
    assert "Choose a part" in page.text
    page = client.submit(page, {"part_id": str(part.id), "operation_id": str(step.id)})
    assert page.notices == ["Part added: Exhaust valve."]
    assert "needed" in page.text
    page = client.press(page, "Wait for parts")
    assert f"{visit.tag} is on hold until its parts are here." in page.notices
    page = client.press("/purchase-orders", "Draft order")
    assert "is a draft" in page.notices[0]
    line = orders.recent(db)[0].lines[0]
    page = client.submit(page, {f"quantity-{line.id}": "x", "save": "y"}, status=422)
    page = client.submit(page, {f"quantity-{line.id}": "10", "place": "Place order"})
    number = orders.recent(db)[0].number
    assert page.notices == [f"Order {number} is placed."]
    assert "ordered" in client.page(head).text
    page = client.submit(page.links["Receive some"], {f"received-{line.id}": "11"}, status=422)
    assert "No more than the 10 that is to come" in page.text
    page = client.submit(page, {f"received-{line.id}": "3"})
    assert page.notices == ["Received: 3 Exhaust valve."]
    assert "Partly received" in page.text
    db.expire_all()
    assert len(holds.still(visit)) == 1
    page = client.press(page, "Receive all")
    assert page.notices == ["Received: 7 Exhaust valve."]
    db.expire_all()
    assert holds.still(visit) == []
    page = client.press(head, "Fit")
    assert page.notices == ["Fitted: 8 Exhaust valve."]
    db.expire_all()
    assert stock.on_hand(db, part) == 2
    page = client.press(page, "Return to stock")
    assert "here" in page.text
    assert client.get(f"/papers/purchase-order/{number}.pdf").status_code == 200


def test_the_customers_own_part_and_outside_work(client: Client, db: Session, visit: Visit):
    supplier = suppliers.add(db, factories.BY, {"name": "Arc Works"})
    welding = {"description": "Weld crack", "head": visit.tag}
    job_lines.add(db, factories.BY, visit.job, LineKind.OUTSIDE_WORK, welding)
    own = {"is_customers_own": True, "description": "Springs", "quantity": "16",
           "head": visit.tag}  # fmt: skip
    needs.add(db, factories.BY, visit.job, own)
    page = client.page(f"/heads/{visit.tag}")
    assert "customer brings it" in page.text
    page = client.press(page, "Mark here")
    page = client.press(page, "Fit")
    assert page.notices == ["Fitted: 16 Springs."]
    page = client.page(page.links["Parts of job"])
    page = client.submit(page.links["Send out Weld crack"], {"supplier_id": str(supplier.id)})
    assert page.notices == ["Sent to Arc Works: Weld crack."]
    assert "Arc Works" in client.page("/sent-out").text
    db.expire_all()
    assert holds.still(visit)
    page = client.submit(page.links["Record return of Weld crack"], {"cost": "120.00"})
    assert page.notices == ["Back: Weld crack."]
    db.expire_all()
    assert holds.still(visit) == []


def test_an_order_is_cancelled_with_a_reason(client: Client, db: Session, visit: Visit):
    supplier = suppliers.add(db, factories.BY, {"name": "Northgate"})
    part = catalog.add(db, factories.BY, {"number": "LP", "name": "Paste"})
    page = client.submit("/purchase-orders/new", {}, status=422)
    page = client.submit(page, {"supplier_id": str(supplier.id)})
    page = client.submit(page, {"place": "y"}, status=422)
    assert "This order has no line" in page.text
    page = client.submit(page, {"part_id": str(part.id), "quantity": "2", "place": "y"})
    page = client.submit(page.links["Cancel order"], {}, status=422)
    page = client.submit(page, {"cancel_reason": "too dear"})
    assert "Cancelled: too dear" in page.text
