"""The box that applies a form to every head alike on the job."""

from __future__ import annotations

from typing import Any

from shopflow.models import Visit
from shopflow.services.routing import like_heads
from shopflow.texts import gettext

FIELD = "all_heads"


def offer_all(form: Any, visit: Visit) -> None:
    """Word the box by how many heads are alike; without it where no other head is."""
    count = len(like_heads.of(visit))
    if count == 1:
        del form[FIELD]
    elif count == 2:
        form[FIELD].label.text = gettext("Apply to both heads")
    else:
        form[FIELD].label.text = gettext("Apply to all {count} heads", count=count)


def meant(form: Any, visit: Visit) -> list[Visit]:
    """The heads a form is for: all alike where the box is ticked, else the one it was opened on."""
    ticked = FIELD in form and form[FIELD].data
    return like_heads.of(visit) if ticked else [visit]


def named(visits: list[Visit]) -> str:
    """The labels of the heads, to be added to a message; empty for one."""
    return gettext(" on {labels}", labels=", ".join(row.tag for row in visits)) * (len(visits) > 1)
