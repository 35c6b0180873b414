"""The mail server's settings."""

from __future__ import annotations

import pytest
from sqlalchemy import text

from shopflow.errors import RuleError, ValidationError
from shopflow.mail.sealing import Seal, SealError
from shopflow.mail.server import Security
from shopflow.services.messaging import smtp_settings
from tests.factories import BY, SEAL, create_mailbox

TLS = {"security": "TLS", "port": "465", "login": "counter"}
PASSWORD = "correct horse battery"


def save(db, password=None, **values):
    given = {"host": "mail.heads.example", "port": "587", "security": "STARTTLS",
             "sender": "counter@heads.example"}  # fmt: skip
    return smtp_settings.save(db, BY, SEAL, {**given, **values}, password)


def test_a_server_is_saved_and_its_password_lies_sealed(db):
    row = save(db, PASSWORD, **TLS)
    server = smtp_settings.server(row, SEAL)
    assert (server.host, server.port) == ("mail.heads.example", 465)
    assert server.security is Security.TLS
    assert server.password == PASSWORD
    for table in ("mail_server", "event"):
        assert PASSWORD not in repr(db.execute(text(f"SELECT * FROM {table}")).all())


def test_no_password_given_keeps_the_one_on_file_and_no_user_drops_it(db):
    save(db, PASSWORD, **TLS)
    row = save(db, "", **TLS)
    assert smtp_settings.server(row, SEAL).password == PASSWORD
    row = save(db, None, **{**TLS, "login": ""})
    assert smtp_settings.server(row, SEAL).password == ""


def test_a_password_sealed_with_another_key_says_so(db):
    row = save(db, PASSWORD, **TLS)
    with pytest.raises(SealError, match="secret key has changed"):
        smtp_settings.server(row, Seal("another key"))


def test_a_password_never_goes_over_an_open_line(db):
    with pytest.raises(ValidationError, match="must not be sent unencrypted"):
        save(db, PASSWORD, login="counter", security="none")


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("host", ""),
        ("host", "https://mail.heads.example"),
        ("host", "mail.heads.example:587"),
        ("host", "a\r\nb"),
        ("port", "0"),
        ("port", "65536"),
        ("port", ""),
        ("security", "some"),
        ("sender", ""),
        ("sender", "counter"),
        ("reply_to", "a@b.example, c@d.example"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(db, field, value):
    with pytest.raises(ValidationError) as caught:
        save(db, **{field: value})
    assert [fault.key for fault in caught.value.faults] == [field]


def test_nothing_is_settled_before_it_is_set_up(db):
    with pytest.raises(RuleError, match="no mail server is set up"):
        smtp_settings.get_shop(db)
    create_mailbox(db)
    assert smtp_settings.get_shop(db).port == 2525
