"""The commands that work on a shop's records: demo, serve, find, the papers, session files."""

from __future__ import annotations

import argparse
import gc
import json
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from shopflow import papers, sessionfile, units
from shopflow.config import (
    FILES_FOLDER,
    Settings,
    database_address,
    default_data_folder,
    files_address,
)
from shopflow.database import open_engine, session_factory, upgrade
from shopflow.errors import NotFoundError, ShopflowError
from shopflow.files import store_for
from shopflow.models import JobHead
from shopflow.services import (
    bench_cards,
    certificates,
    documents,
    invoices,
    jobs,
    lookup,
    quotes,
    sessions,
)
from shopflow.services import tags as labels
from shopflow.services.actor import Actor
from shopflow.services.export import archive, whole
from shopflow.services.export.rows import freeze
from shopflow.services.shop import settled, unit_system

LAST_MESSAGE = 10.0
"""Seconds the server waits at its end for a message that is on its way."""


@contextmanager
def records(arguments: argparse.Namespace) -> Iterator[Session]:
    """The shop's records for one command: committed at its end, rolled back where it fails.

    Raises NotFoundError where there are none in the folder.
    """
    with opened(arguments) as engine, session_factory(engine).begin() as db:
        yield db


@contextmanager
def opened(arguments: argparse.Namespace, *, as_it_is: bool = False) -> Iterator[Engine]:
    """The shop's database, brought up to date unless wanted as it is.

    Raises NotFoundError where there is none.
    """
    data = arguments.data or default_data_folder()
    engine = open_engine(database_address(data, arguments.database_url))
    if engine.dialect.name == "sqlite" and not Path(engine.url.database or "").is_file():
        raise NotFoundError(
            f"there is no shop in {Path(engine.url.database or '').parent}; name its folder with "
            f"--data, or start one with 'shopflow serve'"
        )
    try:
        if not as_it_is:
            upgrade(engine)
        yield engine
    finally:
        engine.dispose()


def demo(arguments: argparse.Namespace) -> int:
    """Make the demo shop and say what was made."""
    from shopflow import demo as invented

    made = invented.build(arguments.folder)
    counts = ", ".join(f"{number} {name}" for name, number in made.counts.items())
    print(f"An invented shop was made in {made.data}: {counts}.")
    print(f"Papers: {len(made.papers)} PDFs in {made.data / 'papers'}, as:")
    for path in _one_of_each(made.papers):
        print(f"  {path}")
    print("Sign in with one of these accounts; the passwords were made just now:")
    for login, password in made.passwords.items():
        print(f"  {login:12} {password}")
    if arguments.serve:
        arguments.data, arguments.database_url = made.data, made.database_url
        return serve(arguments)
    print(f"To open it in a browser: shopflow serve --data {made.data}")
    return 0


def serve(arguments: argparse.Namespace) -> int:
    """Serve the shop's pages, and send what lies in the outbox, until stopped."""
    import waitress

    from shopflow import create_app
    from shopflow.sender import Sender

    settings = Settings.for_folder(arguments.data or default_data_folder(), arguments.database_url)
    app = create_app(settings)
    try:
        server = waitress.create_server(
            app,
            host=arguments.host,
            port=arguments.port,
            threads=4,
            ident=None,
            **believed(settings),
        )
    except (OSError, ValueError) as error:
        where = f"{arguments.host} port {arguments.port}"
        raise ShopflowError(f"cannot serve on {where}: {error}") from None
    # What lasts as long as the server need not be looked through for rubbish over and over.
    gc.collect()
    gc.freeze()
    # What is being answered is finished before the server ends, as after Ctrl+C.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit())
    print(f"Records lie in {settings.data}.")
    print(f"Open http://{arguments.host}:{arguments.port}/ in a browser; Ctrl+C stops.", flush=True)
    stop = threading.Event()
    sender = Sender.of(settings, app.extensions["shopflow.engine"])
    sending = threading.Thread(target=sender.watch, args=(stop,), name="sender", daemon=True)
    sending.start()
    try:
        server.run()
    finally:
        # A message being handed over is given time to be done with.
        stop.set()
        sending.join(timeout=LAST_MESSAGE)
    return 0


def believed(settings: Settings) -> dict[str, Any]:
    """What waitress is to believe of where a request comes from: the proxy's word, if there is one.

    Without it every visitor behind a proxy would be the proxy, and wait for each other's failures.
    """
    if not settings.proxy:
        return {"clear_untrusted_proxy_headers": True}
    return {
        "clear_untrusted_proxy_headers": True,
        "trusted_proxy": settings.proxy,
        "trusted_proxy_count": 1,
        "trusted_proxy_headers": {"x-forwarded-for"},
    }


def find(arguments: argparse.Namespace) -> int:
    """List past jobs that the text may mean."""
    with records(arguments) as db:
        found = lookup.past_jobs(db, arguments.text, arguments.limit)
        if arguments.json:
            print(json.dumps([_json_row(past) for past in found], ensure_ascii=False, indent=1))
            return 0
        if not found:
            print(f"No past job goes with '{arguments.text}'.")
            return 0
        _print_table(found, unit_system(settled(db)))
    return 0


def work_order(arguments: argparse.Namespace) -> int:
    """Write a job's work order, or its short form for the bench."""
    with records(arguments) as db:
        job = jobs.get(db, arguments.job)
        if arguments.short:
            card = bench_cards.bench_card(db, job)
            return _write(arguments.out, papers.bench_card(card))
        folder = (arguments.data or default_data_folder()) / FILES_FOLDER
        store = store_for(folder, files_address())
        return _write(arguments.out, papers.work_order(documents.work_order(db, job, store)))


def tags(arguments: argparse.Namespace) -> int:
    """Write the labels of a job's heads, or of the one head named."""
    with records(arguments) as db:
        stays = _stays(db, arguments.job)
        sheet = labels.sheet(
            db, stays, label=arguments.label, start=arguments.start, copies=arguments.copies
        )
        return _write(arguments.out, papers.tags(sheet))


def quote(arguments: argparse.Namespace) -> int:
    """Write a job's latest quote, byte for byte as given."""
    with records(arguments) as db:
        given = quotes.of_job(db, jobs.get(db, arguments.job))
        if not given:
            raise NotFoundError(f"job {arguments.job} has no quote yet")
        return _write(arguments.out, given[-1].pdf)


def invoice(arguments: argparse.Namespace) -> int:
    """Write an issued invoice or credit note, byte for byte as issued."""
    with records(arguments) as db:
        return _write(arguments.out, invoices.get(db, arguments.number).pdf)


def certificate(arguments: argparse.Namespace) -> int:
    """Write a job's latest issued certificate, byte for byte as issued."""
    with records(arguments) as db:
        job = jobs.get(db, arguments.job)
        if not job.certificates:
            raise NotFoundError(f"job {job.number} has no issued certificate")
        return _write(arguments.out, certificates.latest(job).pdf)


def hand_off(arguments: argparse.Namespace) -> int:
    """Write the hand-off sheets of a job's heads."""
    with records(arguments) as db:
        stays = _stays(db, arguments.job)
        written = [documents.hand_off(db, stay) for stay in stays if stay.hand_off]
        if not written:
            raise NotFoundError(f"{arguments.job} has no hand-off note yet")
        return _write(arguments.out, papers.hand_off(*written))


def session_export(arguments: argparse.Namespace) -> int:
    """Write a bench session as a session file."""
    with records(arguments) as db:
        session = sessions.get(db, arguments.session)
        text = sessionfile.dumps(sessions.document(session))
        if arguments.out is None:
            print(text, end="")
            return 0
        return _write(arguments.out, text.encode())


def session_import(arguments: argparse.Namespace) -> int:
    """Store a session file on a head of a job."""
    document = sessionfile.read(arguments.file)
    with records(arguments) as db:
        stays = _stays(db, arguments.job)
        if len(stays) != 1:
            tags = ", ".join(stay.tag for stay in stays)
            raise ShopflowError(f"job {arguments.job} has several heads; name one by tag: {tags}")
        stored = sessions.store(db, Actor.now(None), stays[0], document)
        print(f"Stored as session {stored.id} of {stays[0].tag}.")
    return 0


def session_list(arguments: argparse.Namespace) -> int:
    """List a job's bench sessions with their keys."""
    with records(arguments) as db:
        for stay in _stays(db, arguments.job):
            for item in stay.sessions:
                words = (stay.tag, item.side, item.stage, item.title)
                print(f"{item.id:>6}  {'  '.join(word for word in words if word)}")
    return 0


def export(arguments: argparse.Namespace) -> int:
    """Write everything on record: one JSON, or CSVs in a zip archive."""
    if arguments.file.suffix not in EXPORTS:
        raise ShopflowError(f"{arguments.file} ends neither in .json nor in .zip")
    with records(arguments) as db:
        freeze(db)
        try:
            with arguments.file.open("wb") as file:
                file.writelines(EXPORTS[arguments.file.suffix](db, datetime.now(UTC)))
        except OSError as error:
            raise ShopflowError(f"cannot write {arguments.file}: {error.strerror}") from None
    print(f"Wrote {arguments.file}.")
    return 0


EXPORTS = {".json": whole.chunks, ".zip": archive.chunks}
COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "demo": demo,
    "serve": serve,
    "find": find,
    "work-order": work_order,
    "tags": tags,
    "quote": quote,
    "invoice": invoice,
    "certificate": certificate,
    "hand-off": hand_off,
    "session-export": session_export,
    "session-import": session_import,
    "session-list": session_list,
    "export": export,
}


def _stays(db: Session, named: str) -> list[JobHead]:
    """The heads of a job, or the one that carries the tag named."""
    try:
        return list(jobs.get(db, named).heads)
    except NotFoundError:
        try:
            return [jobs.visit(db, named)]
        except NotFoundError:
            raise NotFoundError(f"there is no job or tag {named}") from None


def _write(path: Path, content: bytes) -> int:
    try:
        path.write_bytes(content)
    except OSError as error:
        raise ShopflowError(f"cannot write {path}: {error.strerror}") from None
    print(f"Wrote {path}.")
    return 0


def _one_of_each(written: list[Path]) -> list[Path]:
    firsts: dict[str, Path] = {}
    for path in written:
        firsts.setdefault(path.name.rstrip("0123456789-ABCDEFGHIJ.pdf"), path)
    return list(firsts.values())


def _json_row(past: lookup.PastJob) -> dict[str, str | float | None]:
    return {
        "job": past.job,
        "customer": past.customer,
        "engine_type": past.engine_type,
        "head": past.head,
        "booked_in": past.booked_in.astimezone(UTC).isoformat(),
        "stage": past.stage,
        "best_intake_flow": past.best_intake_flow,
        "best_exhaust_flow": past.best_exhaust_flow,
        "gain_percent": past.gain_percent,
    }


def _print_table(found: list[lookup.PastJob], system: units.UnitSystem) -> None:
    flow = units.pretty(system.unit("flow"))
    rows = [("Booked in", "Job", "Engine type", "Customer", "Stage", f"Intake {flow}",
             f"Exhaust {flow}", "Gain %")]  # fmt: skip
    rows += [
        (
            f"{past.booked_in:%Y-%m-%d}",
            past.tag,
            past.engine_type[:28],
            past.customer[:24],
            past.stage[:18],
            system.number(past.best_intake_flow, "flow"),
            system.number(past.best_exhaust_flow, "flow"),
            "–" if past.gain_percent is None else f"{past.gain_percent:+.1f}",
        )
        for past in found
    ]
    widths = [max(len(row[place]) for row in rows) for place in range(len(rows[0]))]
    for row in rows:
        cells = [
            cell.rjust(width) if place >= 5 else cell.ljust(width)
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        print("  ".join(cells).rstrip())
