"""The commands about what papers are worth: verify one, make the key that signs them."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy.orm import Session

from shopflow import signing
from shopflow.attached import attached_files
from shopflow.cli.records import records
from shopflow.cli.terminal import one_line
from shopflow.config import default_data_folder
from shopflow.documents import FlowCertificate
from shopflow.documents.snapshot import from_plain
from shopflow.errors import FieldError, ValidationError
from shopflow.models import Certificate
from shopflow.services.certificates import verification
from shopflow.services.certificates.recomputation import TOLERANCE, recompute
from shopflow.services.certificates.verification import Answer, Standing
from shopflow.services.shop.settings import get_shop

MOST_DIFFERENCES = 10


def verify(arguments: argparse.Namespace) -> int:
    """Print whether a PDF is as issued here and current, and whether its results come out again."""
    content = _read(arguments.file)
    with records(arguments) as db:
        certificate = verification.certificate_of(db, content)
        answer = verification.of_bytes(db, content)
        _say_standing(get_shop(db).name, answer, certificate)
        sound = answer.standing in (Standing.CURRENT, Standing.GENUINE)
        if certificate is not None and not _recomputes(certificate, content):
            sound = False
        if not _signature_holds(arguments.data or default_data_folder(), content):
            sound = False
    return 0 if sound else 1


def key(arguments: argparse.Namespace) -> int:
    """Make the shop's signing key."""
    folder = arguments.data or default_data_folder()
    with records(arguments) as db:
        digest = signing.make_key(folder, _shop_name(db), datetime.now(UTC))
    print(f"The signing key lies in {folder / signing.KEY_FILE}. Keep a copy where only you reach.")
    print(f"SHA-256 of its certificate: {digest}")
    return 0


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {"verify": verify, "key": key}


def _shop_name(db: Session) -> str:
    return get_shop(db).name


def _read(path: Path) -> bytes:
    try:
        content = path.read_bytes()
    except OSError as error:
        raise ValidationError(
            [FieldError(str(path), f"cannot be read: {error.strerror}")]
        ) from None
    if b"%PDF-" not in content[:1024]:
        raise ValidationError([FieldError(str(path), "is not a PDF")])
    return content


def _say_standing(shop: str, answer: Answer, certificate: Certificate | None) -> None:
    if answer.standing is Standing.GENUINE:
        print(one_line(f"As issued by {shop}: {answer.title}, {answer.left_at:%Y-%m-%d}."))
        return
    if certificate is None:
        print(f"Not as issued: {shop} issued no paper with exactly these bytes.")
        return
    print(
        one_line(
            f"Issued by {shop}: flow certificate {answer.title}, {certificate.issued_at:%Y-%m-%d}."
        )
    )
    print(f"Unchanged since: SHA-256 {certificate.sha256}.")
    if answer.standing is Standing.WITHDRAWN:
        withdrawn = f"{answer.withdrawn_at:%Y-%m-%d} by {answer.withdrawn_by}"
        print(one_line(f"WITHDRAWN {withdrawn}: {answer.withdrawal_reason}"))
    if answer.replaced_by:
        also = ", which was withdrawn" if answer.replacement_withdrawn else ""
        print(f"REPLACED by {answer.replaced_by}{also}.")
    if answer.standing is Standing.CURRENT:
        print("Current: neither replaced nor withdrawn.")


def _recomputes(certificate: Certificate, content: bytes) -> bool:
    """Say whether the sessions attached give the figures stated."""
    try:
        files = attached_files(content)
    except ValueError as error:
        print(one_line(f"Results: not checked, {error}"))
        return False
    result = recompute(from_plain(FlowCertificate, certificate.snapshot), files)
    if result.agrees:
        print(
            f"Results: all {result.compared} come out again from the {len(files)} test files "
            f"attached, each to a relative {TOLERANCE:g}."
        )
        if result.gains_left:
            print(f"  Not compared: {result.gains_left} gains, which name no files.")
        return True
    print(f"RESULTS DIFFER: {len(result.differing)} of {result.compared} do not come out again:")
    for words in result.differing[:MOST_DIFFERENCES]:
        print(one_line(f"  {words}"))
    return False


def _signature_holds(folder: Path, content: bytes) -> bool:
    """Say what the signature is worth; a paper without one has none to fail."""
    checked = signing.check(folder, content)
    if checked is None:
        print("Signature: none.")
        return True
    print(one_line(f"{'Signature' if checked.sound else 'SIGNATURE NOT GOOD'}: {checked.words}."))
    return checked.sound
