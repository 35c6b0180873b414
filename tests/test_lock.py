"""The lock files name what pyproject.toml asks for, once, with hashes, and no index."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())
OPTIONAL = {"run.txt": ("pg", "sign", "shared"), "test.txt": ("pg", "sign", "shared", "test")}


def locked(name: str) -> list[Requirement]:
    """The packages that a lock file names, with versions and markers."""
    text = (ROOT / ".lock" / name).read_text().replace("\\\n", " ")
    lines = [line for line in text.splitlines() if re.match(r"\w", line)]
    assert all("--hash=sha256:" in line for line in lines)
    return [Requirement(line.split(" --hash")[0].strip()) for line in lines]


def here(requirements: list[Requirement]) -> dict[str, str]:
    """The versions that are installed on this machine, by name."""
    matches = [item for item in requirements if item.marker is None or item.marker.evaluate()]
    names = [canonicalize_name(item.name) for item in matches]
    assert len(set(names)) == len(names)
    return {
        name: next(iter(item.specifier)).version for name, item in zip(names, matches, strict=True)
    }


@pytest.mark.parametrize("name", OPTIONAL)
def test_a_lock_file_holds_what_the_project_asks_for(name: str) -> None:
    versions = here(locked(name))
    extras = PROJECT["project"]["optional-dependencies"]
    rows = [*PROJECT["project"]["dependencies"], *PROJECT["dependency-groups"]["build"]]
    rows += [text for extra in OPTIONAL[name] for text in extras[extra]]
    for requirement in map(Requirement, rows):
        if requirement.name != "shopflow":
            assert requirement.specifier.contains(versions[canonicalize_name(requirement.name)])


def test_both_lock_files_agree() -> None:
    run, test = here(locked("run.txt")), here(locked("test.txt"))
    assert run.items() <= test.items()
    assert "pytest" not in run


@pytest.mark.parametrize("name", OPTIONAL)
def test_a_lock_file_names_no_index_and_demands_hashes(name: str) -> None:
    text = (ROOT / ".lock" / name).read_text()
    assert "://" not in text
    assert "--require-hashes\n" in text
    assert not re.search(r"^(-i|-f|--index-url|--extra-index-url|--find-links)", text, re.MULTILINE)


def test_the_version_told_is_that_of_the_project() -> None:
    readme = (ROOT / "README.md").read_text()
    assert f"**{PROJECT['project']['version']}**" in readme
