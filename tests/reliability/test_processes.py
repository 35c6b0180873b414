"""Three web processes on one PostgreSQL: no number twice, no update lost, one sender each."""

from __future__ import annotations

import contextlib
import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from decimal import Decimal
from functools import partial
from pathlib import Path

import pytest
from sqlalchemy import Engine, delete, func, select
from sqlalchemy.orm import Session

from shopflow.config import Settings
from shopflow.database import session_factory
from shopflow.files import FileStore
from shopflow.models import (
    Certificate,
    Customer,
    Invoice,
    InvoiceKind,
    InvoiceLine,
    Job,
    JobState,
    MailState,
    OutgoingMail,
    TaxClass,
    User,
    Visit,
)
from shopflow.services.actor import Actor
from shopflow.services.billing import balances, deposits, pricing
from shopflow.services.certificates import drafts
from shopflow.web import idempotency
from tests import factories
from tests.demo_shop import DemoShop
from tests.postgres import Server as PostgresServer
from tests.reliability.conftest import OWNER, ShopCopy, copied
from tests.reliability.serving import (
    Answer,
    Browser,
    Server,
    booking,
    run,
    serving,
    typed_in,
    until_taken,
    wait_until,
)
from tests.smtp import mail_server

pytestmark = pytest.mark.slow

PROCESSES = 3


@pytest.fixture(scope="module")
def shop(
    durable_postgres: PostgresServer,
    moved: str,
    demo_shop: DemoShop,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[ShopCopy]:
    """One shop in PostgreSQL for all tests here: each adds to it what it looks at."""
    with durable_postgres.database(moved) as url:
        yield copied(demo_shop, tmp_path_factory.mktemp("several") / "shop", url)


@pytest.fixture(scope="module")
def engine(shop: ShopCopy) -> Iterator[Engine]:
    """An engine on the shop's records, beside the servers'."""
    engine = shop.engine()
    yield engine
    engine.dispose()


@pytest.fixture(scope="module")
def browsers(shop: ShopCopy) -> Iterator[list[Browser]]:
    """The owner, signed in at each of the processes. The sign-in of one is good at all."""
    with contextlib.ExitStack() as stack:
        servers = [stack.enter_context(serving(shop.folder, shop.url)) for _ in range(PROCESSES)]
        first = shop.someone(servers[0])
        yield [first.at(server.address) for server in servers]


def at_once(acts: Sequence[Callable[[], Answer]]) -> list[Answer]:
    """Answers to acts that are all begun at the same time; one that waited too long for its turn is
    repeated."""
    with ThreadPoolExecutor(len(acts)) as pool:
        return [future.result() for future in [pool.submit(until_taken, act) for act in acts]]


def numbers(answers: Sequence[Answer]) -> list[str]:
    """The numbers in the addresses that the answers lead to."""
    assert {answer.status for answer in answers} == {302}, [
        answer.text[-500:] for answer in answers
    ]
    return [answer.headers["Location"].split("/")[2] for answer in answers]


def test_processes_that_start_at_once_on_a_new_database_migrate_it_once(
    durable_postgres: PostgresServer, tmp_path: Path
):
    with durable_postgres.database("template0") as url, contextlib.ExitStack() as stack:
        servers = [Server(tmp_path / "shop", url) for _ in range(2)]
        for server in servers:
            stack.callback(server.stop)
        with ThreadPoolExecutor(2) as pool:
            list(pool.map(Server.start, servers))
        for server in servers:
            assert "Traceback" not in server.log.read_text()
            assert Browser(server.address).get("/").headers["Location"] == "/set-up"


def test_jobs_booked_in_at_once_have_numbers_of_their_own(browsers: list[Browser], engine: Engine):
    form = typed_in(browsers[0].get("/jobs/new").text, "/jobs/new")
    with session_factory(engine)() as db:
        before = db.scalar(select(func.count()).select_from(Job)) or 0

    def booked(n: int) -> Callable[[], Answer]:
        values = booking(form, f"Orla Finch {n}") | {idempotency.FIELD: idempotency.new_key()}
        return lambda: browsers[n % PROCESSES].post("/jobs/new", values)

    given = numbers(at_once([booked(n) for n in range(24)]))
    assert len(set(given)) == 24
    with session_factory(engine)() as db:
        assert db.scalar(select(func.count()).select_from(Job)) == before + 24
    # No number was left out between them either.
    counted = sorted(int(number.rpartition("-")[2]) for number in given)
    assert counted == list(range(counted[0], counted[0] + 24))


def checked_drafts(engine: Engine, count: int) -> list[int]:
    """Keys of drafts that only wait to be issued."""
    with session_factory(engine).begin() as db:
        by = Actor(db.scalars(select(User).where(User.login == OWNER)).one(), factories.NOW)
        visits = [visit for visit in db.scalars(select(Visit)) if visit.sessions]
        rows = []
        for n in range(count):
            visit = visits[n % len(visits)]
            draft = drafts.write(db, by, visit, visit.sessions[:1])
            drafts.check(db, by, draft, "against the typed readings")
            rows.append(draft)
        db.flush()
        return [draft.id for draft in rows]


@pytest.mark.long
def test_certificates_issued_at_once_have_numbers_without_a_gap_and_no_draft_is_issued_twice(
    browsers: list[Browser], engine: Engine
):
    keys = checked_drafts(engine, 8)
    forms = {
        key: typed_in(browsers[0].get(f"/certificate-drafts/{key}").text,
                      f"/certificate-drafts/{key}/issue")
        for key in keys
    }  # fmt: skip

    def issuing(key: int, browser: Browser) -> Callable[[], Answer]:
        return lambda: browser.post(f"/certificate-drafts/{key}/issue", forms[key])

    # Each by two people in two processes.
    answers = at_once([
        issuing(key, browsers[(n + other) % PROCESSES])
        for n, key in enumerate(keys) for other in (0, 1)
    ])  # fmt: skip
    assert Counter(answer.status == 302 for answer in answers) == {True: 8, False: 8}
    assert {answer.status for answer in answers} <= {302, 409, 422}
    values = numbers([answer for answer in answers if answer.status == 302])
    assert_no_gap(values, 8)
    with session_factory(engine)() as db:
        assert {*values} <= {*db.scalars(select(Certificate.number))}


def test_invoices_issued_at_once_have_numbers_without_a_gap_and_no_work_is_charged_twice(
    browsers: list[Browser], engine: Engine
):
    with session_factory(engine)() as db:
        steps = {job.number: balances.of_job(db, job).to_invoice for job in db.scalars(select(Job))}
        open_jobs = {number: str(value[0].id) for number, value in steps.items() if value}
    open_jobs = dict(list(open_jobs.items())[:6])
    assert len(open_jobs) >= 3
    answers = at_once([
        partial(browser.post, f"/jobs/{number}/invoice", {"steps": step})
        for number, step in open_jobs.items() for browser in browsers[:2]
    ])  # fmt: skip
    assert {answer.status for answer in answers} <= {302, 409, 422}
    values = numbers([answer for answer in answers if answer.status == 302])
    assert_no_gap(values, len(open_jobs))
    with session_factory(engine)() as db:
        kinds = list(db.scalars(select(Invoice.kind).where(Invoice.number.in_(values))))
        assert kinds == [InvoiceKind.INVOICE] * len(open_jobs)


def test_of_steps_parts_and_freight_invoiced_in_parts_at_once_none_is_billed_twice(
    browsers: list[Browser], engine: Engine
):
    """Three processes each invoice overlapping lines of one job, and ask for its whole price as a
    deposit: what stands of it all is the job's price once."""
    with session_factory(engine)() as db:
        job = db.scalars(select(Job).where(Job.state == JobState.APPROVED, Job.lines.any())).one()
        number, key = job.number, job.id
        before = balances.of_job(db, job)
        keys = [row.key for row in before.to_invoice if not pricing.is_per_cent(row)]
        rows = pricing.charges(before.to_invoice)
        most = deposits.most(db, job, rows, TaxClass.STANDARD)
    assert {"line" in each for each in keys} == {True, False}
    ask = {"amount": str(most), "tax_class": "standard", "description": "Deposit"}
    asked = at_once(
        [partial(browser.post, f"/jobs/{number}/deposit-invoice", ask) for browser in browsers]
    )
    assert Counter(answer.status for answer in asked) == {302: 1, 422: 2}
    parts = [keys[start : start + 4] for start in range(0, len(keys), 2)]
    answers = at_once([
        partial(browser.post, f"/jobs/{number}/invoice", {"steps": part})
        for part in parts for browser in browsers
    ])  # fmt: skip
    assert {answer.status for answer in answers} <= {302, 409, 422}
    with session_factory(engine)() as db:
        lines = db.scalars(
            select(InvoiceLine)
            .join(Invoice)
            .where(Invoice.job_id == key, InvoiceLine.price > Decimal(0))
        ).all()
        billed = Counter(line.key for line in lines)
        assert set(billed.values()) == {1}
        assert {*billed} - {*keys} == {f"line-{max(line.job_line_id or 0 for line in lines)}"}
        after = balances.of_job(db, db.get_one(Job, key))
    # Part invoices round their tax one by one.
    cents = len(answers) * Decimal("0.01")
    assert abs(after.left - before.left) <= cents
    assert after.left <= before.left + cents


def assert_no_gap(numbers: Sequence[str], count: int) -> None:
    """Each number is one more than the one before."""
    counted = sorted(int(re.sub(r".*-", "", number)) for number in numbers)
    assert counted == list(range(counted[0], counted[0] + count))


def test_of_two_who_change_the_same_record_one_is_told(browsers: list[Browser], engine: Engine):
    with session_factory(engine)() as db:
        key = db.scalars(select(Customer.id).limit(1)).one()
    address = f"/customers/{key}/change"
    for round_ in range(3):
        forms = [typed_in(browser.get(address).text, address) for browser in browsers]
        notes = [f"round {round_}, process {n}" for n in range(PROCESSES)]
        answers = at_once([
            partial(browser.post, address, {**form, "notes": note})
            for browser, form, note in zip(browsers, forms, notes, strict=True)
        ])  # fmt: skip
        won = [note for note, answer in zip(notes, answers, strict=True) if answer.status == 302]
        assert len(won) == 1
        assert {answer.status for answer in answers} <= {302, 409, 422}
        with session_factory(engine)() as db:
            assert db.get_one(Customer, key).notes == won[0]


def test_each_message_is_sent_by_one_of_them(
    browsers: list[Browser], engine: Engine, shop: ShopCopy
):
    settings = Settings.for_folder(shop.folder, shop.url)
    with mail_server() as postbox:
        with session_factory(engine).begin() as db:
            queue_messages(db, settings, postbox.port, 40)
        wait_until_sent(engine)
        subjects = Counter(message["Subject"] for _, message in postbox.taken)
    assert subjects == Counter(f"number {n}" for n in range(40))


def queue_messages(db: Session, settings: Settings, port: int, count: int) -> None:
    """Messages that are all due now."""
    db.execute(delete(OutgoingMail))
    factories.create_mailbox(db, port)
    job = db.scalars(select(Job).limit(1)).one()
    for n in range(count):
        row = factories.queue_mail(db, FileStore(settings.files), job, subject=f"number {n}")
        row.next_try_at = datetime.now(UTC)


def wait_until_sent(engine: Engine) -> None:
    """Wait until no message is on its way any more."""

    def done() -> bool:
        with session_factory(engine)() as db:
            states = set(db.scalars(select(OutgoingMail.state)))
        assert states <= {MailState.QUEUED, MailState.SENDING, MailState.SENT}, states
        return states == {MailState.SENT}

    wait_until(done)


def test_all_that_the_processes_wrote_at_once_is_in_the_record_log_in_order(shop: ShopCopy):
    """Last here: after all acts above."""
    checked = run("check", *shop.where)
    assert checked.returncode == 0, checked.stdout
    assert "ok     records are as they were saved" in checked.stdout
    assert "ok     record log is as its heads stated it" in checked.stdout
