"""Messages as they are written; read back by the standard library's parser."""

from __future__ import annotations

from datetime import UTC, datetime
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from typing import Any

import pytest

from shopflow.mail.message import (
    Attachment,
    Letter,
    UnfitLetterError,
    address,
    build,
    new_message_id,
)

PDF = bytes(range(256)) * 40


def a_letter(**values: Any) -> Letter:
    given: dict[str, Any] = {
        "message_id": "<one@heads.example>",
        "written_at": datetime(2026, 3, 5, 15, 30, tzinfo=UTC),
        "to": "soren@boats.example",
        "to_name": "Søren Madsby",
        "sender": "counter@heads.example",
        "sender_name": "Falling Water Heads",
        "subject": "Größe, 日本 & more",
        "body": "Hello Søren,\n\n.a line that begins with a dot\n",
    }
    return Letter(**{**given, **values})


def sent(letter: Letter) -> EmailMessage:
    """The message as its reader's program finds it."""
    answer = message_from_bytes(build(letter).as_bytes(), policy=default)
    assert isinstance(answer, EmailMessage)
    return answer


def test_names_and_words_of_any_alphabet_come_through():
    answer = sent(a_letter())
    assert str(answer["To"]) == "Søren Madsby <soren@boats.example>"
    assert str(answer["Subject"]) == "Größe, 日本 & more"
    assert answer.get_content() == "Hello Søren,\r\n\r\n.a line that begins with a dot\r\n"
    assert answer["Message-ID"] == "<one@heads.example>"
    assert answer["Date"].datetime == datetime(2026, 3, 5, 15, 30, tzinfo=UTC)
    # RFC 5322, 2.3: header lines are ASCII and end with CRLF.
    total = build(a_letter()).as_bytes()
    assert total.isascii()
    assert b"\n" not in total.replace(b"\r\n", b"")


def test_the_same_letter_has_the_same_headers_every_time():
    first, second = build(a_letter()), build(a_letter())
    assert first.items() == second.items()


def test_a_paper_goes_with_it_byte_for_byte():
    answer = sent(
        a_letter(attachment=Attachment("Prüfung.pdf", PDF), reply_to="ruth@heads.example")
    )
    (paper,) = answer.iter_attachments()
    assert paper.get_content() == PDF
    assert (paper.get_filename(), paper.get_content_type()) == ("Prüfung.pdf", "application/pdf")
    assert str(answer["Reply-To"]) == "ruth@heads.example"


@pytest.mark.parametrize("field", ["subject", "to", "message_id", "sender", "reply_to"])
def test_no_header_can_be_smuggled_in(field):
    for smuggled in (
        "x\r\nBcc: all@else.example",
        "x\nBcc: all@else.example",
        "x\rBcc: a@b.example",
    ):
        with pytest.raises(UnfitLetterError):
            build(a_letter(**{field: smuggled}))


def test_a_line_break_in_a_name_becomes_a_space():
    answer = sent(a_letter(to_name="Orla\r\nBcc: all@else.example"))
    assert answer["Bcc"] is None
    assert answer["To"].addresses[0].addr_spec == "soren@boats.example"


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        (" ruth@heads.example ", "ruth@heads.example"),
        ("o'hara+heads@mail.heads.example", "o'hara+heads@mail.heads.example"),
        # IDNA 2003 (RFC 3490): the usual example of an umlaut in a name.
        ("info@bücher.example", "info@xn--bcher-kva.example"),
    ],
)
def test_an_address_is_kept_as_servers_take_it(typed, kept):
    assert address(typed) == kept


@pytest.mark.parametrize(
    "typed",
    [
        "",
        "ruth",
        "ruth@",
        "@heads.example",
        "ruth@heads",
        "a@heads.example, b@heads.example",
        "Ruth <ruth@heads.example>",
        "ruth@heads.example\r\nBcc: x@y.example",
        "ruth\n@heads.example",
        "søren@boats.example",
        "ruth@heads..example",
        "ruth@" + "a" * 70 + ".example",
        "r" * 250 + "@heads.example",
        "日本語",
        "🙂@🙂.🙂",
    ],
)
def test_what_is_not_one_address_is_refused_in_words(typed):
    with pytest.raises(ValueError, match=r"one e-mail address|plain letters"):
        address(typed)


def test_message_ids_never_repeat_and_are_the_senders_own():
    names = {new_message_id("counter@heads.example") for _ in range(100)}
    assert len(names) == 100
    assert all(item.endswith("@heads.example>") for item in names)


@pytest.mark.parametrize(
    "spoilt",
    [
        {"subject": "two\nlines"},
        {"to": "nobody"},
        {"to": "@"},
        {"to": ""},
        {"sender": "counter@"},
        {"cc": ("a b",)},
        {"message_id": "<1@heads.example>\r\nBcc: x@y.example"},
        {"body": "half a letter: \ud83d"},
        {"attachment": Attachment("two\nlines.pdf", b"%PDF-")},
    ],
    ids=str,
)
def test_a_letter_that_cannot_be_built_is_unfit_whatever_the_reason(spoilt):
    with pytest.raises(UnfitLetterError, match="cannot be put together"):
        build(a_letter(**spoilt))
