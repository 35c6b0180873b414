"""Bringing records in from CSV: what the file will do, every fault in it, and the writing of it."""

from __future__ import annotations

import argparse
import gc
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy.orm import Session

from shopflow.cli.records import opened, records
from shopflow.cli.terminal import one_line
from shopflow.database import READ_ONLY, session_factory
from shopflow.errors import ShopflowError
from shopflow.services.actor import Actor
from shopflow.services.imports import kinds
from shopflow.services.imports.flows import Air
from shopflow.services.imports.planning import Plan
from shopflow.services.imports.reading import OF_THE_COMMAND, Writing
from shopflow.services.open_data import reception
from shopflow.texts import gettext, ngettext
from shopflow.units import UnitError, parse

OPEN_DATA = "open-data"
"""The kind of file that is JSON; the others are CSV."""


def bring_in(arguments: argparse.Namespace) -> int:
    """Write all that a file says, or nothing; 1 where it has a fault."""
    if arguments.kind == OPEN_DATA:
        return _bring_in_open_data(arguments)
    with _uncollected(), opened(arguments) as engine, session_factory(engine)() as db:
        # Others write while the file is read and checked.
        db.connection(execution_options=READ_ONLY)
        plan = _plan(db, arguments)
        db.commit()
        if plan.faults or arguments.check or plan.changes_nothing:
            return _print_plan(plan)
        plan.carry_out(db, Actor.now(None))
        db.commit()
    print(gettext("Imported: {counted}.", counted=plan.counted))
    return 0


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {"import": bring_in}


@contextmanager
def _uncollected() -> Iterator[None]:
    """Without the search for circles of references: it took a quarter of the time, again and
    again through millions of rows that have none."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


def _bring_in_open_data(arguments: argparse.Namespace) -> int:
    content = _content(arguments.file)
    with records(arguments) as db:
        by = Actor.now(None)
        if arguments.check:
            heads = reception.check(db, by, content)
            print(gettext("Nothing was written. Heads it holds: {count}.", count=len(heads)))
            return 0
        print(gettext("Imported: {counted}.", counted=reception.bring_in(db, by, content)))
    return 0


def _content(file: Path) -> bytes:
    """Contents of a file. Raises ShopflowError."""
    try:
        return file.read_bytes()
    except OSError as error:
        raise ShopflowError(
            gettext("{file} cannot be read: {strerror}", file=file, strerror=error.strerror)
        ) from None


def _plan(db: Session, arguments: argparse.Namespace) -> Plan:
    options = arguments
    writing = Writing(options.encoding, options.separator, options.decimal_mark, options.date_order)
    try:
        for typed, dimension in (
            (options.barometer, "pressure"),
            (options.temperature, "temperature"),
        ):
            if typed:
                parse(typed, dimension)
    except UnitError as error:
        raise ShopflowError(str(error)) from None
    content = _content(options.file)
    air = Air(options.barometer, options.temperature)
    return kinds.plan(db, kinds.get(options.kind), content, writing, air, OF_THE_COMMAND)


def _print_plan(plan: Plan) -> int:
    """Print what each row would do, and every error; the headings are row 1."""
    for action in plan.actions:
        print(one_line(gettext("row {row}: {words}", row=action.row, words=action.words)))
    for fault in plan.faults:
        where = gettext("row {row}", row=fault.row) if fault.row else gettext("the file")
        column = f", {fault.column}" if fault.column else ""
        print(one_line(f"{where}{column}: {fault.message}"), file=sys.stderr)
    if plan.faults:
        count = len(plan.faults)
        words = ngettext(
            "{num:,} fault: nothing was written", "{num:,} faults: nothing was written", count
        )
        print(gettext("shopflow: {words}", words=words), file=sys.stderr)
        return 1
    print(gettext("Nothing was written. What it holds: {counted}.", counted=plan.counted))
    return 0
