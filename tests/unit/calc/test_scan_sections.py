"""Scanned ports cut into sections: closed forms, a general library's own cut, and invariance."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ellipe

from shopflow.calc import mesh_cut
from shopflow.calc.center_line import CenterLine
from shopflow.calc.center_line_proposal import openings, propose, start_of
from shopflow.calc.scan_sections import ScanSection, cut_along
from shopflow.calc.sections import port_volume
from tests import meshes
from tests.optional import present

BEND, RADIUS = 0.050, 0.017


def sections_of(mesh: meshes.Mesh, points: Any, *shares: float) -> list[ScanSection]:
    """Sections of a mesh at shares of the length of the line through these points."""
    line = CenterLine(np.asarray(points, dtype=float))
    cut = cut_along(*mesh, line, [share * line.length for share in shares])
    return [present(section) for section in cut]


def polygon_loss(corners: int) -> float:
    """Share of a circle's area that its inscribed polygon lacks."""
    turn = 2.0 * math.pi / corners
    return 1.0 - math.sin(turn) / turn


@pytest.mark.source("Elliptic cylinder: area pi w h / 4, perimeter by scipy.special.ellipe")
def test_a_cylinder_has_the_section_of_its_ellipse() -> None:
    mesh = meshes.cylinder(0.046, 0.034, 0.09)
    (section,) = sections_of(mesh, [[0, 0, 0], [0.09, 0, 0]], 0.4)
    assert section.area == pytest.approx(math.pi / 4 * 0.046 * 0.034, rel=1.1 * polygon_loss(96))
    whole = 4 * 0.023 * float(ellipe(1.0 - (0.034 / 0.046) ** 2))
    assert section.perimeter == pytest.approx(whole, rel=5e-4)
    assert (section.width, section.height) == pytest.approx((0.046, 0.034), rel=1e-9)
    assert section.short_side_radius is None


@pytest.mark.source("Cone: the radius falls as the distance; frustum by Euclid, Elements XII")
def test_a_cone_tapers_as_its_radius_and_encloses_a_frustum() -> None:
    mesh = meshes.cone(0.025, 0.015, 0.1)
    shares = (0.1, 0.3, 0.5, 0.7, 0.9)
    cut = sections_of(mesh, [[0, 0, 0], [0.05, 0, 0], [0.1, 0, 0]], *shares)
    radii = [0.025 - 0.010 * share for share in shares]
    assert [section.width / 2 for section in cut] == pytest.approx(radii, rel=1e-9)
    loss = 1.0 - polygon_loss(96)
    assert [section.area for section in cut] == pytest.approx(
        [loss * math.pi * radius**2 for radius in radii], rel=1e-9
    )
    volume = port_volume([section.distance for section in cut], [s.area for s in cut])
    by_hand = loss * math.pi / 3 * 0.08 * (0.024**2 + 0.024 * 0.016 + 0.016**2)
    assert volume == pytest.approx(by_hand, rel=1e-9)


@pytest.mark.source("Torus: area pi r^2, perimeter 2 pi r, short side R - r; Pappus's theorem")
def test_a_bend_has_the_sections_of_its_torus() -> None:
    cut = sections_of(meshes.torus(BEND, RADIUS), meshes.arc(BEND), 0.02, 0.25, 0.5, 0.75, 0.98)
    for section in cut:
        assert section.area == pytest.approx(math.pi * RADIUS**2, rel=1.2e-3)
        assert section.perimeter == pytest.approx(2 * math.pi * RADIUS, rel=6e-4)
        assert (section.width, section.height) == pytest.approx((2 * RADIUS,) * 2, rel=5e-4)
        assert section.short_side_radius == pytest.approx(BEND - RADIUS, rel=0.01)
    # Pappus: the area times the path of its centroid, of the part between the outer sections.
    volume = port_volume([section.distance for section in cut], [s.area for s in cut])
    path = math.pi / 2 * BEND * 0.96
    assert volume == pytest.approx(math.pi * RADIUS**2 * path, rel=2e-3)


@pytest.mark.source("Torus in closed form: the error falls with the square of the mesh's size")
def test_sections_converge_as_the_mesh_gets_finer() -> None:
    errors = []
    for count in (16, 32, 64):
        mesh = meshes.torus(BEND, RADIUS, count, count)
        (section,) = sections_of(mesh, meshes.arc(BEND, 13), 0.45)
        errors.append(abs(section.area / (math.pi * RADIUS**2) - 1.0))
    assert errors[0] > 3.0 * errors[1] > 9.0 * errors[2]


@pytest.mark.source("trimesh.intersections.mesh_plane, its segments summed by Green's theorem")
def test_outlines_are_those_of_a_general_library_s_cut() -> None:
    vertices, faces = meshes.torus(BEND, RADIUS, 40, 30)
    point, normal = np.array([0.03, 0.04, 0.001]), np.array([-0.5, 0.8, 0.2])
    normal = normal / np.linalg.norm(normal)
    (outline,) = mesh_cut.closed_outlines(vertices, faces, point, normal)
    segments = trimesh.intersections.mesh_plane(
        trimesh.Trimesh(vertices, faces, process=False), normal, point
    )
    lengths = np.linalg.norm(segments[:, 1] - segments[:, 0], axis=1)
    assert mesh_cut.perimeter(outline) == pytest.approx(lengths.sum(), rel=1e-9)
    # Twice the area: each segment with the middle makes a triangle, the middle being inside.
    middle = segments.reshape(-1, 3).mean(axis=0)
    fan = np.cross(segments[:, 0] - middle, segments[:, 1] - middle)
    across = np.linalg.svd(normal[None])[2][1:]
    flat = (outline - point) @ across.T
    assert mesh_cut.area(flat) == pytest.approx(np.linalg.norm(fan, axis=1).sum() / 2, rel=1e-9)


@settings(max_examples=25)
@given(
    turn=st.lists(st.floats(-1.0, 1.0), min_size=4, max_size=4).filter(
        lambda turn: sum(part * part for part in turn) > 0.01
    ),
    shift=st.lists(st.floats(-1.0, 1.0), min_size=3, max_size=3),
    scale=st.floats(0.2, 5.0),
)
def test_a_port_turned_moved_and_scaled_keeps_its_sections(
    turn: list[float], shift: list[float], scale: float
) -> None:
    vertices, faces = meshes.torus(BEND, RADIUS, 24, 16)
    points = meshes.arc(BEND)
    matrix = trimesh.transformations.quaternion_matrix(turn)[:3, :3]
    moved = scale * vertices @ matrix.T + shift
    (plain,) = sections_of((vertices, faces), points, 0.37)
    (other,) = sections_of((moved, faces), scale * points @ matrix.T + shift, 0.37)
    assert other.area == pytest.approx(scale**2 * plain.area, rel=1e-6)
    for name in ("perimeter", "width", "height", "short_side_radius"):
        assert getattr(other, name) == pytest.approx(scale * getattr(plain, name), rel=1e-5)


def test_only_the_innermost_outline_around_the_line_counts() -> None:
    inner, faces = meshes.cylinder(0.03, 0.03, 0.1, 24, 4)
    outer, _ = meshes.cylinder(0.05, 0.05, 0.1, 24, 4)
    beside = inner + np.array([0.0, 0.1, 0.0])
    both = np.concatenate((outer, inner, beside))
    all_faces = np.concatenate((faces, faces + len(outer), faces + 2 * len(outer)))
    (section,) = sections_of((both, all_faces), [[0, 0, 0], [0.1, 0, 0]], 0.5)
    assert section.width == pytest.approx(0.03, rel=1e-9)


def test_where_no_outline_closes_around_the_line_there_is_no_section() -> None:
    vertices, faces = meshes.cylinder(0.03, 0.03, 0.1, 24, 4)
    line = CenterLine(np.array([[-0.05, 0.0, 0.0], [0.15, 0.0, 0.0]]))
    # Before it, within it, and beside an opened wall.
    assert cut_along(vertices, faces, line, [0.01])[0] is None
    assert cut_along(vertices, faces, line, [0.1])[0] is not None
    assert cut_along(vertices, faces[2:-60], line, [0.14])[0] is None
    aside = CenterLine(np.array([[0.0, 0.1, 0.0], [0.1, 0.1, 0.0]]))
    assert cut_along(vertices, faces, aside, [0.05])[0] is None


@pytest.mark.source("The torus's own center line, in closed form")
@pytest.mark.parametrize("has_ends", [False, True])
def test_a_proposed_center_line_runs_along_the_middle(has_ends: bool) -> None:
    mesh = meshes.torus(BEND, RADIUS, 48, 64, has_ends=has_ends)
    ends = openings(*mesh)
    assert len(ends) == (0 if has_ends else 2)
    if has_ends:
        start, end = (np.array([BEND, 1e-4, 0.0]), np.array([0.0, 1.0, 0.0])), None
    else:
        start, end = present(start_of(*mesh, ends[0])), ends[1].mean(axis=0)
    points = present(propose(*mesh, start, end))
    away = np.hypot(np.hypot(points[:, 0], points[:, 1]) - BEND, points[:, 2])
    # The last plane may cut the cap of a closed end aslant.
    assert away.max() < (0.04 if has_ends else 0.005) * RADIUS
    assert CenterLine(points).length > (0.8 if has_ends else 0.999) * math.pi / 2 * BEND


def test_a_line_that_leads_nowhere_is_not_proposed() -> None:
    mesh = meshes.cylinder(0.03, 0.03, 0.1, 24, 4)
    start = np.array([0.05, 0.5, 0.0]), np.array([1.0, 0.0, 0.0])
    assert propose(*mesh, start) is None


@pytest.mark.source("Circle through three points, by hand: parabola y = x^2 / 2 at its vertex")
def test_few_points_make_a_straight_line_or_a_parabola() -> None:
    straight = CenterLine(np.array([[0.0, 0, 0], [3.0, 4.0, 0.0]]))
    assert straight.length == pytest.approx(5.0)
    assert straight.at(2.5).position == pytest.approx([1.5, 2.0, 0.0])
    assert straight.bend_normal() is None
    assert np.linalg.norm(straight.at(2.5).curvature) == 0.0
    bent = CenterLine(np.array([[-1.0, 0.5, 0], [0, 0, 0], [1.0, 0.5, 0]]))
    middle = bent.at(bent.length / 2)
    assert middle.tangent == pytest.approx([1.0, 0.0, 0.0], abs=1e-9)
    # Through (0, 0) and (x, x^2/2): radius x^2/2 / 2 + x^2 / (2 x^2/2) / ... = (x^2 + y^2) / (2 y).
    reach = bent.length / 8
    x = present(next(x for x in np.linspace(0.2, 0.4, 20001) if _arc_length(x) >= reach))
    radius = (x * x + x**4 / 4) / (x * x)
    assert np.linalg.norm(middle.curvature) == pytest.approx(1.0 / radius, rel=1e-3)
    assert abs(present(bent.bend_normal())[2]) == pytest.approx(1.0)


def _arc_length(x: float) -> float:
    """Length of the parabola y = x^2 / 2 from its vertex, in closed form."""
    return (x * math.sqrt(1 + x * x) + math.asinh(x)) / 2
