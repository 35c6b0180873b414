"""The programming interface itself: the token before every answer, and its errors as problems."""

from __future__ import annotations

from flask import Blueprint, Response, request
from flask.typing import ResponseReturnValue
from werkzeug.exceptions import HTTPException

from shopflow.errors import ConflictError, NotFoundError, RuleError, ValidationError
from shopflow.texts import gettext
from shopflow.web.api import bearer
from shopflow.web.api.description import describe
from shopflow.web.api.problems import problem
from shopflow.web.api.serving import Interface, answered
from shopflow.web.auth import csrf
from shopflow.web.db import rollback

blueprint = Blueprint("api", __name__, url_prefix="/api/1")
interface = Interface(blueprint)
# A forged post needs a browser that adds its cookie: here no cookie opens anything.
csrf.exempt(blueprint)


@blueprint.before_request
def demand_token() -> Response | None:
    """No answer without a token; the description alone is anyone's."""
    name = (request.endpoint or "").rpartition(".")[2]
    return None if name == "openapi" else bearer.demand(interface.scopes_of(name))


@blueprint.errorhandler(NotFoundError)
def not_found(error: NotFoundError) -> Response:
    """A record that is not there."""
    return _refused(404, _sentence(error))


@blueprint.errorhandler(ValidationError)
def not_valid(error: ValidationError) -> Response:
    """A body that cannot be: every fault with its field."""
    rollback()
    return problem(422, gettext("Not saved. Correct the fields named."), error.faults)


@blueprint.errorhandler(RuleError)
@blueprint.errorhandler(ConflictError)
def not_now(error: Exception) -> Response:
    """A request that a rule of the shop forbids as things stand."""
    return _refused(409, _sentence(error))


@blueprint.errorhandler(HTTPException)
def refused(error: HTTPException) -> Response:
    """A request that cannot be answered."""
    answer = _refused(error.code or 500, error.description or "")
    answer.headers.extend(
        [item for item in error.get_headers() if item[0].lower() != "content-type"]
    )
    return answer


@blueprint.get("/openapi.json")
def openapi() -> ResponseReturnValue:
    """The description of all this, for programs."""
    return answered(describe(interface.endpoints))


def _refused(status: int, words: str) -> Response:
    rollback()
    return problem(status, words)


def _sentence(error: Exception) -> str:
    words = str(error)
    return f"{words[:1].upper()}{words[1:]}."
