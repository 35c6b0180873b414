"""Triangles cut by a plane: the outlines, and the one around a point. Arrays in, arrays out.

A corner that lies on the plane counts as above it, so that each triangle is cut in two edges or in
none, and outlines of a closed surface close without any tolerance.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from shopflow.calc.array_types import Floats

Ints = NDArray[np.intp]


def closed_outlines(vertices: Floats, faces: Ints, point: Floats, normal: Floats) -> list[Floats]:
    """Closed outlines in which a plane cuts triangles.

    Parameters
    ----------
    vertices : (n, 3), shared by the triangles that meet in them
    faces : (m, 3) indices of vertices
    point : (3,) on the plane
    normal : (3,) of the plane

    Returns
    -------
    each outline as (k, 3) corners in order; those that do not close are left out

    Examples
    --------
    A tetrahedron, cut half-way to its tip: a triangle.

    >>> corners = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
    >>> faces = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])
    >>> closed_outlines(corners, faces, np.array([0, 0, 0.5]), np.array([0.0, 0, 1]))[0].shape
    (3, 3)
    """
    distance = (vertices - point) @ normal
    above = distance >= 0.0
    corners_above = above[faces].sum(axis=1)
    cut_faces = faces[(corners_above == 1) | (corners_above == 2)]
    if not len(cut_faces):
        return []
    edges = np.stack([cut_faces, np.roll(cut_faces, -1, axis=1)], axis=2)
    crossing = above[edges[..., 0]] != above[edges[..., 1]]
    ends = np.sort(edges[crossing], axis=1)
    unique, links = np.unique(ends, axis=0, return_inverse=True)
    first, second = unique[:, 0], unique[:, 1]
    share = distance[first] / (distance[first] - distance[second])
    points = vertices[first] + share[:, None] * (vertices[second] - vertices[first])
    return [points[ring] for ring in _rings(len(unique), links.reshape(-1, 2))]


def open_edges(faces: Ints) -> list[Ints]:
    """Rings of the edges that belong to one triangle only: the openings of a surface.

    Parameters
    ----------
    faces : (m, 3) indices of vertices

    Returns
    -------
    each ring as indices of vertices in order

    Examples
    --------
    >>> open_edges(np.array([[0, 1, 2]]))[0].tolist()
    [0, 1, 2]
    """
    edges = np.stack([faces, np.roll(faces, -1, axis=1)], axis=2).reshape(-1, 2)
    unique, counts = np.unique(np.sort(edges, axis=1), axis=0, return_counts=True)
    single = unique[counts == 1]
    if not len(single):
        return []
    vertices, links = np.unique(single, return_inverse=True)
    return [vertices[ring] for ring in _rings(len(vertices), links.reshape(-1, 2))]


def _rings(count: int, links: Ints) -> Iterator[Ints]:
    """Closed walks through nodes that each have two links; the others are left out."""
    neighbours: list[list[int]] = [[] for _ in range(count)]
    for one, other in links.tolist():
        neighbours[one].append(other)
        neighbours[other].append(one)
    waiting = {node for node, others in enumerate(neighbours) if len(others) == 2}
    for start in sorted(waiting):
        node, ring = start, []
        while node in waiting:
            waiting.discard(node)
            ring.append(node)
            node = next((other for other in neighbours[node] if other in waiting), node)
        if len(ring) > 2 and start in neighbours[ring[-1]]:
            yield np.array(ring, dtype=np.intp)


def area(outline: Floats) -> float:
    """Area within an outline in its plane, by the shoelace formula.

    Parameters
    ----------
    outline : (k, 2) corners in order, m

    Returns
    -------
    m2

    Notes
    -----
    Source: Meister (1769); Gauss's area formula.

    Examples
    --------
    >>> area(np.array([[0.0, 0], [3, 0], [3, 2], [0, 2]]))
    6.0
    """
    return abs(_signed_area(outline))


def _signed_area(outline: Floats) -> float:
    x, y = outline[:, 0], outline[:, 1]
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2.0


def centroid(outline: Floats) -> Floats:
    """Centroid of the area within an outline in its plane.

    Parameters
    ----------
    outline : (k, 2) corners in order, m

    Returns
    -------
    (2,), m

    Examples
    --------
    >>> centroid(np.array([[0.0, 0], [3, 0], [3, 2], [0, 2]])).tolist()
    [1.5, 1.0]
    """
    following = np.roll(outline, -1, axis=0)
    cross = outline[:, 0] * following[:, 1] - following[:, 0] * outline[:, 1]
    weighted: Floats = ((outline + following) * cross[:, None]).sum(axis=0)
    return weighted / (6.0 * _signed_area(outline))


def perimeter(outline: Floats) -> float:
    """Length of an outline.

    Parameters
    ----------
    outline : (k, d) corners in order, m

    Returns
    -------
    m

    Examples
    --------
    >>> perimeter(np.array([[0.0, 0], [3, 0], [3, 2], [0, 2]]))
    10.0
    """
    return float(np.linalg.norm(np.roll(outline, -1, axis=0) - outline, axis=1).sum())


def contains(outline: Floats, point: Floats) -> bool:
    """True where a point lies within an outline in its plane: rays to the right cross it oddly.

    Parameters
    ----------
    outline : (k, 2) corners in order
    point : (2,)

    Examples
    --------
    >>> square = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])
    >>> contains(square, np.array([0.5, 0.5])), contains(square, np.array([1.5, 0.5]))
    (True, False)
    """
    return bool(np.count_nonzero(_crossings(outline, point, np.array([1.0, 0.0])) > 0.0) % 2)


def distance_to_wall(outline: Floats, point: Floats, direction: Floats) -> float | None:
    """Distance from a point along a direction to an outline; None where it is not met.

    Parameters
    ----------
    outline : (k, 2) corners in order, m
    point : (2,)
    direction : (2,) of length 1

    Returns
    -------
    m

    Examples
    --------
    >>> square = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])
    >>> distance_to_wall(square, np.array([0.25, 0.5]), np.array([-1.0, 0.0]))
    0.25
    """
    crossings = _crossings(outline, point, direction)
    ahead = crossings[crossings > 0.0]
    return float(ahead.min()) if len(ahead) else None


def _crossings(outline: Floats, point: Floats, direction: Floats) -> Floats:
    """Distances along a line at which it crosses an outline."""
    across = np.array([-direction[1], direction[0]])
    aside, along = (outline - point) @ across, (outline - point) @ direction
    aside_next, along_next = np.roll(aside, -1), np.roll(along, -1)
    crossed = (aside >= 0.0) != (aside_next >= 0.0)
    share = aside[crossed] / (aside[crossed] - aside_next[crossed])
    distances: Floats = along[crossed] + share * (along_next[crossed] - along[crossed])
    return distances
