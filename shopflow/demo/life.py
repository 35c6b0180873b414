"""Everyday traces in the demo shop: photos, messages, a private link, extra work."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from shopflow import issuing
from shopflow.config import Settings
from shopflow.demo import photos, scanned, stocked
from shopflow.demo.seed import Seed
from shopflow.files import FileStore
from shopflow.issuing import mailable_documents
from shopflow.mail.sealing import Seal
from shopflow.models import Job, JobState, OutgoingMail
from shopflow.services import withdrawals
from shopflow.services.actor import Actor
from shopflow.services.bench import (
    bench_checks,
    bench_days,
    benches,
    leak_checks,
    plate_exchanges,
    sections,
    sessions,
)
from shopflow.services.billing import credits, invoices, payments
from shopflow.services.certificates import drafts
from shopflow.services.jobs import jobs
from shopflow.services.measuring import limits, measurements
from shopflow.services.messaging import delivery, outbox, smtp_settings
from shopflow.services.messaging.enclosure import Enclosure
from shopflow.services.registry import attachments, customer_links, lift_lists
from shopflow.services.registry.attachments import Upload
from shopflow.services.routing import operations
from shopflow.services.shop.settings import get_shop, zone

SHOWN = (
    ("As it came: dry valves, cylinder 2 dark", photos.CHAMBER, True),
    ("Bowl before the cut, ledge below the seat", photos.PORT, True),
    ("Crack check, for ourselves", photos.DECK, False),
)
SERVER = {"host": "mail.lanternroad.example", "port": "587", "security": "STARTTLS",
          "sender": "counter@lanternroad.example"}  # fmt: skip
"""A name that leads nowhere (RFC 2606): nothing of the demo is ever sent."""


def add(seed: Seed, settings: Settings) -> None:
    """Everything, as of this moment."""
    counter = next(person for person in seed.people.values() if person.role == "counter")
    by = Actor(counter, datetime.now(UTC) - timedelta(hours=2))
    store = FileStore(settings.files)
    recent = [job for job in jobs.recent(seed.db) if job.state is not JobState.CANCELLED]
    at_work = [job for job in recent if job.state is JobState.IN_WORK]
    for job in at_work[:3]:
        photograph(seed, by, store, job)
    extra_work(seed, by, at_work[0])
    ask(seed, by, at_work[1])
    reached = [job for job in recent if job.customer.email]
    certified = next(job for job in reached if job.certificates)
    billed = next(job for job in reached if invoices.of_job(seed.db, job))
    customer_links.make(seed.db, by, certified, days=30)
    post = Post(seed, by, store, Seal(settings.secret_key))
    write(post, certified, billed)
    give_back(seed, by, billed)
    put_in_order(seed, by)
    check_in(seed, by)
    stocked.add(seed, by, at_work[-1])
    draft(seed, by, at_work)
    mould(seed, by, at_work)
    scan(seed, by, store, at_work)
    withdrawn(seed, by, at_work)


def put_in_order(seed: Seed, by: Actor) -> None:
    """Lists of lifts, and what a shop has learnt to hold an engine type to."""
    small = " ".join(f"{0.05 * step:.3f}" for step in range(1, 10))
    lift_lists.create(seed.db, by, {"name": "Every 0.050 to 0.450", "unit": "in", "lifts": small})
    metric = {"name": "Small valves, by the millimetre", "unit": "mm", "lifts": "1 2 3 4 5 6 7 8"}
    lift_lists.create(seed.db, by, metric)
    kind = measurements.kind_by_code(seed.db, "guide clearance")
    engine_type = next(iter(seed.engine_types.values()))
    values = {"lower": "0.0010 in", "upper": "0.0025 in", "source": "what has lasted here"}
    limits.set_(seed.db, by, engine_type, kind, "intake", values)


def check_in(seed: Seed, by: Actor) -> None:
    """The day of one bench gone through, and a plate that another shop measured too."""
    bench = benches.by_name(seed.db, "North bench")
    if bench is None:
        return
    (scale,) = bench.ranges
    day = by.at.astimezone(zone(get_shop(seed.db))).date()
    bench_days.warm_up(seed.db, by, bench, day, {"minutes": "20"})
    leak = {"pressure": "28 inH2O", "leakage": "0.8 cfm"}
    leak_checks.record(seed.db, by, scale, leak)
    last = scale.checks[-1]
    plate = {"plate": last.plate, "expected": last.expected, "indicated": last.indicated.text}
    bench_checks.check(seed.db, by, scale, plate)
    exchange = {
        "plate": last.plate, "other_shop": "Marl & Tansy Cylinder Heads",
        "measured_on": day - timedelta(days=24), "pressure": "28 inH2O",
        "own_flow": "212.1 cfm", "own_uncertainty": "1.3 %",
        "their_flow": "209.6 cfm", "their_uncertainty": "1.6 %",
        "notes": "By post, their bench warmed half an hour",
    }  # fmt: skip
    plate_exchanges.record(seed.db, by, scale, exchange)


def draft(seed: Seed, by: Actor, at_work: Sequence[Job]) -> None:
    """A certificate that is being written."""
    tested = next(visit for job in at_work for visit in job.heads if visit.sessions)
    drafts.write(seed.db, by, tested, tested.sessions, {"opinions": "The bowls are done."})


def withdrawn(seed: Seed, by: Actor, at_work: Sequence[Job]) -> None:
    """A test of the wrong cylinder, withdrawn."""
    tested = next(visit for job in at_work for visit in job.heads if visit.sessions)
    first = sessions.document(tested.sessions[0])
    wrong = dataclasses.replace(first, cylinder="2", title="Before the right one")
    row = sessions.store(seed.db, by, tested, wrong, tested.sessions[0].after_operation)
    withdrawals.withdraw(seed.db, by, row, "Cylinder 1 was on the bench, not 2")


def mould(seed: Seed, by: Actor, at_work: Sequence[Job]) -> None:
    """Sections of an intake port and of its manifold's runner, measured on a moulding cut up."""
    tested = next(visit for job in at_work for visit in job.heads if visit.sessions)
    intake = next(row for row in tested.sessions if row.side == "intake")
    location = {
        "side": "intake",
        "cylinder": intake.cylinder,
        "notes": "moulding, cut and measured",
    }
    run = ((4, 1010), (12, 1080), (25, 1150), (40, 1120), (60, 1180), (85, 1260))
    runner = ((10, 1310), (50, 1390))
    for datum, measured in (("valve seat", run), ("manifold flange", runner)):
        rows = [{"distance": f"{at} mm", "area": f"{area} mm2"} for at, area in measured]
        sections.record(seed.db, by, tested, {**location, "datum": datum}, rows)


def scan(seed: Seed, by: Actor, store: FileStore, at_work: Sequence[Job]) -> None:
    """The exhaust port of the same head, scanned as it came."""
    tested = next(visit for job in at_work for visit in job.heads if visit.sessions)
    intake = next(row for row in tested.sessions if row.side == "intake")
    scanned.add(seed, by, store, tested, intake.cylinder)


def photograph(seed: Seed, by: Actor, store: FileStore, job: Job) -> None:
    """Drawings that stand for photos of the job's first head."""
    visit = job.heads[0]
    for caption, scene, is_shown in SHOWN:
        upload = Upload("photo.jpg", photos.draw(scene, visit.tag))
        values = {"caption": caption, "shown_to_customer": is_shown}
        attachments.add(seed.db, by, store, job, visit, [upload], values)


def extra_work(seed: Seed, by: Actor, job: Job) -> None:
    """Work found on the bench, quoted apart and waiting for the customer's word."""
    values = {
        "instructions": "Found at teardown: two guides worn past the limit.",
        "customer_text": "Two exhaust guides replaced: worn past the limit",
        "price": "96.00",
    }
    operations.add(seed.db, by, job.heads[0], seed.steps["guide"].id, values, is_extra=True)
    issuing.give_quote(seed.db, by, job, {})


def ask(seed: Seed, by: Actor, job: Job) -> None:
    """Work found on the bench, which the counter has still to put to the customer."""
    values = {
        "instructions": "Cylinder 1 intake guide is 0.1 mm over: replace before the seats are cut?",
        "customer_text": "One intake guide replaced: worn past the limit",
        "price": "48.00",
    }
    operations.add(seed.db, by, job.heads[0], seed.steps["guide"].id, values, is_extra=True)


def give_back(seed: Seed, by: Actor, job: Job) -> None:
    """A small part of an invoice, credited."""
    (invoice, *_) = invoices.of_job(seed.db, job)
    dearest = max(credits.open_lines(invoice), key=lambda line: line.left)
    reason = "Agreed at collection: the head was a day late."
    note = issuing.issue_credit_note(seed.db, by, invoice, reason, {dearest.name: "20.00"})
    paid_back = {"amount": -note.total, "method": "card", "note": note.number}
    payments.record(seed.db, by, job, paid_back)


@dataclass(frozen=True)
class Post:
    """Arguments for queueing a message."""

    seed: Seed
    by: Actor
    store: FileStore
    seal: Seal

    def queue(self, job: Job, subject: str, paper: Enclosure | None = None) -> OutgoingMail:
        """One message to the job's customer."""
        values = {
            "to_address": job.customer.email,
            "to_name": job.customer.name,
            "subject": subject,
            "body": f"Hello {job.customer.name},\n\nhere it is.\n\nLantern Road Head Works",
        }
        return outbox.queue(
            self.seed.db, self.by, job, values, enclosure=paper, store=self.store, seal=self.seal
        )

    def claim(self, row: OutgoingMail) -> OutgoingMail:
        """Claim a message as a sender does, whose result follows."""
        self.seed.db.flush()
        claimed = delivery.claim(self.seed.db, self.by.at)
        assert claimed is row
        return row


def write(post: Post, certified: Job, billed: Job) -> None:
    """A message that went out, one that was refused, and one that waits."""
    db, at = post.seed.db, post.by.at
    owner = next(person for person in post.seed.people.values() if person.role == "owner")
    smtp_settings.save(db, Actor(owner, at), post.seal, SERVER, None)
    paper = mailable_documents.find(db, post.store, "certificate", certified.certificates[-1].id)
    delivery.sent(db, post.claim(post.queue(certified, paper.title, paper)), at)
    refusal = "the mail server does not take the address: 550 mailbox unavailable"
    refused = post.queue(billed, f"Your job {billed.number} is ready")
    delivery.refused(db, post.claim(refused), at, refusal)
    bill = mailable_documents.find(db, post.store, "invoice", invoices.of_job(db, billed)[-1].id)
    post.queue(billed, bill.title, bill)
