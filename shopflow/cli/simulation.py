"""The command that writes flow tests for an engine simulation."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Sequence
from datetime import UTC, datetime

from shopflow import testfile
from shopflow.calc.sanity import warnings
from shopflow.cli.files import at_lifts, read_all
from shopflow.cli.records import write
from shopflow.cli.terminal import print_json, warn
from shopflow.errors import ShopflowError
from shopflow.simulation import TestedPort, archive, csv_of, json_of, tested_ports
from shopflow.texts import gettext


def simulation(arguments: argparse.Namespace) -> int:
    """Write the effective areas of test files: the table to standard output, or a file."""
    documents = read_all(*((path, testfile.read) for path in arguments.files))
    ports = tested_ports(documents)
    for port in ports:
        doubts = at_lifts(port.document, warnings(port.reduction))
        warn(gettext("test {number}: {text}", number=port.number, text=text) for text in doubts)
    if arguments.out is not None:
        return write(arguments.out, _content(arguments, ports))
    if arguments.json:
        print_json(json_of(ports))
    else:
        print(csv_of(ports).replace("\r\n", "\n"), end="")
    return 0


def _content(arguments: argparse.Namespace, ports: Sequence[TestedPort]) -> bytes:
    """Contents of the file asked for, by its ending. Raises ShopflowError."""
    suffix = arguments.out.suffix
    if suffix == ".zip":
        return archive(ports, datetime.now(UTC))
    if suffix == ".csv":
        return csv_of(ports).encode()
    if suffix == ".json":
        return json.dumps(json_of(ports), allow_nan=False, indent=1).encode() + b"\n"
    raise ShopflowError(
        gettext("{file} ends neither in .json nor in .zip nor in .csv", file=arguments.out)
    )


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {"simulation": simulation}
