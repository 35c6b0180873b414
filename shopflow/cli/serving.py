"""The command that serves a shop."""

from __future__ import annotations

import argparse
import gc
import os
import resource
import socket
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime
from errno import EADDRINUSE
from functools import partial
from typing import TYPE_CHECKING

from sqlalchemy import Engine

from shopflow.config import Settings, default_data_folder
from shopflow.database import session_factory
from shopflow.errors import ShopflowError
from shopflow.services.accounts import set_up_codes
from shopflow.texts import gettext

if TYPE_CHECKING:
    from flask import Flask

BACKLOG = 1024
PORT_PATIENCE = 2.0
"""Seconds for which a port that is still taken is tried again: a server just killed lets go of it
within moments."""


def serve(arguments: argparse.Namespace) -> int:
    """Serve the shop's pages, and send what lies in the outbox and to webhooks, until stopped."""
    if sys.stdout.isatty():
        # Before the slow imports, so that whoever waits knows what for.
        print(gettext("Starting shopflow ..."), flush=True)
    from shopflow import create_app
    from shopflow.courier import Courier
    from shopflow.sender import Sender
    from shopflow.serving.workers import Heartbeat, Processes, until_told
    from shopflow.web.health import SENDER

    settings = Settings.for_folder(arguments.data or default_data_folder(), arguments.database_url)
    app = create_app(settings)
    sockets = listen(arguments.host, arguments.port)
    engine: Engine = app.extensions["shopflow.engine"]
    print(gettext("Records lie in {data}.", data=settings.data))
    _print_set_up_code(engine)
    if os.geteuid() == 0:
        print(
            gettext(
                "Warning: shopflow runs as root, which it does not need. "
                "Give it an account of its own."
            )
        )
    print(
        gettext(
            "Open http://{host}:{port}/ in a browser; Ctrl+C stops.",
            host=arguments.host,
            port=arguments.port,
        ),
        flush=True,
    )
    heart = app.extensions[SENDER] = Heartbeat()
    work = partial(answer, app, settings, sockets)
    senders = [Sender.of(settings, engine).watch, Courier.of(settings, engine).watch]
    send = partial(until_told, senders, heart)
    workers = arguments.workers or cores()
    tasks: list[tuple[str, Callable[[], None]]] = [("worker", work)] * workers
    _prepare_to_fork(engine)
    Processes([*tasks, ("mail", send)]).run()
    return 0


def cores() -> int:
    """Number of processor cores this process may use."""
    return len(os.sched_getaffinity(0))


def listen(host: str, port: int) -> list[socket.socket]:
    """Sockets that listen at each address of a host. Raises ShopflowError."""
    sockets: list[socket.socket] = []
    try:
        addresses = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
        for family, kind, protocol, _, address in dict.fromkeys(addresses):
            sock = socket.socket(family, kind, protocol)
            sockets.append(sock)
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            if family == socket.AF_INET6:
                sock.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
            _bind(sock, address)
            sock.listen(BACKLOG)
    except OSError as error:
        for sock in sockets:
            sock.close()
        where = gettext("{host} port {port}", host=host, port=port)
        raise ShopflowError(
            gettext("cannot serve on {where}: {error}", where=where, error=error)
        ) from None
    return sockets


def answer(app: Flask, settings: Settings, sockets: list[socket.socket]) -> None:
    """Answer requests, as one process of several, until SIGTERM."""
    from shopflow.serving.door import Door, open_door
    from shopflow.web import limits

    open_door(app, sockets, Door(partial(limits.allowance, app), proxy=settings.proxy)).run()


def _bind(sock: socket.socket, address: tuple[object, ...]) -> None:
    last = time.monotonic() + PORT_PATIENCE
    while True:
        try:
            return sock.bind(address)
        except OSError as error:
            if error.errno != EADDRINUSE or time.monotonic() > last:
                raise
            time.sleep(0.05)


def _prepare_to_fork(engine: Engine) -> None:
    # No connection is carried into another process: SQLite forbids it, PostgreSQL would mix up.
    engine.dispose()
    # Each connection is a file, and so is each larger body that comes in.
    _, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    with suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_NOFILE, (most, most))
    # What lasts as long as the server is shared by all, and need not be looked through for rubbish.
    gc.collect()
    gc.freeze()


def _print_set_up_code(engine: Engine) -> None:
    """Print a code for the set-up page, where the shop is still to be set up."""
    with session_factory(engine)() as db:
        if set_up_codes.is_wanted(db):
            code = set_up_codes.make(db, datetime.now(UTC))
            db.commit()
            print(gettext("Set-up code: {code}. The set-up page asks for it once.", code=code))


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {"serve": serve}
