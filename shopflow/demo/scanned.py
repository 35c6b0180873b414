"""A scan of an invented exhaust port, made in code, and the sections taken from it."""

from __future__ import annotations

import struct

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.calc.mesh_cut import Ints
from shopflow.demo.seed import Seed
from shopflow.files import FileStore
from shopflow.files.scans import Scan
from shopflow.models import Visit
from shopflow.services.actor import Actor
from shopflow.services.bench import center_lines, scan_plans
from shopflow.services.registry import attachments
from shopflow.services.registry.attachments import Upload
from shopflow.units import SI

AROUND, ALONG = 28, 26
"""Corners around the port and rings along it: 73 kB as binary STL."""

BEND, STRAIGHT = 34.0, 22.0
"""Radius of the center line in its bend and the straight run to the flange, mm."""

TURN = np.deg2rad(68.0)


def add(seed: Seed, by: Actor, store: FileStore, visit: Visit, cylinder: str) -> None:
    """Keep the scan with a head, and save its sections as the port was before the work."""
    scan, upload = _port(), {"caption": "Scan of the exhaust port", "shown_to_customer": False}
    file = Upload("exhaust-as-received.stl", binary_stl(scan))
    (row,) = attachments.add(seed.db, by, store, visit.job, visit, [file], upload).stored
    values = {
        "side": "exhaust", "cylinder": cylinder, "when": "before", "datum": "valve seat",
        "unit": "mm", "center_line": center_lines.reverse(center_lines.propose(scan, "")),
        "first": "4 mm",
        "step": "8 mm",
    }  # fmt: skip
    planned = scan_plans.plan(seed.db, visit, scan, values, SI)
    scan_plans.save(seed.db, by, visit, row, planned)


def binary_stl(scan: Scan) -> bytes:
    """A scan as a binary STL file."""
    corners = scan.vertices[scan.faces].astype("<f4")
    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("rest", "<u2")])
    rows = np.zeros(len(corners), dtype=record)
    rows["corners"] = corners
    return b"port of an invented head".ljust(80) + struct.pack("<I", len(rows)) + rows.tobytes()


def _port() -> Scan:
    """A port round at its seat and flat at its flange, in mm."""
    shares = np.linspace(0.0, 1.0, ALONG + 1)[:, None]
    angles = np.linspace(0.0, 2.0 * np.pi, AROUND, endpoint=False)[None, :]
    length = BEND * TURN + STRAIGHT
    turned = np.minimum(shares * length, BEND * TURN) / BEND
    beyond = np.maximum(shares * length - BEND * TURN, 0.0)
    width = 27.0 + 7.0 * shares**1.5
    height = 26.0 - 1.5 * np.sin(np.pi * shares)
    aside = width / 2.0 * np.cos(angles)
    outward = BEND + height / 2.0 * np.sin(angles)
    x = outward * np.cos(turned) - beyond * np.sin(turned)
    y = outward * np.sin(turned) + beyond * np.cos(turned)
    vertices: Floats = np.stack([x, y, aside + 0.0 * turned], axis=-1).reshape(-1, 3)
    return Scan(vertices, _faces())


def _faces() -> Ints:
    """Triangles between the rings of a tube."""
    here = np.arange(ALONG)[:, None] * AROUND + np.arange(AROUND)[None, :]
    beside = np.arange(ALONG)[:, None] * AROUND + (np.arange(AROUND)[None, :] + 1) % AROUND
    first = np.stack([here, here + AROUND, beside], axis=-1)
    second = np.stack([beside, here + AROUND, beside + AROUND], axis=-1)
    return np.concatenate((first.reshape(-1, 3), second.reshape(-1, 3))).astype(np.intp)
