"""The invented jobs, from the counter to the papers."""

from __future__ import annotations

import dataclasses
from datetime import timedelta
from decimal import Decimal

from sqlalchemy import select

from shopflow import issuing, testfile
from shopflow.demo.seed import Seed, Table
from shopflow.models import (
    CLOSED_STATES,
    BenchSession,
    EngineType,
    Job,
    JobLine,
    JobState,
    LineKind,
    Operation,
    Visit,
)
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions, set_up_confirmations, swirl_tests, velocity_maps
from shopflow.services.billing import balances, job_lines, payments, quotes
from shopflow.services.certificates import drafts
from shopflow.services.counter import booking
from shopflow.services.engine import cams, engine_results, through_cam
from shopflow.services.hand_off import notes
from shopflow.services.jobs import jobs
from shopflow.services.measuring import integrity_tests, measurements
from shopflow.services.routing import decisions, operations


def add_job(seed: Seed, row: Table) -> None:
    """Add one job with all its work up to its present state."""
    counter = next(person for person in seed.people if seed.people[person].role == "counter")
    by = seed.actor(counter, row["booked_in"])
    fields = {name: row[name] for name in jobs.SPECIFICATION if name in row}
    if "promised_on" in fields:
        fields["promised_on"] = seed.moved(fields["promised_on"])
    first = row["head"][0]
    job = booking.book_in(
        seed.db,
        by,
        booking.BookIn(
            customer_id=seed.customers[row["customer"]].id,
            engine_type_id=engine_type_of(seed, first).id,
            heads=[head_fields(seed, head) for head in row["head"]],
            job=fields,
            returns=seed.heads[first["key"]].visits[-1].job.number if "warranty" in row else "",
            warranty=row.get("warranty", {}),
            deposit={"amount": row["deposit"], "method": "card"} if "deposit" in row else {},
        ),
    )
    for head, visit in zip(row["head"], job.heads, strict=True):
        seed.heads[head["key"]] = visit.head
    for head, visit in zip(row["head"], job.heads, strict=True):
        plan(seed, visit, head)
    lines = [add_line(seed, by, job, line) for line in row.get("line", [])]
    if "cam" in row:
        cams.create(seed.db, by, job, seed.cam(row["cam"]))
    unwanted = [line.key for line, of_row in zip(lines, row.get("line", []), strict=True)
                if of_row.get("declined")]  # fmt: skip
    quote(seed, job, row, counter, unwanted)
    tests_by_file: dict[str, BenchSession] = {}
    for head, visit in zip(row["head"], job.heads, strict=True):
        tests_by_file |= work_on(seed, visit, head)
    for read in row.get("swirl_test", []):
        values = dict(read)
        by = seed.actor(values.pop("by"), values.pop("at"))
        test = tests_by_file[values.pop("file")]
        swirl_tests.add(seed.db, by, test.job_head, {**values, "session_id": str(test.id)})
    finish(seed, job, row, tests_by_file)
    engine_after(seed, job, row, tests_by_file)


def engine_after(seed: Seed, job: Job, row: Table, tests_by_file: dict[str, BenchSession]) -> None:
    """Save a forecast of air and power, and add velocity maps and what the customer reported."""
    if "forecast" in row:
        by, visit = seed.actor(row["forecast"]["by"], row["forecast"]["at"]), job.heads[0]
        tests = {side: through_cam.suggested(visit, side) for side in through_cam.SIDES}
        cam = through_cam.on_offer(seed.db, visit)[0]
        through_cam.save_forecast(seed.db, by, visit, cam, tests)
    for traversed in row.get("velocity_map", []):
        values = dict(traversed)
        by = seed.actor(values.pop("by"), values.pop("at"))
        test = tests_by_file[values.pop("file")]
        velocity_maps.add(seed.db, by, test.job_head, {**values, "session_id": str(test.id)})
    for reported in row.get("engine_result", []):
        values = dict(reported)
        by = seed.actor(values.pop("by"), values.pop("at"))
        values["day"] = seed.moved(values["day"])
        engine_results.add(seed.db, by, job, values)


def engine_type_of(seed: Seed, head: Table) -> EngineType:
    """The engine type named, or that of a head that has been here before."""
    if "engine_type" in head:
        return seed.engine_types[head["engine_type"]]
    return seed.heads[head["key"]].engine_type


def head_fields(seed: Seed, head: Table) -> Table:
    """Fields of a head as entered at the counter."""
    names = (
        "casting_number", "serial", "material", "ports", "chamber",
        "casting_state", "condition", "parts", "parts_received", "came_back_because",
    )  # fmt: skip
    fields = {name: head[name] for name in names if name in head}
    if head["key"] in seed.heads:
        fields["head_id"] = seed.heads[head["key"]].id
    return fields


def work_on(seed: Seed, visit: Visit, row: Table) -> dict[str, BenchSession]:
    """Record a head's inspection, steps, flow tests and hand-off note."""
    for measured in row.get("measurement", []):
        measure(seed, visit, measured, None)
    rows = row.get("operation", [])
    steps = [operate(seed, visit, step, index) for index, step in enumerate(rows)]
    tests_by_file = {}
    for item in row.get("session", []):
        text = (seed.folder / item["file"]).read_text(encoding="utf-8")
        document = testfile.loads(text)
        if document.measured_at is not None:
            moved = seed.moved(document.measured_at)
            document = dataclasses.replace(document, measured_at=moved)
        after = steps[item["after"] - 1] if "after" in item else None
        by = seed.actor(item["by"], item["entered_at"])
        test = tests_by_file[item["file"]] = sessions.store(seed.db, by, visit, document, after)
        if "confirmed" in item:
            pair = [tests_by_file[item["confirmed_with"]], test]
            set_up_confirmations.confirm(seed.db, by, pair, item["confirmed"], is_same=False)
    if "hand_off" in row:
        hand_off(seed, visit, row["hand_off"])
    return tests_by_file


def plan(seed: Seed, visit: Visit, row: Table) -> None:
    """Plan the steps of a head's routing; those done again are planned by a decision later."""
    planner = Actor(None, visit.job.booked_in_at)
    for step in row.get("operation", []):
        if "again" not in step:
            kind = seed.steps[step["kind"]]
            operations.add(seed.db, planner, visit, kind.id, _planned(step))


def _planned(row: Table) -> Table:
    names = ("instructions", "customer_text", "planned_minutes", "price")
    return {name: row[name] for name in names if name in row}


def add_line(seed: Seed, by: Actor, job: Job, row: Table) -> JobLine:
    """A part, freight or the like of a job."""
    values = {name: row[name] for name in job_lines.SPECIFICATION if name in row}
    if "head" in values:
        head = seed.heads[values["head"]]
        values["head"] = next(visit.tag for visit in job.heads if visit.head is head)
    return job_lines.add(seed.db, by, job, LineKind(row["kind"]), values)


def measure(seed: Seed, visit: Visit, row: Table, operation: Operation | None) -> None:
    """One measured figure."""
    values = dict(row)
    kind = seed.figures[values.pop("kind")]
    by = seed.actor(values.pop("by"), values.pop("at"))
    measurements.record(seed.db, by, visit, kind.id, values, operation)


def operate(seed: Seed, visit: Visit, row: Table, index: int) -> Operation:
    """Carry out one step at its index from 0, up to its present state."""
    planner = Actor(None, visit.job.booked_in_at)
    step = visit.operations[index]
    if "again" in row:
        operations.change(seed.db, planner, step, _planned(row))
    if "started_at" in row:
        spend(seed, step, row)
    for measured in row.get("measurement", []):
        measure(seed, visit, measured, step)
    if "test" in row:
        by = seed.actor(row["signed_off_by"], row["signed_off_at"])
        integrity_tests.record(seed.db, by, step, row["test"])
    if "decision" in row:
        word = row["decision"]
        by = seed.actor(word["by"], word["at"])
        decisions.decide(seed.db, by, step, word["choice"], word["reason"])
    if "signed_off_at" in row:
        names = ("actual_minutes", "notes", "not_measured_because")
        done: Table = {name: row[name] for name in names if name in row}
        by = seed.actor(row["signed_off_by"], row["signed_off_at"])
        operations.sign_off(seed.db, by, step, done)
    if "skip_reason" in row:
        operations.skip(seed.db, planner, step, row["skip_reason"])
    return step


def spend(seed: Seed, step: Operation, row: Table) -> None:
    """Start a step, and stop after the minutes it took: half the plan where it is in hand."""
    operations.start(seed.db, seed.actor(row["started_by"], row["started_at"]), step)
    minutes = row.get("actual_minutes", step.planned_minutes // 2)
    ended_at = row["started_at"] + timedelta(minutes=minutes)
    ended_at = min(ended_at, row.get("signed_off_at", ended_at))
    operations.pause(seed.db, seed.actor(row["started_by"], ended_at), step)


def hand_off(seed: Seed, visit: Visit, row: Table) -> None:
    """A hand-off note, signed where the files say so."""
    values = {
        "addressee": row.get("addressee", ""),
        "to_check": "\n".join(row.get("to_check", [])),
        "cautions": "\n".join(row.get("cautions", [])),
        "notes": row.get("notes", ""),
    }
    valves = {valve.pop("side"): valve for valve in row.get("valve", [])}
    at = row.get("signed_at") or seed.shop_file["as_of_time"]
    by = seed.actor(row.get("signed_by"), at)
    note = notes.write(seed.db, by, visit, values, valves, row.get("figure", []), row.get("engine"))
    if "signed_at" in row:
        notes.sign(seed.db, by, note)


def quote(seed: Seed, job: Job, row: Table, counter: str, unwanted: list[str]) -> None:
    """Quote the job's work, and record the approval, and the steps and lines declined."""
    approval = row.get("approval")
    if approval is None and JobState(row["state"]) is not JobState.QUOTED:
        return
    at = row["booked_in"] + (approval["at"] - row["booked_in"]) / 2 if approval else None
    sent = issuing.give_quote(seed.db, seed.actor(counter, at or row["booked_in"]), job, {})
    if approval is not None:
        by = seed.actor(counter, approval["at"])
        declined: list[int | str] = [
            step.key
            for head, visit in zip(row["head"], job.heads, strict=True)
            for planned, step in zip(_first(head), visit.operations, strict=True)
            if planned.get("declined")
        ]
        declined += unwanted
        quotes.approve(seed.db, by, sent, approval["by"], approval["how"], declined=declined)


def _first(head: Table) -> list[Table]:
    """The steps planned when the job was booked in."""
    return [step for step in head.get("operation", []) if "again" not in step]


def add_invoices(seed: Seed) -> None:
    """Invoice the jobs that have left, in order, and record their payments; of the last two, one
    owes half and the other all."""
    left = (JobState.COLLECTED, JobState.SHIPPED)
    query = select(Job).where(Job.state.in_(left)).order_by(Job.closed_at)
    closed = seed.db.scalars(query).all()
    counter = next(person for person in seed.people.values() if person.role == "counter")
    for job, share in zip(closed, _shares_paid(len(closed)), strict=True):
        assert job.closed_at is not None
        by = Actor(counter, job.closed_at)
        invoice = issuing.issue_invoice(seed.db, by, job)
        due = (share * balances.of_job(seed.db, job).balance).quantize(Decimal("0.01"))
        if due:
            how = {"method": "card", "note": invoice.number}
            payments.record(seed.db, by, job, {"amount": due, **how})


def _shares_paid(jobs: int) -> list[Decimal]:
    return [*[Decimal(1)] * (jobs - 2), Decimal("0.5"), Decimal(0)]


def finish(seed: Seed, job: Job, row: Table, tests_by_file: dict[str, BenchSession]) -> None:
    """Issue the certificate, and move the job to its state."""
    if "certificate" in row:
        wanted = row["certificate"]
        by = seed.actor(wanted["by"], wanted["issued_at"])
        chosen = [tests_by_file[name] for name in wanted["sessions"]]
        values = {"opinions": wanted["opinions"]} if "opinions" in wanted else {}
        draft = drafts.write(seed.db, by, chosen[0].job_head, chosen, values)
        drafts.check(seed.db, by, draft, "Read over against the bench sheets, line by line.")
        issuing.issue_certificate(seed.db, by, draft)
    state = JobState(row["state"])
    done = [
        step["signed_off_at"]
        for head in row["head"]
        for step in head.get("operation", [])
        if "signed_off_at" in step
    ]
    at = row.get("closed_at") or max(done, default=row["booked_in"])
    by = seed.actor(next(iter(seed.people)), at)
    if state is JobState.CANCELLED:
        jobs.cancel(seed.db, by, job, row["cancel_reason"])
    else:
        move(seed, by, job, state)


def move(seed: Seed, by: Actor, job: Job, state: JobState) -> None:
    """Take a job to its state; what has left was ready first."""
    if state in CLOSED_STATES:
        jobs.move(seed.db, by, job, JobState.READY)
    if job.state is not state:
        jobs.move(seed.db, by, job, state)
