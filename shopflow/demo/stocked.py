"""Parts in the demo shop: suppliers, counted stock, an order partly received, a head that waits."""

from __future__ import annotations

from decimal import Decimal

from shopflow.demo.seed import Seed
from shopflow.models import Job, Supplier
from shopflow.services.actor import Actor
from shopflow.services.parts import catalog, needs, orders, part_holds, stock, suppliers

SPRINGS = "Valve springs, the customer's own set"


def add(seed: Seed, by: Actor, waiting: Job) -> None:
    """Suppliers, parts, an order, and what the last head of a job needs."""
    rows = seed.read("parts.toml")
    by_key: dict[str, Supplier] = {}
    for row in rows["supplier"]:
        values = dict(row)
        key = values.pop("key")
        by_key[key] = suppliers.add(seed.db, by, values)
    for row in rows["part"]:
        values = dict(row)
        counted = Decimal(values.pop("stock"))
        values["supplier_id"] = by_key[values.pop("supplier")].id
        part = catalog.add(seed.db, by, values)
        stock.count(seed.db, by, part, counted)
    visit = waiting.heads[-1]
    included = {"unit_price": "0.00", "head": visit.tag}
    for number, quantity in (("VS-6016", "16"), ("EV-295", "8")):
        wanted = catalog.by_number(seed.db, number)
        assert wanted is not None
        values = {"part_id": wanted.id, "quantity": quantity, **included}
        needs.add(seed.db, by, waiting, values)
    own = {"is_customers_own": True, "description": SPRINGS, "quantity": "1", "unit": "set"}
    needs.own_is_here(seed.db, by, needs.add(seed.db, by, waiting, {**own, "head": visit.tag}))
    supplier = by_key["northgate"]
    order = orders.draft(seed.db, by, supplier, orders.wanted(seed.db)[supplier])
    orders.issue(seed.db, by, order)
    part_holds.begin(seed.db, by, visit, needs.of_job(seed.db, waiting))
    paste = next(line for line in order.lines if line.part.number == "LP-240")
    orders.receive(seed.db, by, order, {paste.id: str(paste.quantity)})
