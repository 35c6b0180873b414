"""README, the guide and DEVELOPERS hold what the code does, and nothing it does not."""

from __future__ import annotations

import argparse
import re
import shlex
import subprocess
from pathlib import Path

import pytest

from shopflow.cli import parser
from shopflow.units import UNITS

ROOT = Path(__file__).parents[1]
FOLDERS = (
    "shopflow|tests|seed_data|migrations|calc|charts|documents|issuing|models|papers|services|web"
)
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = ROOT / "shopflow" / "guide"
COMMANDS = (GUIDE / "commands.md").read_text(encoding="utf-8")
SERVER = (GUIDE / "running-the-server.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def commands() -> dict[str, argparse.ArgumentParser]:
    """Every command with its own parser."""
    (choices,) = [
        action.choices
        for action in parser()._actions
        if isinstance(action, argparse._SubParsersAction)
    ]
    return dict(choices)


def shell_blocks() -> list[str]:
    """README's blocks of shell."""
    return re.findall(r"```sh\n(.*?)```", README, re.DOTALL)


def test_a_newcomer_gets_exactly_two_commands() -> None:
    first, second = (block.strip() for block in shell_blocks())
    assert "\n" not in first
    assert "shopflow demo" in first
    assert second == "bash tests/run"


def test_the_first_command_is_one_that_the_program_takes() -> None:
    last = shell_blocks()[0].strip().split("&&")[-1]
    arguments = shlex.split(last)
    assert arguments[0].endswith("/shopflow")
    in_use = parser().parse_args(arguments[1:])
    assert in_use.command == "demo"
    assert in_use.serve


def test_the_test_command_is_what_the_checks_run() -> None:
    assert "bash tests/run" in (ROOT / ".ci" / "run").read_text()


@pytest.mark.parametrize("name", commands())
def test_every_command_stands_in_the_guide_with_its_options(name: str) -> None:
    (row,) = re.findall(rf"^\| `shopflow ({name}\b[^`]*)`", COMMANDS, re.MULTILINE)
    for action in commands()[name]._actions:
        for option in action.option_strings:
            if option in ("-h", "--help"):
                continue
            everywhere = option in ("--data", "--database-url", "--host", "--port")
            assert option in (COMMANDS if everywhere else row)


@pytest.mark.parametrize("path", [ROOT / "README.md", *sorted(GUIDE.glob("*.md"))], ids=str)
def test_every_command_and_option_named_exists(path: Path) -> None:
    for name, rest in re.findall(r"`shopflow ([a-z-]+)([^`]*)`", path.read_text(encoding="utf-8")):
        assert name in commands()
        names = {option for action in commands()[name]._actions for option in action.option_strings}
        assert set(re.findall(r"--[a-z-]+", rest)) <= names


def test_every_setting_read_from_the_environment_is_documented() -> None:
    code = "\n".join(path.read_text() for path in (ROOT / "shopflow").rglob("*.py"))
    read = set(re.findall(r"SHOPFLOW_[A-Z_]+", code))
    assert read == set(re.findall(r"^\| `(SHOPFLOW_[A-Z_]+)`", SERVER, re.MULTILINE))


def test_documents_are_short() -> None:
    assert len(README.encode()) < 8_500
    assert len(DEVELOPERS.encode()) < 8_550


def test_every_path_named_exists() -> None:
    for text in (README, DEVELOPERS):
        paths = re.findall(rf"`((?:{FOLDERS})/[\w./-]+)`", text)
        paths += re.findall(r"\]\(([\w./-]+)\)", text)
        for path in paths:
            assert (ROOT / path).exists() or (ROOT / "shopflow" / path).exists(), path


def test_the_map_names_every_part() -> None:
    match = re.search(r"## The map\n\n```\n(.*?)```", DEVELOPERS, re.DOTALL)
    assert match
    parts = [path for path in (ROOT / "shopflow").iterdir() if not path.name.startswith("_")]
    for part in parts:
        if part.is_dir() or part.suffix == ".py":
            assert part.name in match[1], part.name


def test_the_top_level_holds_only_what_the_layout_has() -> None:
    tracked = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout.splitlines()
    if not tracked:
        pytest.skip("not a git checkout")
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml"}
    allowed |= {"shopflow", "migrations", "tests", "seed_data"}
    top = {path.split("/")[0] for path in tracked}
    assert {name for name in top if not name.startswith(".")} <= allowed


def test_every_unit_a_hint_shows_can_be_typed() -> None:
    forms = "\n".join(path.read_text() for path in (ROOT / "shopflow" / "web").rglob("forms.py"))
    for number_and_unit in re.findall(r"[\" ]As ([0-9.]+ [A-Za-z0-9/%]+)", forms):
        assert number_and_unit.split()[1].rstrip(".") in UNITS
