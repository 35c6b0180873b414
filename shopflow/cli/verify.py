"""The commands about what papers are worth: verify, the key that signs them, the verifier to hand
out."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy.orm import Session

from shopflow import signing
from shopflow.attached import attached_files
from shopflow.cli.records import records, write
from shopflow.cli.terminal import one_line
from shopflow.config import default_data_folder
from shopflow.documents import FlowCertificate
from shopflow.documents.snapshot import from_plain
from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import Certificate
from shopflow.services.certificates import verification
from shopflow.services.certificates.recomputation import TOLERANCE, recompute
from shopflow.services.certificates.verification import Answer, Standing
from shopflow.services.shop.settings import get_shop
from shopflow.signing import verifier
from shopflow.texts import gettext

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
    """Make the shop's signing key, or another in its place."""
    folder = arguments.data or default_data_folder()
    make = signing.replace_key if arguments.replace else signing.make_key
    with records(arguments) as db:
        digest = make(folder, _shop_name(db), datetime.now(UTC))
    print(
        gettext(
            "The signing key lies in {key_file}. Keep a copy where only you reach.",
            key_file=folder / signing.KEY_FILE,
        )
    )
    print(gettext("SHA-256 of its certificate: {digest}", digest=digest))
    return 0


def offline_verifier(arguments: argparse.Namespace) -> int:
    """Write the page or program by which strangers verify signed documents."""
    keys = signing.public_keys(arguments.data or default_data_folder())
    if not keys:
        raise NotFoundError(gettext("the shop has no signing key: shopflow key makes one"))
    draw = verifier.program if arguments.out.suffix == ".py" else verifier.page
    with records(arguments) as db:
        return write(arguments.out, draw(_shop_name(db), keys).encode())


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "verify": verify,
    "key": key,
    "verifier": offline_verifier,
}


def _shop_name(db: Session) -> str:
    return get_shop(db).name


def _read(path: Path) -> bytes:
    try:
        content = path.read_bytes()
    except OSError as error:
        raise ValidationError(
            [FieldError(str(path), gettext("cannot be read: {strerror}", strerror=error.strerror))]
        ) from None
    if b"%PDF-" not in content[:1024]:
        raise ValidationError([FieldError(str(path), gettext("is not a PDF"))])
    return content


def _say_standing(shop: str, answer: Answer, certificate: Certificate | None) -> None:
    if answer.standing is Standing.GENUINE:
        print(
            one_line(
                gettext(
                    "As issued by {shop}: {answer}, {left_at:%Y-%m-%d}.",
                    shop=shop,
                    answer=answer.title,
                    left_at=answer.left_at,
                )
            )
        )
        return
    if certificate is None:
        print(gettext("Not as issued: {shop} issued no paper with exactly these bytes.", shop=shop))
        return
    print(
        one_line(
            gettext(
                "Issued by {shop}: flow certificate {answer}, {issued_at:%Y-%m-%d}.",
                shop=shop,
                answer=answer.title,
                issued_at=certificate.issued_at,
            )
        )
    )
    print(gettext("Unchanged since: SHA-256 {sha256}.", sha256=certificate.sha256))
    if answer.standing is Standing.WITHDRAWN:
        withdrawn = gettext(
            "WITHDRAWN {day:%Y-%m-%d} by {name}: {reason}",
            day=answer.withdrawn_at,
            name=answer.withdrawn_by,
            reason=answer.withdrawal_reason,
        )
        print(one_line(withdrawn))
    if answer.replaced_by:
        print(
            gettext("REPLACED by {title}, which was withdrawn.", title=answer.replaced_by)
            if answer.replacement_withdrawn
            else gettext("REPLACED by {title}.", title=answer.replaced_by)
        )
    if answer.standing is Standing.CURRENT:
        print(gettext("Current: neither replaced nor withdrawn."))


def _recomputes(certificate: Certificate, content: bytes) -> bool:
    """Say whether the sessions attached give the figures stated."""
    try:
        files = attached_files(content)
    except ValueError as error:
        print(one_line(gettext("Results: not checked, {error}", error=error)))
        return False
    stated = from_plain(FlowCertificate, certificate.snapshot)
    result = recompute(stated, files)
    if result.agrees:
        print(
            gettext(
                "Results: all {results} come out again from the {files} test files attached, each "
                "to a relative {tolerance:g}.",
                results=result.compared,
                files=len({session.file_name for session in stated.sessions}),
                tolerance=TOLERANCE,
            )
        )
        if result.gains_left:
            print(
                gettext(
                    "  Not compared: {gains_left} gains, which name no files.",
                    gains_left=result.gains_left,
                )
            )
        return True
    print(
        gettext(
            "RESULTS DIFFER: {differing} of {compared} do not come out again:",
            differing=len(result.differing),
            compared=result.compared,
        )
    )
    for words in result.differing[:MOST_DIFFERENCES]:
        print(one_line(f"  {words}"))
    return False


def _signature_holds(folder: Path, content: bytes) -> bool:
    """Say what the signature is worth; a paper without one has none to fail."""
    checked = signing.check(folder, content)
    if checked is None:
        print(gettext("Signature: none."))
        return True
    text = (
        gettext("Signature: {words}.", words=checked.words)
        if checked.sound
        else gettext("SIGNATURE NOT GOOD: {words}.", words=checked.words)
    )
    print(one_line(text))
    return checked.sound
