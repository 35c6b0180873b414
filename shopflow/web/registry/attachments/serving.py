"""A file as a response that no browser takes for anything else."""

from __future__ import annotations

import io

from flask import Response, send_file

from shopflow.files import contents
from shopflow.models import JobFile
from shopflow.web.folder import store

SANDBOX = "default-src 'none'; base-uri 'none'; frame-ancestors 'none'; sandbox"
"""Whatever a file holds, nothing in it may run or fetch."""


def full(row: JobFile) -> Response:
    """A photo to look at; any other file to save, never to open in the browser."""
    if row.is_photo:
        return picture(row.sha256)
    name = contents.fitting_name(row.name, row.media_type)
    return attachment(store().get(row.sha256), name, row.media_type)


def small(row: JobFile) -> Response:
    """A photo's small form. Raises NotFoundError where it is no photo."""
    return picture(row.small_sha256)


def as_it_came(row: JobFile) -> Response:
    """The original of a photo to save. Raises NotFoundError where none is kept."""
    content = store().get(row.original_sha256)
    name = contents.fitting_name(row.name, contents.picture_type(content))
    return attachment(content, name, "application/octet-stream")


def attachment(content: bytes, name: str, media_type: str = "application/pdf") -> Response:
    """Bytes to be saved under a name, in letters of any kind."""
    response = send_file(
        io.BytesIO(content), mimetype=media_type, as_attachment=True, download_name=name
    )
    return _shut_in(response)


def picture(sha256: str) -> Response:
    return _shut_in(Response(store().get(sha256), mimetype="image/jpeg"))


def _shut_in(response: Response) -> Response:
    response.headers["Content-Security-Policy"] = SANDBOX
    # What it holds never changes, but the right to see it may.
    response.headers["Cache-Control"] = "private, no-cache"
    return response
