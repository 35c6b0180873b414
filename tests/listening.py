"""waitress in a thread of the tests, ended in order: nothing of it is left to run on."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from flask import Flask
from waitress import wasyncore
from waitress.server import create_server


@contextmanager
def listening(app: Flask, **options: Any) -> Iterator[int]:
    """The port at which an app is served while the block lasts."""
    sockets: dict[int, Any] = {}
    server = create_server(app, map=sockets, host="127.0.0.1", port=0, **options)
    thread = threading.Thread(target=server.run)
    thread.start()
    try:
        yield server.effective_port
    finally:
        # First those who answer, then the sockets, closed by the very thread that waits on them.
        server.task_dispatcher.shutdown()
        server.trigger.pull_trigger(lambda: wasyncore.close_all(sockets))
        thread.join()
