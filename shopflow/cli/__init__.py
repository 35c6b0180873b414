"""The shopflow command. Each command's module is imported only when it is the one asked for."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from io import TextIOWrapper

from shopflow.cli.commands import COMMANDS
from shopflow.cli.terminal import one_line
from shopflow.config import PRIVATE_UMASK
from shopflow.errors import ShopflowError, ValidationError
from shopflow.texts import LANGUAGES, SOURCE, gettext, spoken


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; 0 done, 1 refused, 2 bad input or usage."""
    if isinstance(sys.stdout, TextIOWrapper):
        # A terminal that lacks a letter shows a mark in its place.
        sys.stdout.reconfigure(errors="replace")
    before = os.umask(PRIVATE_UMASK)
    try:
        try:
            with spoken(language_of_machine()):
                return _run(sys.argv[1:] if argv is None else argv)
        finally:
            # A pipe is buffered: a reader that left is noticed only when the text goes out.
            sys.stdout.flush()
    except BrokenPipeError:
        # Python flushes once more at exit and would report the closed pipe there.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    finally:
        os.umask(before)


def _run(argv: Sequence[str]) -> int:
    arguments = _parse(argv)
    handlers = import_module(f"shopflow.cli.{arguments.module}").COMMANDS
    try:
        return int(handlers[arguments.command](arguments))
    except ValidationError as error:
        for fault in error.faults:
            print(one_line(str(fault)), file=sys.stderr)
        return 2
    except ShopflowError as error:
        print(gettext("shopflow: {error}", error=error), file=sys.stderr)
        return 1


def language_of_machine() -> str:
    """The language of the machine's locale, for help and for commands that open no shop.

    The first of LC_ALL, LC_MESSAGES and LANG that is set decides (POSIX.1-2017, XBD 8.2).
    """
    chosen = (os.environ.get(name) for name in ("LC_ALL", "LC_MESSAGES", "LANG"))
    locale = next(filter(None, chosen), "")
    language = locale.partition(".")[0].partition("@")[0]
    return language if language in LANGUAGES else SOURCE


def _parse(argv: Sequence[str]) -> argparse.Namespace:
    """The command and its arguments. Only the parser of the one asked for is made."""
    if not argv or argv[0] not in COMMANDS:
        return parser().parse_args(argv)
    name, (module, summary, add_arguments) = argv[0], COMMANDS[argv[0]]
    command = argparse.ArgumentParser(prog=f"shopflow {name}", description=f"{summary}.")
    command.set_defaults(command=name, module=module)
    add_arguments(command)
    return command.parse_args(argv[1:])


def parser() -> argparse.ArgumentParser:
    """The parser of every command and option."""
    top = argparse.ArgumentParser(
        prog="shopflow",
        description=gettext(
            "Job tracking, flow bench records and documents for a cylinder-head shop."
        ),
    )
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for name, (module, summary, add_arguments) in COMMANDS.items():
        command = commands.add_parser(name, help=str(summary), description=f"{summary}.")
        command.set_defaults(module=module)
        add_arguments(command)
    return top
