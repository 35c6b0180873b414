"""`shopflow export`: everything on record, in the two forms."""

from __future__ import annotations

import base64
import hashlib
import json
import zipfile
from pathlib import Path

from tests.cli.conftest import Run
from tests.demo_shop import DemoShop


def test_the_whole_shop_is_written_with_its_papers(run: Run, demo_shop: DemoShop, tmp_path: Path):
    out = tmp_path / "shop.json"
    done = run("export", out, "--data", demo_shop.folder)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == f"Wrote {out}.\n"
    tables = json.loads(out.read_bytes())["tables"]
    assert tables["job"]
    assert tables["certificate"]
    for row in tables["certificate"]:
        assert hashlib.sha256(base64.b64decode(row["pdf"])).hexdigest() == row["sha256"]


def test_the_tables_are_written_as_an_archive(run: Run, demo_shop: DemoShop, tmp_path: Path):
    out = tmp_path / "shop.zip"
    assert run("export", out, "--data", demo_shop.folder).returncode == 0
    with zipfile.ZipFile(out) as file:
        assert "README.txt" in file.namelist()
        assert file.read("jobs.csv").count(b"\r\n") > 1


def test_another_kind_of_file_is_refused(run: Run, demo_shop: DemoShop, tmp_path: Path):
    done = run("export", tmp_path / "shop.xml", "--data", demo_shop.folder)
    assert done.returncode == 1
    assert "ends neither in .json nor in .zip" in done.stderr
    assert not (tmp_path / "shop.xml").exists()
