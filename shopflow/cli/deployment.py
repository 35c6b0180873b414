"""The command that writes the files by which a server runs a shop: nginx and systemd."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Callable
from pathlib import Path

from shopflow.errors import FieldError, ShopflowError, ValidationError
from shopflow.resources import DEPLOYMENT
from shopflow.texts import gettext

_LABEL = r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?"
_HOST = re.compile(rf"{_LABEL}(\.{_LABEL}){{0,9}}")
_USER = re.compile(r"[a-z_][a-z0-9_-]{0,30}")
_PATH = re.compile(r"/[\w./+-]*")


def deployment(arguments: argparse.Namespace) -> int:
    """Write the files, filled in for this machine; nothing is installed or overwritten."""
    command = Path(sys.executable).with_name("shopflow")
    values = {
        "NAME": _fit("--name", arguments.name.lower(), _HOST),
        "USER": _fit("--user", arguments.user, _USER),
        "DATA": _fit("--data", str(arguments.data), _PATH),
        "BACKUPS": _fit("--backups", str(arguments.backups), _PATH),
        "COMMAND": _fit(gettext("path of the command"), str(command), _PATH),
        "PORT": str(arguments.port),
    }
    folder: Path = arguments.folder
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for template in sorted(DEPLOYMENT.iterdir()):
            text = re.sub("@([A-Z]+)@", lambda match: values[match[1]], template.read_text())
            with (folder / template.name).open("x") as file:
                file.write(text)
            print(folder / template.name)
    except OSError as error:
        raise ShopflowError(
            gettext("cannot write to {folder}: {error}", folder=folder, error=error)
        ) from None
    print(gettext("The guide says where each goes: Running the server, under Help."))
    return 0


def _fit(option: str, value: str, pattern: re.Pattern[str]) -> str:
    """A value that is safe to write into a configuration. Raises ValidationError."""
    if not pattern.fullmatch(value):
        raise ValidationError(
            [
                FieldError(
                    option,
                    gettext(
                        "'{value}' cannot be written into these files: use plain letters, digits "
                        "and hyphens, and paths that begin with /",
                        value=value,
                    ),
                )
            ]
        )
    return value


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {"deployment": deployment}
