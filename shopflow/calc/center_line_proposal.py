"""A center line proposed for a scanned port: from one opening on, outline by outline."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from shopflow.calc import mesh_cut
from shopflow.calc.array_types import Floats
from shopflow.calc.center_line import CenterLine
from shopflow.calc.mesh_cut import Ints
from shopflow.calc.port_form import equivalent_diameter
from shopflow.calc.scan_sections import outline_around, perpendicular

POINTS = 9
"""Points of a proposal: as many as a porter cares to correct."""

MOST_STEPS = 300
STEP = 0.2
"""Of a step, by the diameter of the outline it starts from."""

WIDENING = 3.0
"""Area over that of the outline before, from which the line has left the port."""

Start = tuple[Floats, Floats]
"""A point and a direction of length 1."""


def openings(vertices: Floats, faces: Ints) -> list[Floats]:
    """The two largest openings of a surface, the larger first, each as its corners (k, 3).

    Fewer where the surface has fewer: a closed one has none.
    """
    rings = [vertices[ring] for ring in mesh_cut.open_edges(faces)]
    return sorted(rings, key=mesh_cut.perimeter, reverse=True)[:2]


def start_of(vertices: Floats, faces: Ints, opening: Floats) -> Start | None:
    """The middle of an opening and the direction into the port; None where neither way leads in."""
    middle = opening.mean(axis=0)
    corners = opening - middle
    normal = np.cross(corners, np.roll(corners, -1, axis=0)).sum(axis=0)
    size = float(np.linalg.norm(normal))
    if size == 0.0:
        return None
    normal = normal / size
    probe = 0.25 * STEP * float(np.sqrt(size))
    for direction in (normal, -normal):
        if _outline(vertices, faces, middle + probe * direction, direction) is not None:
            return middle, direction
    return None


def propose(
    vertices: Floats, faces: Ints, start: Start, end: Floats | None = None
) -> Floats | None:
    """Points along the middle of a port from a start on, evenly spaced.

    Parameters
    ----------
    vertices : (n, 3), m
    faces : (m, 3) indices of vertices
    start : a point in the port, and the direction to go in
    end : the middle of the opening it leads to, where known

    Returns
    -------
    (POINTS, 3); None where the line finds no closed outlines to go through

    Notes
    -----
    From centroid to centroid of the innermost outline around the line, each plane turned as much
    further as the line turned on its last step. Where the outlines end or widen suddenly, so does
    the line. A proposal of our own, to be looked at: common practice, no source.
    """
    points = np.array(list(_march(vertices, faces, start)))
    if len(points) < 3:
        return None
    if end is not None and _is_next(points, end):
        points = np.concatenate((points, [end]))
    line = CenterLine(points)
    return np.array([line.at(at).position for at in np.linspace(0.0, line.length, POINTS)])


def _is_next(points: Floats, end: Floats) -> bool:
    """True where an opening lies ahead of the last point, about a step away."""
    last = points[-1] - points[-2]
    step, gap = float(np.linalg.norm(last)), end - points[-1]
    return 0.1 * step < float(np.linalg.norm(gap)) < 2.5 * step and bool(gap @ last > 0.0)


def _march(vertices: Floats, faces: Ints, start: Start) -> Iterator[Floats]:
    point, direction = start
    yield point
    step, size = _first_step(vertices, faces, point, direction)
    for _ in range(MOST_STEPS):
        ahead = _outline(vertices, faces, point + step * direction, direction)
        if ahead is None or ahead[1] > WIDENING * size:
            return
        # The chord turns half as far as the line; a plane that lags behind cuts it aslant.
        direction = _unit(2.0 * _unit(ahead[0] - point) - direction)
        squared = _outline(vertices, faces, ahead[0], direction)
        point, size = squared if squared is not None else ahead
        yield point


def _first_step(
    vertices: Floats, faces: Ints, point: Floats, direction: Floats
) -> tuple[float, float]:
    """Step by the outline at the start, or a little further in; and the area of that."""
    extent = float(np.ptp(vertices, axis=0).max())
    for share in (0.0, 1e-3, 1e-2):
        here = _outline(vertices, faces, point + share * extent * direction, direction)
        if here is not None:
            return STEP * equivalent_diameter(here[1]), here[1]
    return extent / MOST_STEPS, extent**2


def _outline(
    vertices: Floats, faces: Ints, point: Floats, direction: Floats
) -> tuple[Floats, float] | None:
    """Centroid and area of the innermost outline around a point; None where there is none."""
    across = perpendicular(direction)
    axes = np.stack([across, np.cross(direction, across)])
    outline = outline_around(vertices, faces, point, direction, axes)
    if outline is None:
        return None
    return point + mesh_cut.centroid(outline) @ axes, mesh_cut.area(outline)


def _unit(vector: Floats) -> Floats:
    unit: Floats = vector / np.linalg.norm(vector)
    return unit
