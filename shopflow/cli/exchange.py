"""The commands that take records out and bring session files in."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from datetime import UTC, datetime

from sqlalchemy.orm import Session

from shopflow import testfile
from shopflow.cli.records import records, stays_of, write
from shopflow.errors import ShopflowError
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions
from shopflow.services.export import archive, for_import, log, shop_json
from shopflow.services.export.rows import freeze
from shopflow.texts import gettext


def session_export(arguments: argparse.Namespace) -> int:
    """Write a bench session as a session file."""
    with records(arguments) as db:
        session = sessions.get(db, arguments.session)
        text = testfile.dumps(sessions.document(session))
        if arguments.out is None:
            print(text, end="")
            return 0
        return write(arguments.out, text.encode())


def session_import(arguments: argparse.Namespace) -> int:
    """Store a session file on a head of a job."""
    document = testfile.read(arguments.file)
    with records(arguments) as db:
        visits = stays_of(db, arguments.job)
        if len(visits) != 1:
            tags = ", ".join(visit.tag for visit in visits)
            raise ShopflowError(
                gettext(
                    "job {job} has several heads; name one by tag: {tags}",
                    job=arguments.job,
                    tags=tags,
                )
            )
        stored = sessions.store(db, Actor.now(None), visits[0], document)
        print(gettext("Stored as session {id} of {tag}.", id=stored.id, tag=visits[0].tag))
    return 0


def session_list(arguments: argparse.Namespace) -> int:
    """List a job's bench sessions with their keys."""
    with records(arguments) as db:
        for visit in stays_of(db, arguments.job):
            for item in visit.sessions:
                words = (visit.tag, item.side, item.stage, item.title)
                print(f"{item.id:>6}  {'  '.join(word for word in words if word)}")
    return 0


def export(arguments: argparse.Namespace) -> int:
    """Write everything on record: one JSON, CSVs in a zip archive, or one CSV to import."""
    chunks = _chunks(arguments)
    with records(arguments) as db:
        log.note(db, Actor.now(None), arguments.file.name)
    with records(arguments) as db:
        freeze(db)
        try:
            with arguments.file.open("wb") as file:
                file.writelines(chunks(db, datetime.now(UTC)))
        except OSError as error:
            raise ShopflowError(
                gettext(
                    "cannot write {file}: {strerror}", file=arguments.file, strerror=error.strerror
                )
            ) from None
    print(gettext("Wrote {file}.", file=arguments.file))
    return 0


Chunks = Callable[[Session, datetime], Iterator[bytes]]
EXPORTS: dict[str, Chunks] = {".json": shop_json.chunks, ".zip": archive.chunks}


def _chunks(arguments: argparse.Namespace) -> Chunks:
    """Contents of the file asked for. Raises ShopflowError."""
    suffix, kind = arguments.file.suffix, arguments.kind
    if suffix == ".csv" and kind:
        return lambda db, at: for_import.chunks(db, kind)
    if suffix == ".csv":
        raise ShopflowError(gettext("say what {file} is to hold: --kind", file=arguments.file))
    if suffix not in EXPORTS:
        raise ShopflowError(
            gettext("{file} ends neither in .json nor in .zip nor in .csv", file=arguments.file)
        )
    return EXPORTS[suffix]


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "session-export": session_export,
    "session-import": session_import,
    "session-list": session_list,
    "export": export,
}
