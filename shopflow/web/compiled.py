"""Compiled templates, kept beside Python's own compiled modules for the next process.

Compiling all templates takes some seconds. As with Python's modules, nothing is written where
PYTHONDONTWRITEBYTECODE forbids it or the folder is read-only.
"""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path

from flask import Flask
from jinja2 import BytecodeCache, Environment
from jinja2.bccache import Bucket

FOLDER = Path(__file__).parent / "__pycache__" / "templates"


def init_app(app: Flask) -> None:
    """Let the templates of this app, whose environment is complete by now, be compiled once."""
    app.jinja_env.bytecode_cache = CompiledTemplates(app.jinja_env, FOLDER)


class CompiledTemplates(BytecodeCache):
    """Files of compiled templates, each headed by the SHA-256 of the rest."""

    def __init__(self, environment: Environment, folder: Path) -> None:
        self.folder = folder
        self._settings = _settings(environment)

    def get_source_checksum(self, source: str) -> str:
        """Checksum of a source and of everything else that its code depends on."""
        return sha256(f"{self._settings}\n{source}".encode()).hexdigest()

    def load_bytecode(self, bucket: Bucket) -> None:
        """Fill the bucket with the code of its template, if that is there and whole."""
        with suppress(OSError):
            content = self._file(bucket).read_bytes()
            head, code = content[:32], content[32:]
            if sha256(code).digest() == head:
                bucket.bytecode_from_string(code)

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Write the code of a template, as far as the folder can be written to."""
        if sys.dont_write_bytecode:
            return
        code, file = bucket.bytecode_to_string(), self._file(bucket)
        part = file.with_suffix(f".{os.getpid()}")
        with suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True)
            try:
                part.write_bytes(sha256(code).digest() + code)
                part.replace(file)
            finally:
                part.unlink(missing_ok=True)

    def _file(self, bucket: Bucket) -> Path:
        return self.folder / f"{bucket.key}.code"


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
