"""If-Match: a record is replaced only as its writer last read it (RFC 9110, 13.1.1; RFC 6585)."""

from __future__ import annotations

from typing import Any

from flask import request
from werkzeug.exceptions import PreconditionFailed, PreconditionRequired

from shopflow.texts import gettext
from shopflow.web.api.serving import etag_of


def demand_unchanged(shape: Any) -> None:
    """Go on where the record as it is now has the ETag that the request names.

    Raises PreconditionRequired where it names none, PreconditionFailed where it changed.
    """
    if not request.headers.get("If-Match"):
        raise PreconditionRequired(
            gettext("Read it first, and send its ETag in the header If-Match.")
        )
    if not request.if_match.contains(etag_of(shape)):
        raise PreconditionFailed(
            gettext("Someone else changed it meanwhile. Read it again, then send yours.")
        )
