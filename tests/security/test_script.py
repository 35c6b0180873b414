"""Script and markup in every text there is: stored, then shown on every screen, paper and e-mail.

Guards: Jinja's autoescaping, `charts.svg` for drawings, `papers.style.paragraph` for reportlab's
markup; behind them the content security policy (`test_in_chromium.py`). With `|safe` at any of
them, or without `escape` in papers.style, this fails.
"""

from __future__ import annotations

import io
from email.message import EmailMessage

import pikepdf
import pymupdf
import pytest
from flask import Flask
from sqlalchemy import Enum as SqlEnum
from sqlalchemy import String, Text, Update, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from shopflow.files import FileStore
from shopflow.models import Base, Role
from shopflow.sender import Sender
from shopflow.services.messaging import smtp_settings
from tests.security.one_of_everything import (
    WEB,
    OneOfEverything,
    Spoil,
    create_one_of_everything,
    rules,
    takes,
)
from tests.smtp import mail_server
from tests.web.client import Client, Page

pytestmark = pytest.mark.slow

SCRIPT = "\"'><script>hurt()</script><img src=x onerror=hurt()>"
MARKUP = '<a href="javascript:hurt()">x</a></p><b>&amp;{{7*7}}'

# Keys, names that addresses are made of, digests, and words of a fixed list.
KEPT = {
    "alembic_version", "person.login", "person.password_hash", "job.number", "job_head.tag",
    "job.state", "measurement_kind.code", "measurement_kind.dimension", "operation_kind.code",
    "shop.time_zone", "shop.unit_system", "shop.currency", "shop.paper_size", "shop.web_address",
    "event.subject", "bench.reading", "bench_session.calibration_model",
}  # fmt: skip
KEPT_ENDS = ("_typed", "sha256", "_unit", "unit", "_sealed", "side", "kind", "state", "code",
             "units", "element", "hazards", "datum", "stage_kind", "asks_for", "dimension",
             "media_type", "message_id", "_address", "email", "state", "format", "accent", "second",
             "label_size", "label_name", "login", "key", "writer", "currency", "host", "sender",
             "method", "reply_to", "content", "seen", "number", "area_basis", "claim",
             "_shims", "cylinders")  # fmt: skip


def spoil_with(marker: str) -> Spoil:
    """A spoiler that writes a marker into every free text of every row."""

    def spoil(db: Session) -> None:
        db.flush()
        spoilt = 0
        for table in Base.metadata.sorted_tables:
            for column in table.columns:
                name = f"{table.name}.{column.name}"
                free = isinstance(column.type, String | Text) and not isinstance(
                    column.type, SqlEnum
                )
                if not free or name in KEPT or column.name.endswith(KEPT_ENDS):
                    continue
                if column.unique or column.foreign_keys or type(column.type) not in (String, Text):
                    continue
                room = getattr(column.type, "length", None) or 1000
                spoilt += _write(db, update(table).values({column.name: marker[:room]}))
        db.expire_all()
        assert spoilt > 60

    return spoil


def _write(db: Session, statement: Update) -> bool:
    """Execute a write; return False for a column that the database's own checks keep as it is."""
    try:
        with db.begin_nested():
            db.execute(statement)
    except IntegrityError:
        return False
    return True


@pytest.fixture(params=[SCRIPT, MARKUP], ids=["script", "markup"])
def spoilt(
    request: pytest.FixtureRequest, db: Session, store: FileStore
) -> tuple[OneOfEverything, str]:
    """One of everything, with a marker wherever words may stand."""
    one_of_everything = create_one_of_everything(db, store, spoil=spoil_with(request.param))
    db.commit()
    return one_of_everything, request.param


def elements(page: Page) -> set[str]:
    """Elements of a page that none of ours has."""
    answer = set(page.tree.xpath("//*[@onerror or @onload or @style]/@*"))
    answer |= set(page.tree.xpath("//script[not(starts-with(@src, '/static/'))]/text()"))
    answer |= set(page.tree.xpath("//*[starts-with(@href, 'javascript:')]/@href"))
    return answer | set(page.tree.xpath("//img[@src='x']/@src"))


def test_no_screen_takes_words_for_markup(
    web_app: Flask, client: Client, stranger: Client, spoilt: tuple[OneOfEverything, str]
):
    row, marker = spoilt
    shown = 0
    for rule in rules(web_app):
        if not takes(rule, "GET"):
            continue
        visitor = (
            stranger if rule.endpoint.startswith(("customer_view", "verification")) else client
        )
        answer = visitor.get(row.address(rule))
        assert answer.status_code < 500, rule.endpoint
        if answer.mimetype != "text/html" or answer.status_code in range(300, 400):
            continue
        page = Page(answer)
        assert elements(page) == set(), rule.endpoint
        assert "49" not in "".join(page.tree.xpath("//h1/text()")), rule.endpoint
        assert marker not in answer.text, rule.endpoint
        shown += "".join(page.tree.itertext()).count(marker)
    assert shown > 50


def test_no_paper_takes_words_for_markup(
    web_app: Flask, client: Client, spoilt: tuple[OneOfEverything, str]
):
    row, _ = spoilt
    message = 0
    for rule in rules(web_app):
        # An electronic invoice is a file for programs: tests/services/test_e_invoices.py.
        is_paper = rule.endpoint.startswith(("papers.", "drafts.preview"))
        if not is_paper or rule.endpoint == "papers.invoice_xml":
            continue
        answer = client.get(row.address(rule))
        assert answer.mimetype == "application/pdf", rule.endpoint
        with pymupdf.open(stream=io.BytesIO(answer.data)) as pdf:
            words = "".join(page.get_text() for page in pdf)
            links = [link.get("uri", "") for page in pdf for link in page.get_links()]
        assert all(link.startswith(WEB) for link in links), rule.endpoint
        message += "hurt()" in "".join(words.split())
        with pikepdf.open(io.BytesIO(answer.data)) as opened:
            assert not {"/OpenAction", "/AA"} & set(opened.Root.keys()), rule.endpoint
            assert "/JavaScript" not in opened.Root.get("/Names", {}), rule.endpoint
    assert message >= 5


def test_no_email_takes_words_for_headers_or_markup(
    web_app: Flask, client: Client, db: Session, engine, spoilt: tuple[OneOfEverything, str]
):
    with mail_server() as postbox:
        smtp_settings.get_shop(db).port = postbox.port
        db.commit()
        assert Sender.of(web_app.config["SHOPFLOW"], engine).send_due() >= 1
    message: EmailMessage = postbox.taken[0][1]
    kinds = [part.get_content_type() for part in message.walk()]
    assert "text/html" not in kinds
    assert set(message.keys()) <= {
        "From", "To", "Reply-To", "Subject", "Date", "Message-ID", "MIME-Version", "Content-Type",
        "Content-Transfer-Encoding", "X-Peer", "X-MailFrom", "X-RcptTo",
    }  # fmt: skip


@pytest.mark.parametrize("role", [Role.COUNTER, Role.READER], ids=str)
def test_what_is_typed_and_refused_comes_back_as_words(signed_in, role: Role):
    """A reflected script: the search box, the verify form, the address of a missing page."""
    client = signed_in(role)
    for address in ("/search", "/customers", "/look-up", "/jobs", "/engines", "/verify/x"):
        page = client.page(f"{address}?q={SCRIPT}&code={SCRIPT}".replace("<", "%3C"))
        assert elements(page) == set()
        assert SCRIPT not in page.response.text
