"""`shopflow reduce` beside its figures: what it shows, refuses and withstands, and how soon."""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
from pathlib import Path

import pytest

from tests.benchmarks.measuring import work_of_children
from tests.cli.conftest import Run
from tests.cli.sessions import EXHAUST_SI, INTAKE_US, ONE_LIFT, PERCENT
from tests.cli.test_numbers import REFUSED, write_session

BATCH = """
import sys
from shopflow.cli import main
for path in sys.argv[1:]:
    print(path, main(["reduce", path]), flush=True)
    print(file=sys.stderr, flush=True)
"""


def test_each_refusal_is_a_process_s_own(tmp_path: Path) -> None:
    """All in one process, as a shop's script would: exit status 2 and only lines of faults."""
    paths = [
        str(write_session(tmp_path, INTAKE_US.replace(old, new, 1), f"{index}.toml"))
        for index, (old, new, _) in enumerate(REFUSED.values())
    ]
    done = subprocess.run(
        [sys.executable, "-c", BATCH, *paths], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0
    assert done.stdout.splitlines() == [f"{path} 2" for path in paths]
    answers = done.stderr.split("\n\n")
    for (_, _, key), answer in zip(REFUSED.values(), answers, strict=False):
        lines = answer.strip().splitlines()
        assert any(line.startswith(f"{key}: ") for line in lines), key
        assert all(": " in line for line in lines)


def test_percent_readings_are_shown_in_the_range_s_unit(shopflow: Run, tmp_path: Path) -> None:
    """By hand: (64.1 − 0.4) % of 120 cfm x 0.988 x sqrt(28/10) is 126.4 cfm."""
    shown = shopflow("reduce", write_session(tmp_path, PERCENT)).stdout
    assert "126.4" in shown
    assert "cfm" in shown
    assert "%" not in shown.partition("As tested: at")[0]


def test_a_run_left_out_is_named_with_its_reason(shopflow: Run, tmp_path: Path) -> None:
    run = '[[excluded]]\nlift = 0.1\nrun = 2\nflow = 33.0\nreason = "valve not\\nseated"\n'
    done = shopflow("reduce", write_session(tmp_path, INTAKE_US + run))
    assert "Excluded: lift 0.1 in, run 2: 33.0 cfm (valve not seated)" in done.stdout


def test_columns_without_figures_are_left_away(shopflow: Run, tmp_path: Path) -> None:
    shown = shopflow("reduce", write_session(tmp_path, ONE_LIFT)).stdout
    assert "curtain" in shown
    assert "least" not in shown
    assert "Velocity" not in shown


def test_a_text_cannot_command_the_terminal(shopflow: Run, tmp_path: Path) -> None:
    text = INTAKE_US.replace("Cylinder 2", "red \\u001b[31m \\u202e end")
    shown = shopflow("reduce", write_session(tmp_path, text)).stdout
    assert "\x1b" not in shown
    assert "\u202e" not in shown
    refused = shopflow("reduce", write_session(tmp_path, '"\\u001b[2J\\n" = 1\n' + INTAKE_US))
    assert "\x1b" not in refused.stderr
    assert len(refused.stderr.splitlines()) == 1


def test_a_terminal_of_few_letters_is_served(shopflow: Run, tmp_path: Path) -> None:
    plain = os.environ | {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0", "LC_ALL": "C"}
    text = INTAKE_US.replace("Cylinder 2", "Zylinderkopf Nr. 2, Größe Ł")
    path = write_session(tmp_path, text)
    shown = shopflow("reduce", path, env=plain)
    assert shown.returncode == 0
    assert "Gr??e ?" in shown.stdout
    as_json = shopflow("reduce", path, "--json", env=plain)
    assert json.loads(as_json.stdout)["title"] == "Zylinderkopf Nr. 2, Größe Ł"


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm(shopflow: Run, tmp_path: Path) -> None:
    path = tmp_path / "session.toml"
    path.write_bytes(b"\xef\xbb\xbf" + EXHAUST_SI.strip().replace("\n", "\r\n").encode())
    assert shopflow("reduce", path).returncode == 0


HOSTILE = {
    "a key of a great many parts": "a" + ".a" * 100_000 + " = 1",
    "as many quoted ones": ".".join(['"."'] * 100_000) + " = 1",
    "a table of a great many parts": "[a" + ".a" * 100_000 + "]",
    "tables within tables": "x = " + "{a = " * 50_000,
    "a value deep below a text": "title" + ".a" * 30 + " = 1\n" + INTAKE_US,
    "a great many keys": "\n".join(f"k{place} = 1" for place in range(10_000)),
    "a quantity of spaces": INTAKE_US.replace("29.41 inHg", "29.41" + " " * 200_000 + "in Hg"),
    "a quantity of digits": INTAKE_US.replace("29.41 inHg", "9" * 200_000 + " in Hg"),
    "a reading of digits": INTAKE_US.replace("47.8", "0." + "9" * 200_000 + "e999999999"),
    "a whole number of digits": INTAKE_US.replace("47.8", "9" * 200_000),
    "an exponent of digits": INTAKE_US.replace("47.8", "1e" + "9" * 200_000),
    "a great many escapes": 'title = "' + '\\"' * 60_000,
    "a great many rows": INTAKE_US.replace("[[23.5", "[" + "[-1]," * 10_000 + "[23.5"),
    "the smallest number there is": INTAKE_US.replace("25 inH2O", "5e-324 inH2O"),
    "figures beyond a float": INTAKE_US.replace("47.8", "1e300"),
    "lifts that a float cannot tell apart": INTAKE_US.replace(
        "0.1,", "0.1, 0." + "1" + "0" * 30 + "1,"
    ),
}


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE.keys())
def test_a_hostile_file_is_refused_in_good_time(shopflow: Run, tmp_path: Path, text: str) -> None:
    """Each takes a fraction of a second where no time grows with the square of its size."""
    started = work_of_children()
    done = shopflow("reduce", write_session(tmp_path, text))
    assert work_of_children() - started < 10.0
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.strip()
    assert "Traceback" not in done.stderr
    assert max(map(len, done.stderr.splitlines())) < 600


def test_a_stream_without_end_is_not_read_to_it(shopflow: Run) -> None:
    done = shopflow("reduce", "/dev/zero")
    assert done.returncode == 2
    assert "too large" in done.stderr


@pytest.mark.slow
@pytest.mark.parametrize("unbuffered", ["", "1"], ids=["buffered", "unbuffered"])
@pytest.mark.parametrize("arguments", ["reduce", "reduce --json", "--help"])
def test_a_reader_that_has_enough_may_leave(
    tmp_path: Path, arguments: str, unbuffered: str
) -> None:
    """Into a pipe nobody reads any more, whose buffer Python empties only at the end."""
    command = [str(Path(sys.executable).with_name("shopflow")), *arguments.split()]
    if command[1] == "reduce":
        command.append(str(write_session(tmp_path, INTAKE_US)))
    reader, writer = os.pipe()
    os.close(reader)
    environment = os.environ | {"PYTHONUNBUFFERED": unbuffered}
    done = subprocess.run(
        command, stdout=writer, stderr=subprocess.PIPE, env=environment, check=False
    )
    os.close(writer)
    assert (done.returncode, done.stderr) == (0, b"")


@pytest.mark.slow
def test_it_starts_within_twice_the_work_of_numpy_alone(tmp_path: Path) -> None:
    """Against `import numpy` in the same interpreter, compiled files at hand for both."""
    path = write_session(tmp_path, INTAKE_US)
    cached = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    cached["PYTHONPYCACHEPREFIX"] = str(tmp_path / "cache")
    main = f"import sys; from shopflow.cli import main; sys.exit(main(['reduce', {str(path)!r}]))"

    def seconds(program: str) -> float:
        started = work_of_children()
        subprocess.run([sys.executable, "-c", program], env=cached, check=True, capture_output=True)
        return work_of_children() - started

    for program in ("import numpy", main):
        seconds(program)
    ratios = [seconds(main) / seconds("import numpy") for _ in range(5)]
    assert statistics.median(ratios) < 2.0
