"""Work on files of other people's making, in processes of its own with little memory and time.

A picture or a PDF is read by large libraries of C and Python, whatever its bytes hold. So each is
given to a fresh process that knows no secret of the shop, holds no database transaction and may use
so much memory and so much time; what goes wrong in it is one refused file. `pictures` is one such
program, `shopflow.claims` another.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys

_KNOWN = ("PATH", "LANG", "LC_ALL", "LC_CTYPE", "TMPDIR")
"""Settings that the process is given; a secret key is none of them."""


class ConfinedError(Exception):
    """The process came to no end within its limits."""


def call(module: str, *arguments: str, content: bytes, seconds: int) -> bytes:
    """Output of a module of ours run as a program on some bytes. Raises ConfinedError.

    The program bounds itself by `confine`; here it is waited for three times as long, since the
    machine may be busy.
    """
    environment = {name: os.environ[name] for name in _KNOWN if name in os.environ}
    try:
        done = subprocess.run(
            [sys.executable, "-P", "-m", module, *arguments],
            input=content, capture_output=True, timeout=3 * seconds, check=True, env=environment,
        )  # fmt: skip
    except (subprocess.SubprocessError, OSError) as error:
        raise ConfinedError(str(error)) from None
    return done.stdout


def confine(memory: int, seconds: int) -> None:
    """Bound this process: bytes of address space, seconds of processor time, and no core file."""
    resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
