"""The commands that make a shop, serve it and find in it."""

from __future__ import annotations

import argparse
import gc
import json
import signal
import sys
import threading
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Engine

from shopflow import sentences, units
from shopflow.cli.records import records
from shopflow.config import Settings, default_data_folder
from shopflow.database import session_factory
from shopflow.errors import ShopflowError
from shopflow.services.accounts import set_up_codes
from shopflow.services.search import past_jobs
from shopflow.services.shop.settings import get_shop, unit_system
from shopflow.texts import gettext

LAST_MESSAGE = 10.0
"""Seconds the server waits at its end for a message that is on its way."""


def demo(arguments: argparse.Namespace) -> int:
    """Build the demo shop and print its contents."""
    from shopflow import demo as invented

    shop = invented.build(arguments.folder)
    counts = ", ".join(f"{number} {name}" for name, number in shop.counts.items())
    print(gettext("An invented shop was made in {data}: {counts}.", data=shop.data, counts=counts))
    print(
        gettext(
            "Documents: {count} PDFs in {data}, as:",
            count=len(shop.papers),
            data=shop.data / "papers",
        )
    )
    for path in _one_of_each(shop.papers):
        print(f"  {path}")
    print(gettext("Sign in with one of these accounts; the passwords were made just now:"))
    for login, password in shop.passwords.items():
        print(f"  {login:12} {password}")
    if arguments.serve:
        arguments.data, arguments.database_url = shop.data, shop.database_url
        return serve(arguments)
    print(gettext("To open it in a browser: shopflow serve --data {data}", data=shop.data))
    return 0


def serve(arguments: argparse.Namespace) -> int:
    """Serve the shop's pages, and send what lies in the outbox, until stopped."""
    if sys.stdout.isatty():
        # Before the slow imports, so that whoever waits knows what for.
        print(gettext("Starting shopflow ..."), flush=True)
    import waitress

    from shopflow import create_app
    from shopflow.sender import Sender
    from shopflow.web.health import SENDER

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
        where = gettext("{host} port {port}", host=arguments.host, port=arguments.port)
        raise ShopflowError(
            gettext("cannot serve on {where}: {error}", where=where, error=error)
        ) from None
    # What lasts as long as the server need not be looked through for rubbish over and over.
    gc.collect()
    gc.freeze()
    # What is being answered is finished before the server ends, as after Ctrl+C.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit())
    print(gettext("Records lie in {data}.", data=settings.data))
    _print_set_up_code(app.extensions["shopflow.engine"])
    print(
        gettext(
            "Open http://{host}:{port}/ in a browser; Ctrl+C stops.",
            host=arguments.host,
            port=arguments.port,
        ),
        flush=True,
    )
    stop = threading.Event()
    sender = Sender.of(settings, app.extensions["shopflow.engine"])
    sending = threading.Thread(target=sender.watch, args=(stop,), name="sender", daemon=True)
    app.extensions[SENDER] = sending
    sending.start()
    try:
        server.run()
    finally:
        # A message being handed over is given time to be done with.
        stop.set()
        sending.join(timeout=LAST_MESSAGE)
    return 0


def _print_set_up_code(engine: Engine) -> None:
    """Print a code for the set-up page, where the shop is still to be set up."""
    with session_factory(engine)() as db:
        if set_up_codes.is_wanted(db):
            code = set_up_codes.make(db, datetime.now(UTC))
            db.commit()
            print(gettext("Set-up code: {code}. The set-up page asks for it once.", code=code))


def believed(settings: Settings) -> dict[str, Any]:
    """Options for waitress on the client's address: the proxy's word where there is a proxy.

    Without it every visitor behind a proxy would count as the proxy, and wait for each other's
    failures.
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
        answer = past_jobs.look_up(db, arguments.text, arguments.limit)
        jobs = answer.jobs
        if arguments.json:
            print(json.dumps([_json_row(past) for past in jobs], ensure_ascii=False, indent=1))
            return 0
        if answer.understood:
            print(gettext("Understood as: {understood}.", understood=answer.understood))
        if not jobs:
            print(gettext("No past job matches '{arguments}'.", arguments=arguments.text))
            return 0
        _print_table(jobs, unit_system(get_shop(db)))
    return 0


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "demo": demo,
    "serve": serve,
    "find": find,
}


def _one_of_each(written: list[Path]) -> list[Path]:
    firsts: dict[str, Path] = {}
    for path in written:
        firsts.setdefault(path.name.rstrip("0123456789-ABCDEFGHIJ.pdf"), path)
    return list(firsts.values())


def _json_row(past: past_jobs.PastJob) -> dict[str, str | float | None]:
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


def _print_table(jobs: list[past_jobs.PastJob], system: units.UnitSystem) -> None:
    flow = units.pretty(system.unit("flow"))
    rows = [
        (
            gettext("Booked in"),
            gettext("Job"),
            gettext("Engine type"),
            gettext("Customer"),
            gettext("Stage"),
            gettext("Intake {flow}", flow=flow),
            gettext("Exhaust {flow}", flow=flow),
            gettext("Gain %"),
        )
    ]
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
        for past in jobs
    ]
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    for row in rows:
        cells = [
            cell.rjust(width) if column >= 5 else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        print("  ".join(cells).rstrip())
    if jobs:
        print(sentences.COMPARED)
