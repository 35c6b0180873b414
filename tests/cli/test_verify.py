"""`shopflow verify` and `shopflow key`, on a shop with a certificate of each standing."""

from __future__ import annotations

import dataclasses
import json
import random
import re
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pikepdf
import pymupdf
import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow import cli, signing, units
from shopflow.attached import attached_files
from shopflow.config import DATABASE_FILE
from shopflow.database import open_engine, session_factory, upgrade
from shopflow.documents import FlowCertificate, Margins
from shopflow.documents.snapshot import from_plain
from shopflow.models import Certificate
from shopflow.services.actor import Actor
from shopflow.services.certificates import issue
from shopflow.services.certificates.recomputation import recompute
from tests import factories
from tests.cli.conftest import Run
from tests.cli.sessions import AFTER_US, EXHAUST_SI, INTAKE_US
from tests.pdf.readers import warnings_of_readers
from tests.printed import states

STANDINGS = ("replaced", "current", "withdrawn", "signed")


@contextmanager
def records(folder: Path) -> Iterator[Session]:
    """The records in a folder, kept at the end."""
    engine = open_engine(f"sqlite:///{folder / DATABASE_FILE}")
    upgrade(engine)
    with session_factory(engine).begin() as db:
        yield db
    engine.dispose()


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop's folder: certificates as PDFs by their standing, the last made with a key there."""
    folder = tmp_path_factory.mktemp("shop")
    with records(folder) as db:
        visit = factories.create_visit(db)
        for text in (INTAKE_US, EXHAUST_SI, AFTER_US):
            factories.create_session(db, visit, text)
        rows, who = list(visit.sessions), factories.someone(db)
        new_rows = [factories.issue_certificate(db, who, rows)]
        new_rows.append(
            factories.issue_certificate(db, who, rows, new_rows[0], reason="Serial mistyped.")
        )
        new_rows.append(factories.issue_certificate(db, who, rows[:1]))
        issue.withdraw(db, who, new_rows[2], "Another head was on the bench.")
        signing.make_key(folder, "Falling Water Heads", datetime.now(UTC))
        now = Actor(who.person, datetime.now(UTC))
        new_rows.append(factories.issue_certificate(db, now, rows, sign=signing.signer(folder)))
        for name, certificate in zip(STANDINGS, new_rows, strict=True):
            (folder / f"{name}.pdf").write_bytes(certificate.pdf)
    return folder


def words(text: str) -> str:
    """White space as single spaces."""
    return " ".join(text.split())


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "status", "expected"),
    [
        ("current", 0, ["Issued by Falling Water Heads", "Current", "Signature: none"]),
        ("signed", 0, ["Current", "Signature: by this shop's key, whole and unchanged"]),
        ("replaced", 1, ["Unchanged since", "REPLACED by FC-2026-0001 revision 2"]),
        ("withdrawn", 1, ["WITHDRAWN 2026-03-05 by Odile Marsh: Another head was on the bench."]),
    ],
)
def test_it_says_what_a_paper_is_worth(
    run: Run,
    shop: Path,
    name: str,
    status: int,
    expected: list[str],
):
    done = run("verify", shop / f"{name}.pdf", "--data", shop)
    assert done.returncode == status, done.stdout + done.stderr
    for output in (*expected, "come out again", "each to a relative 1e-09"):
        assert output in words(done.stdout)


def test_a_sample_of_changed_bytes_is_always_reported(run: Run, shop: Path, tmp_path: Path):
    chosen = random.Random(17025)
    for name in ("current", "signed"):
        total = (shop / f"{name}.pdf").read_bytes()
        step = len(total) / 30
        for part in range(30):
            place = int(step * part + chosen.random() * step)
            changed = bytearray(total)
            changed[place] ^= 1 << chosen.randrange(8)
            (tmp_path / "changed.pdf").write_bytes(changed)
            done = run("verify", tmp_path / "changed.pdf", "--data", shop)
            # The first bytes are what makes it a PDF at all.
            assert done.returncode == (2 if place < 5 else 1), (name, place, done.stdout)
            assert "Traceback" not in done.stderr
            assert "Current" not in done.stdout


@pytest.mark.parametrize("content", [None, b"", b"not a PDF"])
def test_what_is_no_pdf_is_bad_input(run: Run, shop: Path, tmp_path: Path, content: bytes | None):
    path = tmp_path / "x.pdf"
    if content is not None:
        path.write_bytes(content)
    done = run("verify", path, "--data", shop)
    assert (done.returncode, done.stdout) == (2, "")
    assert "x.pdf" in done.stderr


def test_a_paper_of_elsewhere_is_not_this_shops(run: Run, shop: Path, tmp_path: Path):
    with pikepdf.open(shop / "current.pdf") as pdf:
        pdf.save(tmp_path / "saved-anew.pdf")
    done = run("verify", tmp_path / "saved-anew.pdf", "--data", shop)
    assert done.returncode == 1
    assert "Not as issued: Falling Water Heads issued no paper with exactly these bytes" in words(
        done.stdout
    )


def stated(shop: Path, name: str) -> FlowCertificate:
    """Contents of a certificate."""
    content = (shop / f"{name}.pdf").read_bytes()
    with records(shop) as db:
        rows = db.scalars(select(Certificate))
        (answer,) = [row for row in rows if row.pdf == content]
        return from_plain(FlowCertificate, answer.snapshot)


def test_every_figure_is_compared_and_one_that_differs_is_named(shop: Path):
    certificate = stated(shop, "signed")
    files = attached_files((shop / "signed.pdf").read_bytes())
    recomputation = recompute(certificate, files)
    assert recomputation.agrees
    lifts = sum(len(session.points) for session in certificate.sessions)
    gained = sum(len(gain.points) for gain in certificate.gains)
    areas = sum(len((*gain.areas, gain.mean)) for gain in certificate.gains)
    assert gained > 0
    # Each of 14 results, 9 uncertainties, and those of a later result.
    of_lifts = (10 + 4 + len(dataclasses.fields(Margins)) + 2) * lifts
    of_tests = (3 + 3) * len(certificate.sessions)
    assert recomputation.compared == of_lifts + of_tests + 7 * (gained + areas) + 2 * len(
        certificate.gains
    )
    first = certificate.sessions[0]
    point = dataclasses.replace(first.points[1], cd_head=first.points[1].cd_head * (1 + 1e-8))
    points = (first.points[0], point, *first.points[2:])
    meddled = dataclasses.replace(
        certificate,
        sessions=(dataclasses.replace(first, points=points), *certificate.sessions[1:]),
    )
    (difference,) = recompute(meddled, files).differing
    assert difference.startswith(f"{first.file_name}, lift 2, cd_head: states ")
    missing = recompute(certificate, {})
    assert not missing.agrees
    assert missing.differing[0] == f"{first.file_name} is not attached"
    broken = recompute(certificate, {**files, first.file_name: "schema = 1\n"})
    assert any(output.startswith(f"{first.file_name}: ") for output in broken.differing)


def test_the_command_line_alone_gives_the_figures_printed(
    run: Run,
    shop: Path,
    tmp_path: Path,
):
    with pymupdf.open(shop / "signed.pdf") as pdf:
        printed = set(re.findall(r"\d+\.\d+", "\n".join(page.get_text() for page in pdf)))
    display = stated(shop, "signed").display.units
    with pikepdf.open(shop / "signed.pdf") as pdf:
        files = {
            name: item.get_file().read_bytes()
            for name, item in pdf.attachments.items()
            if name.endswith(".toml")
        }
    assert len(files) == 3
    for name, content in files.items():
        (tmp_path / name).write_bytes(content)
        done = run("reduce", tmp_path / name, "--json")
        figures = json.loads(done.stdout)
        assert figures["points"]
        assert states(printed, display.number(figures["mean_flow"], "flow"))
        for point in figures["points"]:
            for figure, dimension in (("flow", "flow"), ("velocity", "velocity")):
                if point[figure] is not None:
                    assert states(printed, display.number(point[figure], dimension))
            assert states(printed, f"{point['cd_curtain']:.3f}")
            assert states(printed, f"{point['cd_head']:.3f}")
    assert units.US_CUSTOMARY is display


@pytest.mark.parametrize("name", ["current", "signed"])
def test_it_is_a_sound_pdf_for_general_tools(shop: Path, name: str):
    assert warnings_of_readers((shop / f"{name}.pdf").read_bytes()) == []


@pytest.mark.slow
def test_the_key_is_made_once_and_for_its_account_alone(run: Run, shop: Path, tmp_path: Path):
    again = run("key", "--data", shop)
    assert again.returncode == 1
    assert "has a signing key already" in again.stderr
    with records(tmp_path) as db:
        factories.create_shop(db)
    done = run("key", "--data", tmp_path)
    assert done.returncode == 0, done.stderr
    assert re.search(r"SHA-256 of its certificate: [0-9a-f]{64}", done.stdout)
    assert stat.S_IMODE((tmp_path / signing.KEY_FILE).stat().st_mode) == 0o600


def test_there_is_no_key_before_there_is_a_shop(run: Run, tmp_path: Path):
    assert cli.main(["key", "--data", str(tmp_path)]) == 1
    with records(tmp_path):
        pass
    done = run("key", "--data", tmp_path)
    assert (done.returncode, done.stdout) == (1, "")
    assert "not been set up" in done.stderr


@pytest.mark.slow
def test_the_verifier_is_written_as_a_page_or_a_program(run: Run, tmp_path: Path):
    with records(tmp_path) as db:
        factories.create_shop(db)
    assert "no signing key" in run("verifier", tmp_path / "v.py", "--data", tmp_path).stderr
    for replaced in ([], ["--replace"]):
        assert run("key", *replaced, "--data", tmp_path).returncode == 0
    for name, mark in (("v.py", "#!/usr/bin/env python3"), ("v.html", "<!doctype html>")):
        assert run("verifier", tmp_path / name, "--data", tmp_path).returncode == 0
        text = (tmp_path / name).read_text(encoding="utf-8")
        assert text.startswith(mark)
        assert all(key.x in text for key in signing.public_keys(tmp_path))
