"""The bench session file: one flow-bench session as TOML, kept exactly as typed."""

from shopflow.sessionfile.checking import check, described, reduced
from shopflow.sessionfile.document import ExcludedRun, SessionDocument
from shopflow.sessionfile.text import dumps, loads, read

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
