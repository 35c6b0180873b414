"""The commands of shopflow and their arguments; what a command does is in the module it names."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from pathlib import Path

from shopflow.texts import gettext, lazy, translated

Arguments = Callable[[argparse.ArgumentParser], None]

LARGEST_KEY = 2**31 - 1
"""The largest INTEGER of PostgreSQL; a larger one is the key of nothing."""


def _reduce(command: argparse.ArgumentParser) -> None:
    command.add_argument("file", type=Path, metavar="FILE.toml", help=gettext("flow test file"))
    _json(command)


def _compare(command: argparse.ArgumentParser) -> None:
    command.add_argument("before", type=Path, metavar="BEFORE.toml")
    command.add_argument("after", type=Path, metavar="AFTER.toml")
    command.add_argument(
        "--set-ups-meant",
        action="store_true",
        help=gettext("compare tests on unlike set-ups as meant"),
    )
    _json(command)


def _cycle(command: argparse.ArgumentParser) -> None:
    command.add_argument("cam", type=Path, metavar="CAM.toml", help=gettext("cam file"))
    for side, required in (("intake", True), ("exhaust", False)):
        command.add_argument(
            f"--{side}",
            type=Path,
            required=required,
            metavar="TEST.toml",
            help=gettext("flow test file of the {side}", side=translated(side)),
        )
    _json(command)


def _simulation(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "files",
        type=Path,
        nargs="+",
        metavar="TEST.toml",
        help=gettext("flow test files, of either side and at any test pressures"),
    )
    command.add_argument(
        "--out",
        type=Path,
        metavar="FILE",
        help=gettext("F.zip with a README, F.csv or F.json, else the table to standard output"),
    )
    _json(command)


def _bench(command: argparse.ArgumentParser) -> None:
    command.add_argument("file", type=Path, nargs="?", metavar="FILE.toml",
                         help=gettext("what stands at the bench"))  # fmt: skip
    command.add_argument("--simulated", action="store_true",
                         help=gettext("instruments without hardware, to try it"))  # fmt: skip
    command.add_argument("--server", metavar="URL", help=gettext("address of the shop's server"))
    command.add_argument("--token", type=Path, metavar="FILE",
                         help=gettext("file with the token of the bench"))  # fmt: skip
    command.add_argument("--label", metavar="LABEL",
                         help=gettext("head whose test it is, where several are open"))  # fmt: skip
    command.add_argument("--journal", type=Path, metavar="FILE",
                         help=gettext("where readings are kept until they are posted"))  # fmt: skip


def _demo(command: argparse.ArgumentParser) -> None:
    command.add_argument("folder", type=Path, metavar="DIR", help=gettext("a new folder"))
    command.add_argument("--serve", action="store_true", help=gettext("then serve it"))
    command.set_defaults(workers=0)
    _address(command)


def _serve(command: argparse.ArgumentParser) -> None:
    _add_location(command)
    _address(command)
    command.add_argument(
        "--workers",
        type=_whole_number(64),
        default=0,
        metavar="N",
        help=gettext("processes that answer (one for each processor core)"),
    )


def _deployment(command: argparse.ArgumentParser) -> None:
    command.add_argument("folder", type=Path, metavar="FOLDER", help=gettext("where they go"))
    command.add_argument(
        "--name", type=_text, required=True, help=gettext("the server's name, as in its address")
    )
    command.add_argument(
        "--data",
        type=Path,
        default=Path("/srv/shopflow"),
        metavar="DIR",
        help=gettext("the shop's folder (/srv/shopflow)"),
    )
    command.add_argument(
        "--backups",
        type=Path,
        default=Path("/var/backups/shopflow"),
        metavar="DIR",
        help=gettext("where backups are kept (/var/backups/shopflow)"),
    )
    command.add_argument(
        "--user", type=_text, default="shopflow", help=gettext("account it runs as (shopflow)")
    )
    command.add_argument(
        "--port",
        type=_whole_number(65535),
        default=8460,
        help=gettext("port behind the proxy (8460)"),
    )


def _send(command: argparse.ArgumentParser) -> None:
    command.add_argument("--watch", action="store_true", help=gettext("go on until stopped"))
    _add_location(command)


def _find(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "text",
        type=_text,
        metavar="TEXT",
        help=gettext("engine type, displacement, casting number or customer"),
    )
    command.add_argument(
        "--limit",
        type=_whole_number(LARGEST_KEY),
        default=50,
        help=gettext("most rows to list (50)"),
    )
    _add_location(command)
    _json(command)


def _paper(command: argparse.ArgumentParser) -> None:
    command.add_argument("job", type=_text, metavar="JOB", help=gettext("job number"))
    command.add_argument("--out", type=Path, required=True, metavar="F.pdf")
    _add_location(command)


def _verify(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "file", type=Path, metavar="F.pdf", help=gettext("a certificate as received")
    )
    _add_location(command)


def _key(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--replace",
        action="store_true",
        help=gettext("make another key; what the one before signed stays verifiable"),
    )
    _add_location(command)


def _verifier(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "out",
        type=Path,
        metavar="FILE",
        help=gettext("F.html for a page, F.py for a program"),
    )
    _add_location(command)


def _work_order(command: argparse.ArgumentParser) -> None:
    _paper(command)
    command.add_argument(
        "--short", action="store_true", help=gettext("a page a head for the flow bench")
    )


def _tags(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "job", type=_text, metavar="JOB", help=gettext("job number, or a head's label")
    )
    command.add_argument("--out", type=Path, required=True, metavar="F.pdf")
    command.add_argument(
        "--label", type=_text, default="", help=gettext("size of the labels, else the shop's usual")
    )
    command.add_argument(
        "--start", type=_whole_number(100), default=1, help=gettext("first free place (1)")
    )
    command.add_argument(
        "--copies", type=_whole_number(100), default=1, help=gettext("labels a head (1)")
    )
    _add_location(command)


def _invoice(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "number", type=_text, metavar="NUMBER", help=gettext("number of the invoice or credit note")
    )
    command.add_argument("--out", type=Path, required=True, metavar="F.pdf")
    _add_location(command)


def _session_export(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "session",
        type=_whole_number(LARGEST_KEY),
        metavar="SESSION",
        help=gettext("key from session-list"),
    )
    command.add_argument("--out", type=Path, metavar="F.toml", help=gettext("else standard output"))
    _add_location(command)


def _session_import(command: argparse.ArgumentParser) -> None:
    command.add_argument("file", type=Path, metavar="FILE.toml")
    command.add_argument(
        "--job", type=_text, required=True, help=gettext("job number, or a head's label")
    )
    _add_location(command)


def _import(command: argparse.ArgumentParser) -> None:
    from shopflow.cli.importing import OPEN_DATA
    from shopflow.services.imports.kinds import KINDS
    from shopflow.services.imports.reading import (
        DATE_ORDERS,
        DECIMAL_MARKS,
        ENCODINGS,
        SEPARATORS,
    )

    kinds = [*KINDS, OPEN_DATA]
    command.add_argument("kind", metavar="KIND", choices=kinds, help=gettext("what the file holds"))
    command.add_argument("file", type=Path, metavar="FILE.csv")
    command.add_argument(
        "--check", action="store_true", help=gettext("only say what each row would do")
    )
    for option, choices, words in (
        ("encoding", ENCODINGS, gettext("character encoding")),
        ("separator", SEPARATORS, gettext("column separator")),
        ("decimal-mark", DECIMAL_MARKS, gettext("decimal mark")),
        ("date-order", DATE_ORDERS, gettext("order of dates")),
    ):
        first = next(iter(choices))
        help_text = f"{words} ({first})"
        command.add_argument(f"--{option}", choices=choices, default=first, help=help_text)
    for option in ("barometer", "temperature"):
        command.add_argument(
            f"--{option}", default="", help=gettext("of the air where a row has none")
        )
    _add_location(command)


def _export(command: argparse.ArgumentParser) -> None:
    from shopflow.services.export.for_import import FILES

    command.add_argument(
        "file",
        type=Path,
        metavar="FILE",
        help=gettext("F.json, F.zip of CSVs, or F.csv of one kind, which 'import' takes"),
    )
    command.add_argument("--kind", choices=FILES, default="", help=gettext("what F.csv holds"))
    _add_location(command)


def _session_list(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "job", type=_text, metavar="JOB", help=gettext("job number, or a head's label")
    )
    _add_location(command)


def _backup(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "folder", type=Path, metavar="FOLDER", help=gettext("where backups are kept")
    )
    for name, words in (
        ("days", gettext("keep the newest of each of the last N days, and delete others")),
        ("weeks", gettext("keep the newest of each of the last N weeks, and delete others")),
        ("months", gettext("keep the newest of each of the last N months, and delete others")),
    ):
        command.add_argument(
            f"--{name}",
            type=_whole_number(1000),
            default=0,
            metavar="N",
            help=words,
        )
    _add_location(command)


def _restore(command: argparse.ArgumentParser) -> None:
    command.add_argument("file", type=Path, metavar="FILE.tar", help=gettext("a backup"))
    command.add_argument("folder", type=Path, metavar="DIR", help=gettext("a new folder"))
    command.add_argument(
        "--database-url", metavar="URL", help=gettext("an empty database for the records")
    )


def _check(command: argparse.ArgumentParser) -> None:
    _add_location(command)
    command.add_argument(
        "--accept",
        metavar="REASON",
        type=_text,
        help=gettext("accept rows changed outside shopflow as they stand, and log why"),
    )


def _time_stamp(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "authority", metavar="URL", help=gettext("address of a time stamp authority (RFC 3161)")
    )
    _add_location(command)


def _move_to(command: argparse.ArgumentParser) -> None:
    command.add_argument("url", metavar="URL", help=gettext("an empty PostgreSQL database"))
    command.add_argument(
        "--data", type=Path, metavar="DIR", help=gettext("the shop's folder (SHOPFLOW_DATA)")
    )


def _json(command: argparse.ArgumentParser) -> None:
    command.add_argument("--json", action="store_true", help=gettext("print JSON, in SI units"))


def _add_location(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--data", type=Path, metavar="DIR", help=gettext("the shop's folder (SHOPFLOW_DATA)")
    )
    command.add_argument(
        "--database-url",
        metavar="URL",
        help=gettext("a database elsewhere (SHOPFLOW_DATABASE_URL)"),
    )


def _text(argument: str) -> str:
    """Words, with a replacement character for each byte that is not UTF-8: no record could hold
    it."""
    return os.fsencode(argument).decode("utf-8", "replace")


def _whole_number(most: int) -> Callable[[str], int]:
    """A reader of whole numbers from 1 to `most`."""

    def number(text: str) -> int:
        if not text.isdecimal() or not 1 <= int(text[:20]) <= most:
            raise argparse.ArgumentTypeError(
                gettext("'{text}' is not a whole number from 1 to {most}", text=text, most=most)
            )
        return int(text)

    return number


def _address(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--host", default="127.0.0.1", help=gettext("address to serve on (127.0.0.1)")
    )
    command.add_argument(
        "--port", type=_whole_number(65535), default=8460, help=gettext("port to serve on (8460)")
    )


COMMANDS: dict[str, tuple[str, str, Arguments]] = {
    "demo": ("shop", lazy("Create an invented shop in a new folder and run its jobs"), _demo),
    "serve": ("serving", lazy("Serve the shop's pages"), _serve),
    "deployment": (
        "deployment",
        lazy("Write files for nginx and systemd that run the shop as a service"),
        _deployment,
    ),
    "send": ("outgoing", lazy("Send what is due in the outbox"), _send),
    "find": ("shop", lazy("Search past jobs"), _find),
    "work-order": ("papers", lazy("Write a job's work order as PDF"), _work_order),
    "inspection-report": ("papers", lazy("Write a job's inspection report as PDF"), _paper),
    "tags": ("papers", lazy("Write the labels of a job's heads as PDF"), _tags),
    "quote": ("papers", lazy("Write a job's latest quote as PDF"), _paper),
    "invoice": ("papers", lazy("Write an issued invoice or credit note as PDF"), _invoice),
    "certificate": ("papers", lazy("Write a job's latest issued flow certificate as PDF"), _paper),
    "hand-off": ("papers", lazy("Write the hand-off sheets of a job as PDF"), _paper),
    "verify": (
        "verify",
        lazy("Check that a certificate is as issued, current and right"),
        _verify,
    ),
    "key": ("verify", lazy("Create the key that signs the shop's documents"), _key),
    "verifier": (
        "verify",
        lazy("Write the page or program by which strangers verify the shop's documents"),
        _verifier,
    ),
    "session-list": ("exchange", lazy("List a job's flow tests"), _session_list),
    "session-export": ("exchange", lazy("Write a flow test as a test file"), _session_export),
    "session-import": ("exchange", lazy("Import a test file for a job's head"), _session_import),
    "backup": ("safekeeping", lazy("Back a shop up while it is at work"), _backup),
    "restore": ("safekeeping", lazy("Restore a shop's folder from a backup"), _restore),
    "check": (
        "checking",
        lazy("Check that a shop's records and files are as they were saved"),
        _check,
    ),
    "time-stamp": (
        "checking",
        lazy("Have an authority put its time on the record log"),
        _time_stamp,
    ),
    "move-to": ("safekeeping", lazy("Move a shop's records from SQLite to PostgreSQL"), _move_to),
    "import": (
        "importing",
        lazy("Import customers, heads, results and measurements from CSV"),
        _import,
    ),
    "export": ("exchange", lazy("Write everything on record as JSON or CSV"), _export),
    "reduce": ("numbers", lazy("Calculate the results of a test file"), _reduce),
    "compare": ("numbers", lazy("Compare two test files"), _compare),
    "cycle": ("cycle", lazy("Calculate an engine's ports through its cam"), _cycle),
    "bench": ("bench", lazy("Post readings of a bench's instruments"), _bench),
    "simulation": (
        "simulation",
        lazy("Write flow tests as a table for engine simulation"),
        _simulation,
    ),
}
"""Each command's module, summary and arguments, by its name, in the order help has them."""
