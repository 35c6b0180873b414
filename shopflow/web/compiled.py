"""Compiled templates, kept beside Python's own compiled modules for the next process.

Compiling all templates takes some seconds.
"""

from __future__ import annotations

from hashlib import sha256
from importlib.metadata import version
from pathlib import Path

from flask import Flask
from jinja2 import BytecodeCache, Environment
from jinja2.bccache import Bucket

from shopflow.web.kept_files import KeptFiles

FOLDER = Path(__file__).parent / "__pycache__" / "templates"


def init_app(app: Flask) -> None:
    """Let the templates of this app, whose environment is complete by now, be compiled once."""
    app.jinja_env.bytecode_cache = CompiledTemplates(app.jinja_env, FOLDER)


class CompiledTemplates(BytecodeCache):
    """Compiled templates, each a file of a folder."""

    def __init__(self, environment: Environment, folder: Path) -> None:
        self.kept = KeptFiles(folder)
        self._settings = _settings(environment)

    def get_source_checksum(self, source: str) -> str:
        """Checksum of a source and of everything else that its code depends on."""
        return sha256(f"{self._settings}\n{source}".encode()).hexdigest()

    def load_bytecode(self, bucket: Bucket) -> None:
        """Fill the bucket with the code of its template, if that is there and whole."""
        code = self.kept.get(_name(bucket))
        if code is not None:
            bucket.bytecode_from_string(code)

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep the code of a template."""
        self.kept.put(_name(bucket), bucket.bytecode_to_string())


def _name(bucket: Bucket) -> str:
    return f"{bucket.key}.code"


def _settings(environment: Environment) -> str:
    """Settings of an environment that show in the code it compiles, and Jinja's version."""
    return repr(
        (
            version("jinja2"),
            environment.trim_blocks,
            environment.lstrip_blocks,
            sorted(environment.extensions),
            sorted(
                (name, str(value))
                for name, value in environment.policies.items()
                if not callable(value)
            ),
            sorted(environment.filters),
            sorted(environment.tests),
        )
    )
