"""Sections of a scanned port: a surface of triangles cut at right angles to a center line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shopflow.calc import mesh_cut
from shopflow.calc.array_types import Floats
from shopflow.calc.center_line import CenterLine, Station
from shopflow.calc.mesh_cut import Ints

MOST_OUTLINES = 200
"""Outlines looked at in one plane, those of most corners first: a port's has many."""

FLATTEST = 1e-9


@dataclass(frozen=True)
class ScanSection:
    """The outline around the center line in one plane, SI."""

    distance: float
    """Along the center line from its first point."""

    outline: Floats
    """(k, 2) corners: x across the bend, y in its plane, away from the short side; the center line
    is at the origin."""

    area: float
    perimeter: float
    width: float
    height: float
    short_side_radius: float | None
    """None where the line is straight, or its center of curvature lies within the outline."""


def cut_along(
    vertices: Floats, faces: Ints, line: CenterLine, distances: Sequence[float]
) -> list[ScanSection | None]:
    """Sections of a surface at distances along a center line.

    Parameters
    ----------
    vertices : (n, 3), m
    faces : (m, 3) indices of vertices
    line : through the middle of the port
    distances : along it from its first point, m

    Returns
    -------
    a section for each distance; None where no closed outline goes around the line there

    Notes
    -----
    Each plane is at right angles to the line. Of the outlines in it only the innermost around the
    line counts; whatever stands within it, as a guide boss, is not taken off. Width is its extent
    along the normal of the plane that the line bends in, height its extent at right angles to that;
    where the line is straight, width is its extent along the principal axis of its area with the
    greater extent. The short-side radius is the radius of the line less the distance from it to the
    wall, toward the center of curvature. Source: definitions; areas by `mesh_cut.area`.
    """
    normal = line.bend_normal()
    return [_section(vertices, faces, line.at(at), normal, at) for at in distances]


def _section(
    vertices: Floats, faces: Ints, station: Station, normal: Floats | None, distance: float
) -> ScanSection | None:
    axes = _axes(station, normal)
    outline = outline_around(vertices, faces, station.position, station.tangent, axes)
    if outline is None:
        return None
    if normal is None:
        outline = _on_its_axes(outline)
    width, height = np.ptp(outline, axis=0)
    return ScanSection(
        distance=distance,
        outline=outline,
        area=mesh_cut.area(outline),
        perimeter=mesh_cut.perimeter(outline),
        width=float(width),
        height=float(height),
        short_side_radius=_short_side_radius(outline, station, axes)
        if normal is not None
        else None,
    )


def outline_around(
    vertices: Floats, faces: Ints, point: Floats, tangent: Floats, axes: Floats
) -> Floats | None:
    """Innermost closed outline around a point, in the axes of its plane.

    Parameters
    ----------
    vertices : (n, 3), m
    faces : (m, 3) indices of vertices
    point : (3,)
    tangent : (3,) normal of the plane
    axes : (2, 3) of the plane, each of length 1

    Returns
    -------
    (k, 2) corners from the point, m; None where no closed outline goes around it
    """
    rings = mesh_cut.closed_outlines(vertices, faces, point, tangent)
    rings = sorted(rings, key=len, reverse=True)[:MOST_OUTLINES]
    flat = [(ring - point) @ axes.T for ring in rings]
    around = [ring for ring in flat if mesh_cut.contains(ring, np.zeros(2))]
    return min(around, key=mesh_cut.area, default=None)


def _axes(station: Station, normal: Floats | None) -> Floats:
    """Axes of the plane: across the bend, and in its plane away from the center of curvature."""
    tangent = station.tangent
    across = perpendicular(tangent) if normal is None else normal - (normal @ tangent) * tangent
    if np.linalg.norm(across) < FLATTEST:
        across = perpendicular(tangent)
    across = across / np.linalg.norm(across)
    upward = np.cross(tangent, across)
    if upward @ station.curvature > 0.0:
        across, upward = -across, -upward
    return np.stack([across, upward])


def perpendicular(direction: Floats) -> Floats:
    """A direction at right angles to another, both of length 1.

    >>> perpendicular(np.array([1.0, 0.0, 0.0])).tolist()
    [0.0, 0.0, 1.0]
    """
    least = np.eye(3)[int(np.argmin(np.abs(direction)))]
    aside = np.cross(direction, least)
    upright: Floats = aside / np.linalg.norm(aside)
    return upright


def _on_its_axes(outline: Floats) -> Floats:
    """An outline on the principal axes of its area, the longer extent first."""
    following = np.roll(outline, -1, axis=0)
    middle = mesh_cut.centroid(outline)
    here, there = outline - middle, following - middle
    cross = here[:, 0] * there[:, 1] - there[:, 0] * here[:, 1]
    # Second moments of the triangles between the centroid and each edge, but for a common factor.
    total = here + there
    products = here[:, :, None] * here[:, None, :] + there[:, :, None] * there[:, None, :]
    moments = ((products + total[:, :, None] * total[:, None, :]) * cross[:, None, None]).sum(0)
    turned: Floats = outline @ np.linalg.eigh(np.sign(cross.sum()) * moments)[1]
    extents = np.ptp(turned, axis=0)
    return turned if extents[0] >= extents[1] else turned[:, ::-1]


def _short_side_radius(outline: Floats, station: Station, axes: Floats) -> float | None:
    curvature = float(np.linalg.norm(station.curvature))
    if curvature < FLATTEST:
        return None
    inward = axes @ (station.curvature / curvature)
    to_wall = mesh_cut.distance_to_wall(outline, np.zeros(2), inward / np.linalg.norm(inward))
    if to_wall is None or to_wall >= 1.0 / curvature:
        return None
    return 1.0 / curvature - to_wall
