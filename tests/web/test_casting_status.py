"""Pages of castings: scrapped and back, spares added, offered and used, the life of a head."""

from __future__ import annotations

import pytest

from shopflow.models import HeadStatus, Role
from shopflow.services.measuring import measurements
from shopflow.services.registry import casting_status
from tests import factories


@pytest.fixture
def visit(db):
    """A head in the shop, measured."""
    row = factories.create_visit(db)
    kind = measurements.kind_by_code(db, "deck cut")
    measurements.record(db, factories.BY, row, kind.id, {"value": "0.25 mm"})
    db.commit()
    return row


def test_a_casting_is_scrapped_refused_at_the_counter_and_put_back(client, db, visit):
    address = f"/heads/{visit.head_id}"
    page = client.page(address)
    assert "Deck cut depth, total mm" in page.text
    page = client.page(page.links["Scrap casting"])
    assert page.value("status") == "scrapped"
    assert client.submit(page, status=422).fault("reason") == "Required: say why"
    page = client.submit(page, {"reason": "cracked through"})
    assert "The casting is scrapped now." in page.notices
    assert "cracked through" in page.text
    assert "This casting is scrapped: cracked through" in client.page(f"/heads/{visit.tag}").text
    page = client.submit(page.links["Undo scrapping"], {"reason": "a casting line"})
    db.expire_all()
    assert visit.head.status is HeadStatus.IN_USE


def test_a_spare_is_added_offered_withdrawn_and_used(client, db, visit):
    page = client.page(client.page("/engines").links["Show spare castings"])
    assert "No spare castings yet." in page.text
    page = client.page(page.links["Add spare casting"])
    values = {"engine_type_id": str(visit.head.engine_type_id), "source": "bought used"}
    assert client.submit(page, values, status=422).fault("casting_number")
    page = client.submit(page, {**values, "serial": "S 7"})
    spare = casting_status.spares(db)[0]
    assert "No visits yet." in page.text
    offer = page.links["Offer spare"]
    assert client.submit(offer, status=422).fault("job") == "Required: choose one"
    page = client.submit(offer, {"job": visit.job.number})
    assert f"Offered for job {visit.job.number}" in page.text
    page = client.submit(page, action=f"/heads/{spare.id}/offer/withdraw")
    assert "Offered for" not in page.text
    page = client.submit(offer, {"job": visit.job.number})
    assert "S 7" in client.page("/spare-castings").text
    page = client.submit(page, action=f"/heads/{spare.id}/offer/use")
    assert page.path == f"/heads/{visit.job.number}-B"
    db.expire_all()
    assert spare.status is HeadStatus.IN_USE


def test_the_workshop_offers_a_spare_and_the_counter_uses_it(signed_in, db, visit):
    by = factories.BY
    spare = casting_status.add_spare(db, by, visit.head.engine_type, {"serial": "S 8"}, "")
    casting_status.offer(db, by, spare, visit.job)
    db.commit()
    machinist = signed_in(Role.MACHINIST)
    page = machinist.page(f"/heads/{spare.id}")
    assert "Withdraw offer" in page.text
    assert "Use spare" not in page.text
