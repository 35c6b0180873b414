"""Limits on the size of a request: small, except where photos are uploaded."""

from __future__ import annotations

from flask import Flask, request

USUAL = 8 * 1024 * 1024
PHOTOS = 256 * 1024 * 1024
"""Bytes. What is large lies on the disk while it comes in, so that several photos may at once."""

SCAN = 32 * 1024 * 1024
LARGER = {"attachments.add": PHOTOS, "jobs.book_in": PHOTOS, "scans.index": SCAN}
"""Endpoints that may be sent more than is usual."""


def init_app(app: Flask) -> None:
    """Set the limit of each request before anything of it is read."""
    app.config.update(MAX_CONTENT_LENGTH=USUAL, MAX_FORM_MEMORY_SIZE=USUAL)

    @app.before_request
    def set_limit() -> None:
        request.max_content_length = LARGER.get(request.endpoint or "", USUAL)
