"""CSV files to bring in, made as a shop's spreadsheet would have them."""

from __future__ import annotations

import csv
import io
import random
from collections.abc import Iterable, Mapping

LIFTS = [f"{step * 0.05:.3f} in" for step in range(1, 13)]
AIR = {"barometer": "29.92 inHg", "temperature": "68 degF"}
Row = dict[str, str]


def past_jobs(count: int) -> list[Row]:
    """So many past jobs of one test each, 12 lifts a test."""
    rng = random.Random(6)
    return [
        {
            "job": f"A-{1000 + number}",
            "customer": f"Tarn Customer {number % 400}",
            "builder": "Hollin",
            "family": f"K{number % 60:02d}",
            "engine cylinders": "4",
            "casting number": f"HC {number % 60}",
            "serial": f"S-{number}",
            "date": f"20{10 + number % 12}-{1 + number % 12:02d}-{1 + number % 28:02d}",
            "cylinder": str(1 + number % 4),
            "side": ("intake", "exhaust")[number % 2],
            "stage": "ported",
            "valve diameter": "44 mm",
            "test pressure": "28 inH2O",
            "flow unit": "cfm",
            **{
                lift: f"{20 + 15 * index + rng.random():.1f}"
                for index, lift in enumerate(LIFTS)
            },
        }
        for number in range(count)
    ]  # fmt: skip


def csv_of(rows: Iterable[Mapping[str, str]], separator: str = ",") -> bytes:
    """The rows as a file."""
    rows = list(rows)
    headings = list(dict.fromkeys(name for row in rows for name in row))
    file = io.StringIO(newline="")
    writer = csv.DictWriter(file, headings, delimiter=separator)
    writer.writeheader()
    writer.writerows(rows)
    return file.getvalue().encode()
