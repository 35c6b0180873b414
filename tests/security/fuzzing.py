"""Cases made of a seed alone, so that any one of them can be made again."""

from __future__ import annotations

import gc
import os
import random
import resource
import time
from collections.abc import Callable
from pathlib import Path

from shopflow.resources import SEED_DATA

SEED = int(os.environ.get("SHOPFLOW_FUZZ_SEED", "20261125"))
LONGEST = 10.0
"""Seconds that no case may take, on however busy a machine: a hang is a fault."""

WORDS = (
    "", " ", "x", "0", "-0", "-1", "1", "2", "9" * 30, "1e999", "-1e-999", "nan", "inf", "1_000",
    "0x1f", "1,5", "1.5", "12.5", "44 mm", "28 inH2O", "90 lbf", "20 degC", "72 degF", "1290 mm2",
    "0.0021 in", "1792 cm3", "29.92 inHg", "120 cfm", "50 %", "\x00", "\x00x", "\x7f", "\ud7ff",
    "日本語", "🙂" * 50, "٣", "²", "\u202eabc", "\ufeff", "\r\n", "a\nb", "A" * 3000, "intake",
    "exhaust", "after", "before", "y", "on", "off", "true", "None", "null", "{}", "[]", "{{7*7}}",
    "<script>hurt()</script>", "'; DROP TABLE job;--", "%", "%s%n", "../../etc/passwd", "=1+1",
    "2026-02-30", "2026-11-25", "0001-01-01", "9999-12-31", "25:61", "teardown", "seat-cut", "cash",
    "owner", "reader", "telephone", "volume flow", "x@y.example", "http://x.example", "#0072b2",
    "America/Chicago", "si", "A4",
)  # fmt: skip


def anything(chosen: random.Random) -> str:
    """A value: one of the usual troublemakers, or letters of any plane."""
    if chosen.random() < 0.75:
        return chosen.choice(WORDS)
    letters = (chr(chosen.choice((chosen.randrange(128), chosen.randrange(0x3000),
                                  chosen.randrange(0x10000, 0x1FFFF))))
               for _ in range(chosen.randrange(12)))  # fmt: skip
    return "".join(letters)


BITS = (
    "=", "[", "]", "[[", '"', '"""', "'", "\n", "#", "{", "}", ",", ".", "nan", "inf", "true",
    "1e400", "-1", "0", "9" * 400, "0x1f", "1979-05-27", "07:32:00", "\x00", "schema", "[air]",
    "[readings]", "a.b.c = 1", "bench = 3", "lift", "flow", "é", "\r", "[[[[[[[[", "{a={a={a=1}}}",
    "\ufeff", " mm",
)  # fmt: skip


def session_files() -> list[str]:
    """The texts that cases of session files begin with."""
    texts = sorted((SEED_DATA / "sessions").iterdir())
    texts += sorted(Path(__file__).parents[1].joinpath("data").glob("*.toml"))
    return [path.read_text(encoding="utf-8") for path in texts[:12]]


def spoil(text: str, chosen: random.Random) -> bytes:
    """A file with a few places cut, doubled, swapped or filled with something else."""
    for _ in range(chosen.randrange(1, 5)):
        place, length = chosen.randrange(len(text) + 1), chosen.choice((0, 1, 3, 20, 200))
        match chosen.randrange(4):
            case 0:
                text = text[:place] + text[place + length :]
            case 1:
                text = text[:place] + "".join(chosen.choices(BITS, k=3)) + text[place + length :]
            case 2:
                text = text[:place] + text[place : place + length] * 3 + text[place + length :]
            case _:
                lines = text.split("\n")
                chosen.shuffle(lines)
                text = "\n".join(lines) if chosen.random() < 0.3 else text
    content = text.encode("utf-8", "surrogatepass")
    if chosen.random() < 0.15:
        spoilt = bytearray(content or b"x")
        for _ in range(3):
            spoilt[chosen.randrange(len(spoilt))] = chosen.randrange(256)
        content = bytes(spoilt)
    return content


def resident() -> int:
    """Bytes of this process in memory now (Linux, proc(5): statm counts pages)."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize()


def run(cases: int, one: Callable[[random.Random], None], first: int = 0) -> float:
    """Run cases by their numbers; megabytes that memory grew by after the first tenth of them.

    A case that fails, or takes longer than LONGEST, raises AssertionError that names it.
    """
    get_shop = resident()
    for number in range(first, first + cases):
        begun = time.process_time()
        try:
            one(random.Random(f"{SEED}-{number}"))
        except Exception as error:
            raise AssertionError(f"case {number} of seed {SEED}: {error!r}") from error
        took = time.process_time() - begun
        assert took < LONGEST, f"case {number} of seed {SEED} took {took:.1f} s"
        if number == first + cases // 10:
            gc.collect()
            get_shop = resident()
    gc.collect()
    return (resident() - get_shop) / 2**20
