"""The service worker's text: what it keeps and queues, then its scripts."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

from flask import Flask, current_app, url_for

from shopflow.web.typefaces import STYLES

KEPT = (
    *("bench_mode.index", "bench_mode.ports", "bench_mode.benches", "bench_mode.test"),
    *("sessions.new", "sheets.sheet", "jobs.visit", "operations.sign_off", "my_work.index"),
    *("floor.index", "attachments.add"),
)
"""Endpoints of pages that stay open without a network, once they were opened."""

QUEUED = ("operations.sign_off", "operations.start", "attachments.add")
"""Endpoints of forms that wait for the network; each is saved once, by its key."""

SCRIPTS = ("queue", "worker")
_EXPORT = re.compile(r"^export ", re.MULTILINE)
_PARAMETER = re.compile(r"<[^>]+>")


def text() -> str:
    """The script, with its version and lists before it."""
    files = _files(current_app)
    scripts = "".join(_script(current_app, name) for name in SCRIPTS)
    values = {
        "VERSION": hashlib.sha256("\n".join([*files, scripts]).encode()).hexdigest()[:16],
        "FILES": files,
        "KEPT": _patterns(KEPT),
        "QUEUED": _patterns(QUEUED),
        "FALLBACK": url_for("offline.queue"),
        "SIGN_OUT": [url_for("account.sign_out"), url_for("account.sign_out_everywhere")],
    }
    constants = "".join(f"const {name} = {json.dumps(value)};\n" for name, value in values.items())
    return f'"use strict";\n{constants}{scripts}'


def _files(app: Flask) -> list[str]:
    """Addresses of every style sheet, script and typeface, and of the page for no network."""
    folder = Path(app.static_folder or "")
    names = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*.*"))
    fonts = [url_for("assets.font", style=style) for style in STYLES]
    static = [url_for("static", filename=name) for name in names]
    return [*static, *fonts, url_for("offline.queue")]


def _script(app: Flask, name: str) -> str:
    """A script of the pages, as a worker without modules takes it."""
    path = Path(app.static_folder or "") / "js" / f"{name}.js"
    return _EXPORT.sub("", path.read_text(encoding="utf-8"))


def _patterns(endpoints: tuple[str, ...]) -> list[str]:
    """Regular expressions of the addresses of these endpoints."""
    rules = [rule for name in endpoints for rule in current_app.url_map.iter_rules(name)]
    return [f"^{_PARAMETER.sub('[^/]+', rule.rule)}$" for rule in rules]
