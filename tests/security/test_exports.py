"""Formulas in whatever is exported: words to every spreadsheet.

Guard: `spreadsheet._safe`, over every cell of every CSV answer. Without it, the cells below begin
with what a spreadsheet takes for a formula (OWASP, CSV injection).
"""

from __future__ import annotations

import csv
import io

import pytest
from flask import Flask
from sqlalchemy.orm import Session

from shopflow.files import FileStore
from shopflow.spreadsheet import FORMULA_SIGNS
from shopflow.testfile import loads
from tests.security.one_of_everything import create_one_of_everything, rules, takes
from tests.security.test_script import spoil_with
from tests.security.test_search import later_long
from tests.web.client import Client

pytestmark = pytest.mark.slow

FORMULAS = ['=HYPERLINK("http://x.example","y")', "+1+cmd|' /C calc'!A0", "@SUM(1)", "-2+3", "\t=1"]


def is_number(cell: str) -> bool:
    """True where a cell is a plain number, which may begin with its sign."""
    try:
        float(cell)
    except ValueError:
        return False
    return True


@pytest.mark.parametrize("formula", later_long(*FORMULAS))
def test_no_cell_of_an_export_begins_a_formula(
    web_app: Flask, client: Client, db: Session, store: FileStore, formula: str
):
    one_of_everything = create_one_of_everything(db, store, spoil=spoil_with(formula))
    db.commit()
    seen = 0
    for rule in rules(web_app):
        if not takes(rule, "GET"):
            continue
        answer = client.get(one_of_everything.address(rule))
        if answer.mimetype != "text/csv":
            continue
        assert answer.headers["Content-Disposition"].startswith("attachment;")
        text = answer.get_data(as_text=True).lstrip("\ufeff")
        for row in csv.reader(io.StringIO(text, newline="")):
            for cell in row:
                assert is_number(cell) or not cell.startswith(FORMULA_SIGNS), (rule.endpoint, cell)
                seen += cell.startswith("'" + formula[:5])
    assert seen > 0


def test_a_session_file_is_words_between_quotes(client: Client, db: Session, store: FileStore):
    """A session file is TOML, whose own reader gives the words back; it is saved, not opened."""
    one_of_everything = create_one_of_everything(db, store, spoil=spoil_with('"\n[air]\nx="'))
    db.commit()
    answer = client.get(f"/flow-tests/{one_of_everything.places['session_id']}/file")
    assert answer.headers["Content-Disposition"].startswith("attachment;")
    assert loads(answer.data).side == "intake"
