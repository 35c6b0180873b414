"""Surfaces of ports whose sections are known in closed form, meshed as finely as asked."""

from __future__ import annotations

import struct
from collections.abc import Callable
from typing import Any

import numpy as np

Mesh = tuple[Any, Any]
"""Vertices (n, 3) and faces (m, 3)."""


def swept(
    spot: Callable[[Any, Any], Any], around: int, along: int, *, has_ends: bool = False
) -> Mesh:
    """A tube: `spot` gives points (..., 3) for shares along it and angles around it."""
    shares = np.linspace(0.0, 1.0, along + 1)
    angles = np.arange(around) * 2.0 * np.pi / around
    grid = np.meshgrid(shares, angles, indexing="ij")
    vertices = spot(*grid).reshape(-1, 3)
    faces = []
    for ring in range(along):
        for number in range(around):
            here, beside = ring * around + number, ring * around + (number + 1) % around
            faces += [(here, here + around, beside), (beside, here + around, beside + around)]
    if has_ends:
        for first in (0, along * around):
            middle = len(vertices)
            ring_points = vertices[first : first + around]
            vertices = np.concatenate((vertices, [ring_points.mean(axis=0)]))
            faces += [
                (middle, first + number, first + (number + 1) % around) for number in range(around)
            ]
    return vertices, np.array(faces)


def cylinder(width: float, height: float, length: float, around: int = 96, along: int = 20) -> Mesh:
    """A straight elliptic cylinder along x, its width along y and its height along z."""

    def spot(share: Any, angle: Any) -> Any:
        y, z = width / 2 * np.cos(angle), height / 2 * np.sin(angle)
        return np.stack([length * share, y, z], axis=-1)

    return swept(spot, around, along)


def cone(first: float, last: float, length: float, around: int = 96, along: int = 20) -> Mesh:
    """A straight cone along x between two radii."""

    def spot(share: Any, angle: Any) -> Any:
        radius = first + (last - first) * share
        return np.stack([length * share, radius * np.cos(angle), radius * np.sin(angle)], axis=-1)

    return swept(spot, around, along)


def torus(bend: float, radius: float, around: int = 96, along: int = 96, **ends: bool) -> Mesh:
    """A quarter torus about z: center-line radius `bend`, the tube's own `radius`."""

    def spot(share: Any, angle: Any) -> Any:
        turn, out = share * np.pi / 2, bend + radius * np.cos(angle)
        return np.stack([out * np.cos(turn), out * np.sin(turn), radius * np.sin(angle)], axis=-1)

    return swept(spot, around, along, **ends)


def stl(bend: float = 50.0, radius: float = 17.0, around: int = 24, along: int = 24) -> bytes:
    """A quarter torus as a binary STL file, in the unit of its sizes."""
    vertices, faces = torus(bend, radius, around, along)
    rows = b"".join(
        struct.pack("<12fH", 0, 0, 0, *vertices[list(face)].ravel(), 0) for face in faces
    )
    return b"quarter torus".ljust(80) + struct.pack("<I", len(faces)) + rows


def arc(bend: float, count: int = 7) -> Any:
    """Points along the center line of the quarter torus."""
    turns = np.linspace(0.0, np.pi / 2, count)
    return np.stack([bend * np.cos(turns), bend * np.sin(turns), 0.0 * turns], axis=1)
