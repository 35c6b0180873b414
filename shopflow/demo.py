"""The invented shop: its seed data run through the main job, from the counter to the papers."""

from __future__ import annotations

import dataclasses
import gc
import secrets
import tomllib
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow import papers, sessionfile
from shopflow.config import DATABASE_FILE, PAPERS_FOLDER, Settings
from shopflow.database import open_engine, session_factory, upgrade
from shopflow.errors import ShopflowError
from shopflow.models import (
    CLOSED_STATES,
    BenchSession,
    Certificate,
    Customer,
    EngineType,
    Head,
    Job,
    JobHead,
    JobState,
    MeasurementKind,
    Operation,
    OperationKind,
    Person,
)
from shopflow.resources import SEED_DATA
from shopflow.services import (
    bench_cards,
    benches,
    catalogue,
    certificates,
    customers,
    decisions,
    documents,
    drafts,
    engines,
    handoffs,
    house_style,
    invoices,
    jobs,
    measurements,
    operations,
    payments,
    people,
    quotes,
    sessions,
    shop,
    tags,
)
from shopflow.services.actor import Actor

WEB_ADDRESS = "http://127.0.0.1:8460"
"""Where the demo is served unless told otherwise: what the codes on its papers lead to."""

Table = dict[str, Any]
When = TypeVar("When", date, datetime)


@dataclass
class Demo:
    """What was made, for the account given to whoever asked for it."""

    data: Path
    database_url: str
    passwords: dict[str, str] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)
    papers: list[Path] = field(default_factory=list)


def build(data: Path) -> Demo:
    """Make a new data folder with the demo shop in it.

    Raises ShopflowError where the folder holds anything already.
    """
    if data.exists() and (not data.is_dir() or any(data.iterdir())):
        raise ShopflowError(f"{data} holds something already; name a new or an empty folder")
    settings = Settings.for_folder(data)
    # The demo never goes into a database named elsewhere.
    demo = Demo(settings.data, f"sqlite:///{settings.data / DATABASE_FILE}")
    engine = open_engine(demo.database_url)
    # Nothing becomes garbage while the shop is built; looking for it costs a fifth of the time.
    gc.disable()
    try:
        upgrade(engine)
        # Every verb flushes what it did; flushing before each query as well is time for nothing.
        with session_factory(engine).begin() as db, db.no_autoflush:
            demo.passwords = _Loader(db, SEED_DATA).load()
        with session_factory(engine)() as db:
            demo.counts = _counts(db)
            demo.papers = _write_papers(db, settings.data / PAPERS_FOLDER)
    finally:
        gc.enable()
        engine.dispose()
    return demo


def _counts(db: Session) -> dict[str, int]:
    nouns: dict[str, type[Any]] = {
        "customers": Customer,
        "engine types": EngineType,
        "heads": Head,
        "jobs": Job,
        "bench sessions": BenchSession,
        "certificates": Certificate,
    }
    return {
        name: db.scalar(select(func.count()).select_from(noun)) or 0 for name, noun in nouns.items()
    }


def _write_papers(db: Session, folder: Path) -> list[Path]:
    folder.mkdir()
    written: list[Path] = []

    def write(name: str, content: bytes) -> None:
        path = folder / f"{name}.pdf"
        path.write_bytes(content)
        written.append(path)

    lately = datetime.now(UTC) - timedelta(days=365)
    for certificate in db.scalars(select(Certificate).order_by(Certificate.number)):
        write(f"flow-certificate-{certificate.number}", certificate.pdf)
    for job in jobs.recent(db):
        if job.is_open:
            write(f"work-order-{job.number}", papers.work_order(documents.work_order(db, job)))
            write(f"bench-card-{job.number}", papers.bench_card(bench_cards.bench_card(db, job)))
            write(f"tags-{job.number}", papers.tags(tags.sheet(db, job.heads)))
            for given in quotes.of_job(db, job):
                write(f"quote-{given.number}-{given.revision}", given.pdf)
        for issued in invoices.of_job(db, job):
            write(f"invoice-{issued.number}", issued.pdf)
        for stay in job.heads:
            if stay.hand_off is not None and stay.hand_off.written_at > lately:
                content = papers.hand_off(documents.hand_off(db, stay))
                write(f"hand-off-{stay.tag}", content)
    return written


class _Loader:
    """Runs the seed files through the same verbs as the web pages use."""

    def __init__(self, db: Session, folder: Path) -> None:
        self.db = db
        self.folder = folder
        self.people: dict[str, Person] = {}
        self.customers: dict[str, Customer] = {}
        self.engine_types: dict[str, EngineType] = {}
        self.heads: dict[str, Head] = {}
        self.steps: dict[str, OperationKind] = {}
        self.figures: dict[str, MeasurementKind] = {}
        self.shop_file = self.read("shop.toml")
        # Whole weeks keep the weekdays; the demo shop is always in the middle of its work.
        weeks = (datetime.now(UTC).date() - self.shop_file["as_of"]).days // 7
        self.shift = timedelta(weeks=weeks)

    def read(self, name: str) -> Table:
        """One seed file."""
        return tomllib.loads((self.folder / name).read_text(encoding="utf-8"))

    def moved(self, when: When) -> When:
        """A date or time of the files, moved to this week's telling."""
        return when + self.shift

    def load(self) -> dict[str, str]:
        """Load everything; the made-up passwords by login."""
        files = sorted((self.folder / "jobs").glob("*.toml"))
        job_files = [tomllib.loads(path.read_text(encoding="utf-8")) for path in files]
        job_files.sort(key=lambda job: job["booked_in"])
        opening = Actor(None, self.moved(job_files[0]["booked_in"]) - timedelta(days=30))
        shop.set_up(self.db, opening, {**self.shop_file["shop"], "web_address": WEB_ADDRESS})
        self.steps = {kind.code: kind for kind in catalogue.operation_kinds(self.db)}
        self.figures = {kind.code: kind for kind in catalogue.measurement_kinds(self.db)}
        passwords = self.add_people(opening)
        self.style(opening)
        self.add_files(opening)
        for job_file in job_files:
            self.add_job(job_file)
        self.add_invoices()
        return passwords

    def add_people(self, by: Actor) -> dict[str, str]:
        """Accounts with passwords made up on the spot, never the same on two machines."""
        passwords = {}
        for row in self.shop_file["people"]:
            password = secrets.token_urlsafe(9)
            person = people.create(self.db, by, password=password, **row)
            self.people[row["login"]] = person
            passwords[row["login"]] = password
        return passwords

    def style(self, by: Actor) -> None:
        """How the shop's papers look."""
        values = dict(self.shop_file["house_style"])
        logo = (self.folder / values.pop("logo")).read_bytes()
        style = house_style.change(self.db, by, house_style.the_style(self.db), values)
        house_style.set_logo(self.db, by, style, logo)

    def add_files(self, by: Actor) -> None:
        """Customers, engine types, benches and routings."""
        for row in self.read("customers.toml")["customer"]:
            key, contacts = row.pop("key"), row.pop("contact", [])
            customer = self.customers[key] = customers.create(self.db, by, row)
            for contact in contacts:
                customers.add_contact(self.db, by, customer, contact)
        for row in self.read("engines.toml")["engine_type"]:
            key = row.pop("key")
            self.engine_types[key] = engines.create(self.db, by, row)
        for row in self.read("benches.toml")["bench"]:
            self.add_bench(by, row)
        for row in self.read("checks.toml")["check"]:
            self.check_bench(row)
        for row in self.read("routings.toml")["routing"]:
            operations.save_routing(self.db, by, row["name"], row.get("notes", ""), row["step"])

    def add_bench(self, by: Actor, row: Table) -> None:
        """A bench, its ranges and their calibrations."""
        ranges = row.pop("range")
        bench = benches.create(self.db, by, row)
        for range_row in ranges:
            calibrations = range_row.pop("calibration", [])
            added = benches.add_range(self.db, by, bench, range_row)
            for calibration in calibrations:
                for name in ("made_on", "due_on"):
                    if name in calibration:
                        calibration[name] = self.moved(calibration[name])
                benches.calibrate(self.db, by, added, calibration)

    def check_bench(self, row: Table) -> None:
        """A range set against a plate."""
        values = dict(row)
        bench = benches.by_name(self.db, values.pop("bench"))
        name = values.pop("range")
        ranges = [one for one in (bench.ranges if bench else []) if one.name == name]
        by = self.actor(values.pop("by"), values.pop("at"))
        benches.check(self.db, by, ranges[0], values)

    def actor(self, login: str | None, at: datetime) -> Actor:
        """Who did it, and when, as the seed file says."""
        return Actor(self.people[login] if login else None, self.moved(at))

    def add_job(self, row: Table) -> None:
        """One job from the counter to where it stands now."""
        counter = next(person for person in self.people if self.people[person].role == "counter")
        by = self.actor(counter, row["booked_in"])
        fields = {name: row[name] for name in jobs.SPECIFICATION if name in row}
        if "promised_on" in fields:
            fields["promised_on"] = self.moved(fields["promised_on"])
        first = row["head"][0]
        job = jobs.book_in(
            self.db,
            by,
            jobs.BookIn(
                customer_id=self.customers[row["customer"]].id,
                engine_type_id=self.engine_type_of(first).id,
                heads=[self.head_fields(head) for head in row["head"]],
                job=fields,
            ),
        )
        for head, stay in zip(row["head"], job.heads, strict=True):
            self.heads[head["key"]] = stay.head
        if "approval" in row:
            approval = row["approval"]
            jobs.approve(
                self.db,
                self.actor(counter, approval["at"]),
                job,
                approval["by"],
                approval["how"],
            )
        made: dict[str, BenchSession] = {}
        for head, stay in zip(row["head"], job.heads, strict=True):
            made |= self.work_on(stay, head)
        self.quote(job, row, counter)
        self.finish(job, row, made)

    def engine_type_of(self, head: Table) -> EngineType:
        """The engine type named, or that of a head that has been here before."""
        if "engine_type" in head:
            return self.engine_types[head["engine_type"]]
        return self.heads[head["key"]].engine_type

    def head_fields(self, head: Table) -> Table:
        """What is said of a head at the counter."""
        names = (
            "casting_number", "serial", "material", "ports", "chamber",
            "condition", "parts", "parts_received", "came_back_because",
        )  # fmt: skip
        fields = {name: head[name] for name in names if name in head}
        if head["key"] in self.heads:
            fields["head_id"] = self.heads[head["key"]].id
        return fields

    def work_on(self, stay: JobHead, row: Table) -> dict[str, BenchSession]:
        """A head's inspection, routing, bench sessions and hand-off note."""
        for measured in row.get("measurement", []):
            self.measure(stay, measured, None)
        steps = [self.operate(stay, step) for step in row.get("operation", [])]
        made = {}
        for item in row.get("session", []):
            text = (self.folder / item["file"]).read_text(encoding="utf-8")
            document = sessionfile.loads(text)
            if document.measured_at is not None:
                moved = self.moved(document.measured_at)
                document = dataclasses.replace(document, measured_at=moved)
            after = steps[item["after"] - 1] if "after" in item else None
            by = self.actor(item["by"], item["entered_at"])
            made[item["file"]] = sessions.store(self.db, by, stay, document, after)
        if "hand_off" in row:
            self.hand_off(stay, row["hand_off"])
        return made

    def measure(self, stay: JobHead, row: Table, operation: Operation | None) -> None:
        """One measured figure."""
        values = dict(row)
        kind = self.figures[values.pop("kind")]
        by = self.actor(values.pop("by"), values.pop("at"))
        measurements.record(self.db, by, stay, kind.id, values, operation)

    def operate(self, stay: JobHead, row: Table) -> Operation:
        """One step of a routing, as far as it has come."""
        kind = self.steps[row["kind"]]
        planner = Actor(None, stay.job.booked_in_at)
        names = ("instructions", "planned_minutes", "price")
        values = {name: row[name] for name in names if name in row}
        if "again" in row:
            # The decision to do a step again has planned it.
            step = operations.change(self.db, planner, stay.operations[-1], values)
        else:
            step = operations.add(self.db, planner, stay, kind.id, values)
        if "started_at" in row:
            self.spend(step, row)
        for measured in row.get("measurement", []):
            self.measure(stay, measured, step)
        if "decision" in row:
            word = row["decision"]
            by = self.actor(word["by"], word["at"])
            decisions.decide(self.db, by, step, word["choice"], word["reason"])
        if "signed_off_at" in row:
            done: Table = {name: row[name] for name in ("actual_minutes", "notes") if name in row}
            by = self.actor(row["signed_off_by"], row["signed_off_at"])
            operations.sign_off(self.db, by, step, done)
        if "skip_reason" in row:
            operations.skip(self.db, planner, step, row["skip_reason"])
        return step

    def spend(self, step: Operation, row: Table) -> None:
        """Start a step, and stop after the minutes it took: half the plan where it is in hand."""
        operations.start(self.db, self.actor(row["started_by"], row["started_at"]), step)
        minutes = row.get("actual_minutes", step.planned_minutes // 2)
        ended_at = row["started_at"] + timedelta(minutes=minutes)
        ended_at = min(ended_at, row.get("signed_off_at", ended_at))
        operations.pause(self.db, self.actor(row["started_by"], ended_at), step)

    def hand_off(self, stay: JobHead, row: Table) -> None:
        """A hand-off note, signed where the files say so."""
        values = {
            "addressee": row.get("addressee", ""),
            "to_check": "\n".join(row.get("to_check", [])),
            "cautions": "\n".join(row.get("cautions", [])),
            "notes": row.get("notes", ""),
        }
        valves = {valve.pop("side"): valve for valve in row.get("valve", [])}
        at = row.get("signed_at") or self.shop_file["as_of_time"]
        by = self.actor(row.get("signed_by"), at)
        note = handoffs.write(
            self.db, by, stay, values, valves, row.get("figure", []), row.get("engine")
        )
        if "signed_at" in row:
            handoffs.sign(self.db, by, note)

    def quote(self, job: Job, row: Table, counter: str) -> None:
        """The quote of the job's work, agreed to where the job is."""
        approval = row.get("approval")
        if approval is None and JobState(row["state"]) is not JobState.QUOTED:
            return
        at = row["booked_in"] + (approval["at"] - row["booked_in"]) / 2 if approval else None
        given = quotes.give(self.db, self.actor(counter, at or row["booked_in"]), job, {})
        if approval is not None:
            by = self.actor(counter, approval["at"])
            quotes.approve(self.db, by, given, approval["by"], approval["how"])

    def add_invoices(self) -> None:
        """Invoices of the jobs that have left, in the order they did, and what was paid."""
        left = (JobState.COLLECTED, JobState.SHIPPED)
        closed = self.db.scalars(select(Job).where(Job.state.in_(left)).order_by(Job.closed_at))
        counter = next(person for person in self.people.values() if person.role == "counter")
        for job in closed:
            assert job.closed_at is not None
            by = Actor(counter, job.closed_at)
            made = invoices.issue(self.db, by, job)
            due = payments.account(self.db, job).open
            if due:
                how = {"method": "card", "note": made.number}
                payments.record(self.db, by, job, {"amount": due, **how})

    def finish(self, job: Job, row: Table, made: dict[str, BenchSession]) -> None:
        """Certificate, and the state the job has come to."""
        if "certificate" in row:
            wanted = row["certificate"]
            by = self.actor(wanted["by"], wanted["issued_at"])
            chosen = [made[name] for name in wanted["sessions"]]
            draft = drafts.write(self.db, by, chosen[0].job_head, chosen)
            drafts.check(self.db, by, draft, "Read over against the bench sheets, line by line.")
            certificates.issue(self.db, by, draft)
        state = JobState(row["state"])
        done = [
            step["signed_off_at"]
            for head in row["head"]
            for step in head.get("operation", [])
            if "signed_off_at" in step
        ]
        at = row.get("closed_at") or max(done, default=row["booked_in"])
        by = self.actor(next(iter(self.people)), at)
        if state is JobState.CANCELLED:
            jobs.cancel(self.db, by, job, row["cancel_reason"])
        else:
            self.move(by, job, state)

    def move(self, by: Actor, job: Job, state: JobState) -> None:
        """Take a job to its state; what has left was ready first."""
        if state in CLOSED_STATES:
            jobs.move(self.db, by, job, JobState.READY)
        if job.state is not state:
            jobs.move(self.db, by, job, state)
