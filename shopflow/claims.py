"""The paper a PDF says it is: read from its text, its own description and the tests inside it.

Anyone may hand in the PDF, so it is read by a process of its own that has little memory and time.
"""

from __future__ import annotations

import dataclasses
import hashlib
import io
import json
import re
import sys
import threading
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from itertools import islice
from typing import Any

from shopflow import confined
from shopflow.errors import RuleError
from shopflow.texts import LANGUAGES, gettext, gettext_noop, spoken, translated

SECONDS = 10
MEMORY = 512 * 1024 * 1024
WAIT = 5.0
"""Seconds that a PDF waits for its turn."""

MOST_TESTS = 100
MOST_PAGES = 60
MOST_LINES = 4000
RESULTS, CAM = (".csv", ".json"), "cam-"
"""Endings of files of results that lie beside the test files, and beginning of a cam's file."""


KINDS = (
    gettext_noop("Flow certificate"),
    gettext_noop("Hand-off sheet"),
    gettext_noop("Work order"),
    gettext_noop("Bench card"),
    gettext_noop("Quote"),
    gettext_noop("Invoice"),
    gettext_noop("Credit note"),
    gettext_noop("Collection receipt"),
    gettext_noop("Dispatch note"),
)

_one_at_a_time = threading.Lock()
"""Strangers may hand in many: each may take MEMORY."""

_NUMBER = r"(?:[A-Z]{1,4}-)?\d{4}-[\w-]+(?: revision \d+)?"
_CODE = re.compile(r"\b[0-9A-F]{4}(?:-[0-9A-F]{4}){3}\b")


@dataclass(frozen=True)
class Claim:
    """Claims of a PDF about itself; none of them is known to be true."""

    kind: str = ""
    """One of KINDS."""

    number: str = ""
    """As printed, with its revision."""

    code: str = ""
    """Of a certificate, to verify it by."""

    tests: dict[str, str] = field(default_factory=dict)
    """SHA-256 of each file inside it, by its name."""

    lines: tuple[str, ...] = ()
    """Its text, line by line, as far as MOST_LINES."""

    @property
    def title(self) -> str:
        """Kind and number, as "Invoice INV-2026-0001"; empty where it says neither."""
        return f"{translated(self.kind)} {self.number}".strip()


@cache
def kinds() -> dict[str, str]:
    """Each of KINDS by what a document calls itself, in every language."""
    names: dict[str, str] = {}
    for language in LANGUAGES:
        with spoken(language):
            names |= {translated(kind): kind for kind in KINDS}
    return names


def read(pdf: bytes) -> Claim:
    """Read a PDF's claims about itself, in a process with limits; an empty claim where it cannot be
    read in time.

    Raises RuleError where others' have been in the way for WAIT: who asks is not kept longer, or
    strangers could keep everybody.
    """
    if not _one_at_a_time.acquire(timeout=WAIT):
        raise RuleError(gettext("other documents are being read: try again in a minute"))
    try:
        output = confined.call("shopflow.claims", json.dumps(kinds()), content=pdf, seconds=SECONDS)
        read_claim = json.loads(output)
        return Claim(**{**read_claim, "lines": tuple(read_claim["lines"])})
    except (confined.ConfinedError, ValueError):
        return Claim()
    finally:
        _one_at_a_time.release()


def of_text(text: str, title: str = "", named: Mapping[str, str] | None = None) -> Claim:
    """Claims in a document's text and in the title of its metadata; `named` is as `kinds`.

    >>> of_text("Halvane FC-2026-0001 revision 2 Flow certificate … code 9F2C-07AB-51E0-D3C4").title
    'Flow certificate FC-2026-0001 revision 2'
    """
    line = " ".join(text.split())
    codes = _CODE.findall(line)
    named = named or kinds()
    any_kind = "|".join(map(re.escape, named))
    in_text = re.compile(rf"({_NUMBER}) ({any_kind})\b")
    in_title = re.compile(rf"({any_kind}) ({_NUMBER})")
    if pair := in_text.search(line):
        number, kind = pair.groups()
    elif pair := in_title.search(" ".join(title.split())) or in_title.search(line):
        kind, number = pair.groups()
    else:
        kind, number = "", ""
    return Claim(named.get(kind, ""), number, codes[-1] if codes else "")


def _read(pdf: bytes, named: Mapping[str, str]) -> Claim:
    """Read a PDF's claims without the limits of `read`."""
    from pypdf import PdfReader

    reader = PdfReader(io.BytesIO(pdf))
    metadata = reader.metadata
    title = str(metadata.title or "") if metadata else ""
    pages = [page.extract_text() for page in islice(reader.pages, MOST_PAGES)]
    # The first pages and the last say which document it is.
    claim = of_text(" ".join([*pages[:2], *pages[2:][-3:]]), title, named)
    return dataclasses.replace(claim, tests=dict(_tests(reader)), lines=tuple(_lines(pages)))


def _lines(pages: list[str]) -> list[str]:
    lines = (" ".join(line.split()) for page in pages for line in page.splitlines())
    return list(islice(filter(None, lines), MOST_LINES))


def _tests(reader: Any) -> Iterator[tuple[str, str]]:
    named = [
        item
        for item in reader.attachments.items()
        if not item[0].endswith(RESULTS) and not item[0].startswith(CAM)
    ]
    for name, versions in named[:MOST_TESTS]:
        for content in versions[:1]:
            yield name, hashlib.sha256(content).hexdigest()


def _main() -> None:
    confined.confine(MEMORY, SECONDS)
    print(json.dumps(dataclasses.asdict(_read(sys.stdin.buffer.read(), json.loads(sys.argv[1])))))


if __name__ == "__main__":
    _main()
