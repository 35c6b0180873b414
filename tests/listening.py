"""The front door in a thread of the tests, ended in order: nothing of it is left to run on."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from typing import Any

from flask import Flask
from waitress import wasyncore

from shopflow.serving.door import Door, DoorServer, open_door
from shopflow.serving.limits import Limits
from shopflow.web.limits import allowance


@contextmanager
def listening(
    app: Flask, *, limits: Limits | None = None, proxy: str = "", threads: int = 1
) -> Iterator[int]:
    """The port at which an app is served while the block lasts."""
    sockets: dict[int, Any] = {}
    with socket.create_server(("127.0.0.1", 0), backlog=128) as sock:
        port: int = sock.getsockname()[1]
        door = Door(partial(allowance, app), limits or Limits(), proxy)
        server = open_door(app, [sock], door, threads=threads, map=sockets)
        (first,) = (row for row in sockets.values() if isinstance(row, DoorServer))
        thread = threading.Thread(target=server.run)
        thread.start()
        try:
            yield port
        finally:
            # First those who answer, then the sockets, by the very thread that waits on them.
            server.task_dispatcher.shutdown()
            first.trigger.pull_trigger(lambda: wasyncore.close_all(sockets))
            thread.join()
