"""The bench session file: one flow-bench session as TOML, kept exactly as typed."""

from shopflow.testfile.checking import check, described, reduced
from shopflow.testfile.document import ExcludedRun, SessionDocument
from shopflow.testfile.text import dumps, loads, read

__all__ = [
    "ExcludedRun",
    "SessionDocument",
    "check",
    "described",
    "dumps",
    "loads",
    "read",
    "reduced",
]
