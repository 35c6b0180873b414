"""Rules of the suite itself: it runs on a bare machine, however busy that is."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from tests import programs
from tests.programs import PACKAGES, Package, UnlistedProgramError

TESTS = Path(__file__).parent


def test_no_program_is_started_that_a_bare_machine_lacks() -> None:
    with pytest.raises(UnlistedProgramError, match=r"starts qpdf: add its Debian package"):
        subprocess.run(["qpdf", "--version"], check=False)


@pytest.mark.parametrize("package", PACKAGES, ids=lambda package: package.name)
def test_every_listed_package_brings_what_some_test_uses(package: Package) -> None:
    """Playwright starts Chromium by itself, and its driver loads libatomic1."""
    sources = {path: path.read_text() for path in TESTS.rglob("*.py")}
    del sources[Path(programs.__file__)]
    for program in package.programs:
        started = re.compile(rf'"{program}"|/usr/bin/{program}"')
        assert any(started.search(source) for source in sources.values()), program


def test_a_missing_package_is_named_and_so_are_the_tests_it_leaves_out(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    lacking = Package("no-such", "the tests of nothing", ("no-such-program",), ("no-such.so.1",))
    monkeypatch.setattr(programs, "PACKAGES", (lacking,))
    monkeypatch.setenv("CI", "")
    assert programs.main([]) == 0
    assert capsys.readouterr().out == "no-such\n"
    assert programs.main(["--left-out"]) == 0
    text = "LEFT OUT: the tests of nothing, since no-such cannot be installed here.\n"
    assert capsys.readouterr().out == text
    monkeypatch.setenv("CI", "true")
    assert programs.main(["--left-out"]) == 1


def test_no_property_has_to_be_quick() -> None:
    assert settings.default is not None
    assert settings.default.deadline is None
    assert HealthCheck.too_slow in settings.default.suppress_health_check
    sources = set(TESTS.rglob("*.py")) - {TESTS / "conftest.py", Path(__file__)}
    assert [path for path in sources if "deadline=" in path.read_text()] == []
