"""A PDF as a response."""

from __future__ import annotations

from flask import Response


def pdf(content: bytes, name: str) -> Response:
    """A PDF to be shown, and saved under this name."""
    headers = {"Content-Disposition": f'inline; filename="{name}.pdf"'}
    return Response(content, mimetype="application/pdf", headers=headers)
