"""The commands that make a shop and find in it."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from datetime import UTC
from pathlib import Path

from shopflow import sentences, units
from shopflow.cli.records import records
from shopflow.services.search import past_jobs
from shopflow.services.shop.settings import get_shop, unit_system
from shopflow.texts import gettext


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
    print(
        gettext(
            "To try live readings, start a flow test at the {bench}, and run: "
            "shopflow bench --simulated --server {address} --token {token}",
            bench=invented.SIMULATED_BENCH,
            address=f"http://{arguments.host}:{arguments.port}",
            token=shop.data / invented.TOKEN_FILE,
        )
    )
    if arguments.serve:
        from shopflow.cli.serving import serve

        arguments.data, arguments.database_url = shop.data, shop.database_url
        return serve(arguments)
    print(gettext("To open it in a browser: shopflow serve --data {data}", data=shop.data))
    return 0


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
