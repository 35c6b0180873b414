"""Scanned labels: the head they name, and the devices on which a scan opens bench mode."""

from __future__ import annotations

import re
from datetime import timedelta

from flask import Response, current_app, request

COOKIE = "scans_open_bench"
KEPT = timedelta(days=365)
_OF_ADDRESS = re.compile(r"/heads/([^/?#]+)")


def label_of(scanned: str) -> str:
    """Label in what a scanner typed: the label itself, or the address in its code.

    >>> label_of("https://shop.example/heads/2026-0044-A")
    '2026-0044-A'
    >>> label_of(" 2026-0044-a ")
    '2026-0044-A'
    """
    address = _OF_ADDRESS.search(scanned)
    return (address[1] if address else scanned).strip().upper()


def opens_bench_mode() -> bool:
    """True where this device is set so that labels scanned with its camera open bench mode."""
    return request.cookies.get(COOKIE) == "1"


def is_scan() -> bool:
    """True where the request comes from no page of ours, as from a camera or a typed address."""
    return not request.referrer and request.headers.get("Sec-Fetch-Site", "none") == "none"


def remember(response: Response, *, opens: bool) -> Response:
    """Set on this device whether scans open bench mode."""
    response.set_cookie(
        COOKIE,
        "1" if opens else "",
        max_age=KEPT if opens else 0,
        secure=current_app.config["SHOPFLOW"].https,
        httponly=True,
        samesite="Lax",
    )
    return response
