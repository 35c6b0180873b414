"""A shop with one of everything that an address can name, and the addresses that name them."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

from flask import Flask
from sqlalchemy import select
from sqlalchemy.orm import Session
from werkzeug.routing import Rule

from shopflow import issuing, testfile
from shopflow.files import FileStore
from shopflow.models import Job, LineKind, Operation, Role, User, Visit, steps_key
from shopflow.services.accounts import api_tokens, login_sessions
from shopflow.services.actor import Actor
from shopflow.services.bench import benches, calibrations, fixtures, scans, sections, sessions
from shopflow.services.billing import job_lines, payments, price_list, quotes, reminders
from shopflow.services.certificates import drafts
from shopflow.services.counter import booking, collections
from shopflow.services.engine import engine_results
from shopflow.services.hand_off import notes
from shopflow.services.measuring import (
    integrity_limits,
    integrity_tests,
    limits,
    measurements,
    usual_values,
)
from shopflow.services.messaging import feeds, smtp_settings
from shopflow.services.parts import catalog, needs, orders, sent_out, suppliers
from shopflow.services.registry import attachments, customer_links, lift_lists
from shopflow.services.registry.attachments import Upload
from shopflow.services.routing import holds, time_tracking, work_plans
from shopflow.services.shop import house_style
from shopflow.services.springs import records as spring_records
from shopflow.services.webhooks import hooks
from tests import factories, meshes, photos
from tests.cli.sessions import AFTER_US, INTAKE_US
from tests.optional import present

WEB = "https://heads.example"
"""Address of the shop by its own settings."""

_counting = itertools.count(1)

Spoil = Callable[[Session], None]
"""Something done to the rows before papers are made of them."""


@dataclass(frozen=True)
class OneOfEverything:
    """Parts of an address, by the endpoint's noun and the part's name, else by the name."""

    job: Job
    link: str
    """Path of the customer's private page."""

    places: dict[str, str]

    def address(self, rule: Rule) -> str:
        """The address of a rule with everything in it on file."""
        address = rule.rule
        for part in parts(rule):
            name = part.split(":")[-1]
            address = address.replace(f"<{part}>", self.value_of(rule.endpoint, name))
        return address

    def value_of(self, endpoint: str, name: str) -> str:
        """Value for one part of an address."""
        for key in (f"{endpoint} {name}", f"{endpoint.split('.')[0]} {name}", name):
            if key in self.places:
                return self.places[key]
        raise KeyError(f"no record for {name} of {endpoint}")


def parts(rule: Rule) -> list[str]:
    """The parts of a rule, as "int:job_id"."""
    return re.findall(r"<([^>]+)>", rule.rule)


def takes(rule: Rule, method: str) -> bool:
    """True where a rule answers to a method."""
    return method in present(rule.methods)


def rules(app: Flask) -> Iterator[Rule]:
    """Every rule of the app."""
    yield from sorted(app.url_map.iter_rules(), key=lambda rule: (rule.endpoint, rule.rule))


def create_one_of_everything(
    db: Session, store: FileStore, customer: str = "Orla Finch", spoil: Spoil = lambda db: None
) -> OneOfEverything:
    """Make one of everything. `spoil` is called before papers are made."""
    person = db.scalars(select(User).where(User.role == Role.OWNER)).one()
    owner = Actor(person, factories.NOW)
    turn = next(_counting)
    shop = factories.shop_or_none(db)
    shop.web_address = WEB
    if smtp_settings.the_mailbox(db) is None:
        factories.create_mailbox(db)
    shop.country, shop.address = "DE", "Weir Lane 12\n40417 Trewarrick"
    electronic = {"e_invoices": True, "vat_id": "DE999999995"}
    house_style.change(db, owner, house_style.the_style(db), electronic)
    buyer = factories.create_customer(
        db, name=customer, email="someone@boats.example", address="Quay Street 4"
    )
    visit = factories.create_visit(db, customer=buyer)
    step = factories.create_operation(db, visit, "teardown", price="100.00")
    part = {"description": "Valve guide", "quantity": "8", "unit_price": "7.85"}
    line = job_lines.add(db, owner, visit.job, LineKind.PART, part)
    shop.uses_parts = True
    supplier = suppliers.add(db, owner, {"name": f"Supplier {turn}", "email": "o@v.example"})
    part_row = catalog.add(
        db,
        owner,
        {"number": f"P {turn}", "name": "Valve", "price": "18.50", "supplier_id": supplier.id},
    )
    needed = needs.add(db, owner, visit.job, {"part_id": part_row.id, "quantity": "8"})
    welding = job_lines.add(
        db, owner, visit.job, LineKind.OUTSIDE_WORK, {"description": "Weld", "unit_price": "90.00"}
    )
    out = sent_out.send(db, owner, welding, {"supplier_id": supplier.id})
    order = orders.draft(db, owner, supplier, orders.wanted(db)[supplier])
    order_line = order.lines[0]
    orders.issue(db, owner, order)
    stage = reminders.add(db, owner, {"days_overdue": turn, "subject": "Reminder"})
    entry = price_list.add(db, owner, {"description": "Valve guide", "price": "7.85"})
    steps = [{"kind": "teardown"}]
    routing = work_plans.save(db, owner, f"Routing {turn}", "", steps)
    kind = measurements.kind_by_code(db, "guide clearance")
    measured = measurements.record(db, owner, visit, kind.id, {"value": "0.0021 in"}, step)
    test_step = factories.create_operation(db, visit, "crack-check", price="0")
    result = {"method": "dye penetrant", "result": "passed"}
    tested = integrity_tests.record(db, owner, test_step, result)
    shared = {"side": "intake", "when": "after"}
    sections.record(db, owner, visit, shared, [{"distance": "12 mm", "area": "1290 mm2"}])
    stored = sessions.store(db, owner, visit, testfile.loads(INTAKE_US))
    bench = benches.create(db, owner, {"name": f"bench {turn}", "reading": "volume flow"})
    range_ = benches.add_range(db, owner, bench, {"name": "whole"})
    photo = fixtures.stage_photo(store, photos.jpeg())
    fixture = fixtures.create(db, owner, {"kind": "manifold", "name": f"M-{turn}"}, photo)
    calibration = calibrations.calibrate(
        db,
        owner,
        range_,
        {
            "identifier": f"C{turn}",
            "factor": "1.0",
            "made_on": date(2026, 1, 5),
            "expanded_uncertainty": "1 %",
            "reference": "plate",
            "certificate_number": "1",
        },
    )
    words = {"addressee": "Tillery & Daughters", "to_check": "coil bind"}
    valves = {"intake": {"base_seat_load": "90 lbf"}, "exhaust": {"base_seat_load": "95 lbf"}}
    notes.write(db, owner, visit, words, valves, [])
    shown = _photo(db, store, visit, f"shown {turn}.jpg", shown=True)
    hidden = _photo(db, store, visit, f"hidden {turn}.jpg", shown=False)
    scan = scans.keep(db, owner, visit, scans.stage(store, Upload("port.stl", meshes.stl())))
    sessions.store(db, owner, visit, testfile.loads(AFTER_US))
    left, returned = _left_and_back(db, owner, visit)
    spoil(db)
    issued = factories.issue_certificate(db, owner, [stored])
    draft = drafts.write(db, owner, visit, [stored], {}, None)
    quote = issuing.give_quote(db, owner, visit.job, {})
    quotes.approve(db, owner, quote, "Orla Finch", "telephone")
    invoice = issuing.issue_invoice(db, owner, visit.job, [step.id])
    paid = payments.record(db, owner, visit.job, {"amount": "1.00", "method": "cash"})
    mail = factories.queue_mail(db, store, visit.job)
    link_row, link = _link(db, visit.job)
    sign_in, _ = login_sessions.begin(db, person, datetime.now(UTC), "", "a tablet")
    limit = limits.set_(db, owner, visit.head.engine_type, kind, "", {"upper": "0.003 in"})
    leak_limit = integrity_limits.set_(
        db, owner, visit.head.engine_type, "vacuum test", "", {"least_pressure": "20 inHg"}
    )
    usual = usual_values.set_(db, owner, visit.head.engine_type, kind, {"value": "0.0015 in"})
    lifts = {"name": f"List {turn}", "unit": "mm", "lifts": "1 2 3"}
    lift_list = lift_lists.create(db, owner, lifts)
    cam = factories.create_cam(db, visit.job)
    told = {"day": "2026-03-02", "kind": "dynamometer", "power": "210 hp"}
    reported = engine_results.add(db, owner, visit.job, told)
    points = [{"height": "40 mm", "load": "300 N"}, {"height": "30 mm", "load": "700 N"}]
    for whose in (visit.head.engine_type, visit):
        spring = spring_records.save(db, owner, whose, "intake", {"name": "single"}, points)
    factories.set_layout(db, visit.head.engine_type)
    profile = factories.create_seat_profile(db, visit)
    wait = holds.begin(db, owner, visit, {"wait_for": "parts", "what": "8 valves"})
    token, _ = api_tokens.make(db, owner, factories.token_values("read"))
    hook = factories.create_webhook(db, owner)
    delivery = hooks.send_trial(db, owner, hook)
    _, calendar = feeds.make(db, owner, person)
    db.flush()
    return OneOfEverything(
        visit.job,
        link.removeprefix(WEB),
        {
            "number": visit.job.number,
            "certificates number": issued.number,
            "papers.certificate number": issued.number,
            "customer_view number": issued.number,
            "verification number": issued.number,
            "revision": "1",
            "papers.quote number": quote.number,
            "invoices.invoice number": invoice.number,
            "invoices.credit number": invoice.number,
            "papers.invoice number": invoice.number,
            "papers.invoice_xml number": invoice.number,
            "customer_view.invoice number": invoice.number,
            "customer_view.invoice_xml number": invoice.number,
            "api.certificate number": issued.number,
            "api.quote number": quote.number,
            "api.invoice number": invoice.number,
            "api.certificate_pdf number": issued.number,
            "collections.hand_over number": left.number,
            "papers.collection number": left.number,
            "warranty.change number": returned.number,
            "comparisons.at_lift number": "1",
            "comparisons.in_part number": "1",
            "sections.worked number": "1",
            "tag": visit.tag,
            "head_id": str(visit.head_id),
            "customer_id": str(buyer.id),
            "engine_type_id": str(visit.head.engine_type_id),
            "operation_id": str(step.id),
            "forecasts.forecast steps": steps_key({step.kind_id}),
            "integrity_tests.record operation_id": str(test_step.id),
            "test_id": str(tested.id),
            "routing_id": str(routing.id),
            "engine_id": str(visit.head.engine_type_id),
            "kind_id": str(kind.id),
            "operation_kinds kind_id": str(step.kind_id),
            "limit_id": str(limit.id),
            "leak_limit_id": str(leak_limit.id),
            "usual_id": str(usual.id),
            "line_id": str(line.id),
            "part_id": str(part_row.id),
            "supplier_id": str(supplier.id),
            "need_id": str(needed.id),
            "work_id": str(out.id),
            "sent_out line_id": str(welding.id),
            "purchase_orders number": order.number,
            "papers.purchase_order number": order.number,
            "purchase_orders line_id": str(order_line.id),
            "stage_id": str(stage.id),
            "entry_id": str(entry.id),
            "list_id": str(lift_list.id),
            "wait_id": str(wait.id),
            "cam_id": str(cam.id),
            "engine_result_id": str(reported.id),
            "swirl_test_id": str(factories.create_swirl_test(db, stored).id),
            "velocity_map_id": str(factories.create_velocity_map(db, stored).id),
            "fuel": "gasoline",
            "induction": "natural",
            "spring_id": str(spring.id),
            "profile_id": str(profile.id),
            "cylinder": "1",
            "valve": "1",
            "side": "intake",
            "payment_id": str(paid.id),
            "stretch_id": str(_stretch(db, owner, step)),
            "token_id": str(token.id),
            "hook_id": str(hook.id),
            "delivery_id": str(delivery.id),
            "feeds token": calendar.rpartition("/")[2].removesuffix(".ics"),
            "after": "1",
            "port": "1",
            "part": "whole",
            "when": "after",
            "code": "customers",
            "measurement_id": str(measured.id),
            "session_id": str(stored.id),
            "reading_id": str(stored.lifts[0].readings[0].id),
            "place": "1",
            "bench_id": str(bench.id),
            "bench_days.past day": "2026-03-05",
            "fixture_id": str(fixture.id),
            "range_id": str(range_.id),
            "calibration_id": str(calibration.id),
            "draft_id": str(draft.id),
            "file_id": str(shown),
            "hidden file_id": str(hidden),
            "scans file_id": str(scan.id),
            "link_id": str(link_row),
            "mail_id": str(mail.id),
            "person_id": str(person.id),
            "sign_in_id": str(sign_in.id),
            "token": link.rpartition("/")[2],
            "kind": "certificate",
            "key": str(issued.id),
            "what": "customer",
            "way": "earlier",
            "operation_kinds way": "retire",
            "measurement_kinds way": "archive",
            "name": "compression",
            "comparisons name": "whole",
            "imports name": "0" * 64,
            "reports name": "jobs",
            "style": "Regular",
            "filename": "css/base.css",
        },
    )


def _photo(db: Session, store: FileStore, visit: Visit, name: str, *, shown: bool) -> int:
    upload = Upload(name, photos.jpeg(40 + next(_counting), 40))
    values = {"caption": name, "shown_to_customer": shown}
    by = Actor(None, factories.NOW)
    return attachments.add(db, by, store, visit.job, visit, [upload], values).stored[0].id


def _stretch(db: Session, by: Actor, step: Operation) -> int:
    """Time spent on a step, over by now."""
    return time_tracking.end(
        db, replace(by, at=by.at + timedelta(hours=1)), time_tracking.begin(db, by, step)
    ).id


def _left_and_back(db: Session, by: Actor, visit: Visit) -> tuple[Job, Job]:
    """A job of the same customer that was collected, and of its warranty return."""
    left = factories.create_job(db, visit.job.customer, visit.head.engine_type)
    factories.approve(db, by, left, "Orla Finch", "telephone")
    factories.make_ready(db, by, left)
    values = {"how": "collected", "handed_to": "Orla Finch", "handed_on": "2026-03-05"}
    collections.hand_over(db, by, left, values, [], [])
    form = booking.BookIn(
        heads=[{"head_id": left.heads[0].head_id}],
        customer_id=left.customer_id,
        returns=left.number,
        warranty={"reason": "a seat leaks", "borne_by": "the shop"},
    )
    return left, booking.book_in(db, by, form)


def _link(db: Session, job: Job) -> tuple[int, str]:
    row, address = customer_links.make(db, Actor.now(None), job, shows_prices=True)
    db.flush()
    return row.id, address
