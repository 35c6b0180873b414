"""A head's swirl and tumble tests in a line each."""

from __future__ import annotations

from typing import NamedTuple

from sqlalchemy.orm import Session

from shopflow.models import SwirlTest, Visit
from shopflow.papers.swirl import with_margin
from shopflow.services.bench import swirl_tests
from shopflow.services.engine import swirl_sheets
from shopflow.texts import gettext
from shopflow.web.bench.swirl_tests.forms import motion_name


class Line(NamedTuple):
    """A test, its name, and what it comes to in words."""

    id: int
    name: str
    words: str


def of_visit(db: Session, visit: Visit) -> list[Line]:
    """Coefficient at the greatest lift and ratio of each test, the latest first."""
    rows = swirl_tests.of_visit(db, visit) if visit.sessions else []
    return [Line(row.id, motion_name(row), _words(db, row)) for row in rows]


def _words(db: Session, row: SwirlTest) -> str:
    result = swirl_sheets.result(db, row)
    value, margin = result.points[-1].best
    words = gettext("coefficient {value} at the greatest lift", value=with_margin(value, margin, 3))
    if result.ratios:
        ratio = result.ratios[0]
        shown = with_margin(ratio.over_cam, ratio.over_cam_margin, 2)
        words = gettext(
            "{words}, ratio {ratio} over {cam}", words=words, ratio=shown, cam=ratio.cam
        )
    return words if result.is_corrected else gettext("{words}, as indicated", words=words)
