"""The files of the typefaces: the very ones papers were tested with, and read when first needed."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from importlib.metadata import version
from pathlib import Path

import pytest

from shopflow.fonts import files
from shopflow.fonts.scripts import SCRIPTS

ROOT = Path(__file__).parents[2]


def test_every_file_is_the_one_that_papers_were_tested_with() -> None:
    assert list(files.damage()) == []
    assert {f"NotoSans{script}[wght].ttf" for script in SCRIPTS} <= files.sums().keys()


@pytest.mark.parametrize("package", [files.LATIN, files.SCRIPTS, files.HAN])
def test_packages_with_typefaces_are_named_by_their_exact_version(package: str) -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    name = package.replace("_", "-")
    assert f"{name}=={version(name)}" in project["dependencies"]


def run(program: str, *folders: Path) -> subprocess.CompletedProcess[str]:
    paths = os.pathsep.join(map(str, (*folders, ROOT)))
    return subprocess.run(
        [sys.executable, "-c", program],
        env={**os.environ, "PYTHONPATH": paths, "PYTHONUTF8": "1"},
        capture_output=True, text=True, check=False,
    )  # fmt: skip


def test_a_changed_file_is_refused_in_words(tmp_path: Path) -> None:
    folder = tmp_path / files.LATIN / "files"
    folder.mkdir(parents=True)
    (tmp_path / files.LATIN / "__init__.py").touch()
    name = "SourceSansPro-Regular.ttf"
    (folder / name).write_bytes(files.path(name).read_bytes() + b"x")
    process = run("from shopflow import fonts; fonts.width('x', 1)", tmp_path)
    assert re.search(
        r"ShopflowError: .*Regular.ttf is not the typeface this version", process.stderr
    )
    missing = run("from shopflow.fonts import files; print(*files.damage())", tmp_path)
    assert "the typeface SourceSansPro-It.ttf cannot be read" in missing.stdout


OPENED = """
import sys
from pathlib import Path
opened = []
sys.addaudithook(lambda event, found: opened.append(str(found[0])) if event == "open" else None)
faces = lambda: sorted({Path(name).name for name in opened if name.endswith((".ttf", ".ttc"))})
"""


def test_starting_the_web_application_reads_no_typeface(tmp_path: Path) -> None:
    process = run(
        f"{OPENED}\n"
        "from shopflow.config import Settings\n"
        "from shopflow.web.app import create\n"
        f"url = 'sqlite:///{tmp_path}/shop.db'\n"
        f"app = create(Settings(Path({str(tmp_path)!r}), url, secret_key='x' * 32))\n"
        "assert app.test_client().get('/', follow_redirects=True).status_code == 200\n"
        "print(faces(), [name for name in sys.modules if 'font_source' in name or 'manim' in name])"
    )
    assert process.stdout == "[] []\n", process.stderr


def test_a_paper_in_latin_letters_reads_only_the_face_they_are_in() -> None:
    process = run(
        f"{OPENED}\nfrom shopflow import fonts\nfonts.width('Plain words', 9)\nprint(faces())"
    )
    assert process.stdout.count("SourceSansPro") == 3
    assert "Noto" not in process.stdout
