"""The cam file: an engine's cam and valve train as TOML, kept exactly as typed."""

from shopflow.camfile.checking import check
from shopflow.camfile.document import CamDocument, LobeDocument, Side
from shopflow.camfile.text import dumps, loads, read

__all__ = ["CamDocument", "LobeDocument", "Side", "check", "dumps", "loads", "read"]
