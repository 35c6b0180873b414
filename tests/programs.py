"""The programs that tests start beside Python's own, and the Debian packages that bring them.

This is the one list: tests/run installs what is missing of it, and while tests run nothing else
is started (`refuse_others`). Run as a module it names the packages that are missing, one a line;
with --left-out it says which tests go without them, and fails where CI asks for everything.
"""

from __future__ import annotations

import ctypes
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tests.browser import chromium

ESSENTIAL = frozenset({"bash", "env", "uname"})
"""Programs every Debian has: of its essential packages."""


@dataclass(frozen=True)
class Package:
    """A Debian package that tests need."""

    name: str
    needed_by: str
    programs: tuple[str, ...] = ()
    libraries: tuple[str, ...] = ()
    instead: Callable[[], bool] = lambda: False
    """True where something else on this machine serves as well."""

    def is_missing(self) -> bool:
        """True where tests would have to run without it."""
        complete = all(map(shutil.which, self.programs)) and all(map(_loads, self.libraries))
        return not (complete or self.instead())


PACKAGES = (
    Package("git", "the tests of what is under version control", ("git",)),
    Package("openssl", "the tests of time stamps", ("openssl",)),
    Package("mount", "the tests with a disk of their own", ("mount", "umount")),
    Package("strace", "the test of a power cut", ("strace",)),
    Package("nginx-light", "the tests behind a proxy", ("nginx",)),
    Package("systemd", "the test of the service's unit files", ("systemd-analyze",)),
    Package("libfribidi0", "the tests of shaped letters", libraries=("libfribidi.so.0",)),
    Package("libatomic1", "the browser tests", libraries=("libatomic.so.1",)),
    Package(
        "chromium-headless-shell",
        "the browser tests",
        ("chromium-headless-shell",),
        instead=chromium.is_installed,
    ),
)


def leave_out(what: str, reason: object) -> None:
    """Skip and say what is left out and why; where CI asks for everything, fail."""
    message = f"LEFT OUT: {what}, since {reason}"
    if _nothing_may_be_left_out():
        pytest.fail(message)
    pytest.skip(message)


def need(program: str) -> None:
    """Leave a test out where a program of the list is not installed."""
    package = next(package for package in PACKAGES if program in package.programs)
    if shutil.which(program) is None:
        leave_out(package.needed_by, f"{program} is not installed")


def need_library(name: str) -> None:
    """Leave a test out where a library of the list is not installed."""
    package = next(package for package in PACKAGES if name in package.libraries)
    if not _loads(name):
        leave_out(package.needed_by, f"{name} is not installed")


def refuse_others() -> None:
    """From now on let this process start only Python's programs, its packages' and the list's."""
    sys.addaudithook(_refuse)


class UnlistedProgramError(AssertionError):
    """A test started a program that a bare machine lacks."""


def _refuse(event: str, arguments: tuple[Any, ...]) -> None:
    if event != "subprocess.Popen":
        return
    program = Path(os.fsdecode(arguments[0]))
    listed = {name for package in PACKAGES for name in package.programs}
    brought = [*filter(None, sys.path), sys.prefix, sys.base_prefix, tempfile.gettempdir()]
    if program.name not in listed | ESSENTIAL and not any(map(program.is_relative_to, brought)):
        raise UnlistedProgramError(
            f"a test starts {program}: add its Debian package to tests/programs.py, "
            "or use a Python package instead"
        )


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def _nothing_may_be_left_out() -> bool:
    return os.environ.get("CI") == "true"


def main(arguments: Sequence[str]) -> int:
    """Name the missing packages, or say what is left out without them."""
    missing = [package for package in PACKAGES if package.is_missing()]
    if "--left-out" not in arguments:
        print(*(package.name for package in missing), sep="\n")
        return 0
    for package in missing:
        print(f"LEFT OUT: {package.needed_by}, since {package.name} cannot be installed here.")
    return int(bool(missing) and _nothing_may_be_left_out())


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
