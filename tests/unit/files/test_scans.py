"""Scans read from files of every form, and refused with words where they are broken."""

from __future__ import annotations

import io
import struct
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow.files import contents, scans
from shopflow.files.scans import UnreadableScanError
from tests import meshes

VERTICES, FACES = meshes.torus(50.0, 17.0, 12, 8)


def saved(kind: str, **more: Any) -> bytes:
    """The torus as a file, written by trimesh."""
    mesh = trimesh.Trimesh(VERTICES, FACES, process=False)
    content = mesh.export(file_type=kind, **more)
    assert isinstance(content, str | bytes)
    return content.encode() if isinstance(content, str) else content


FORMS: dict[str, Callable[[], bytes]] = {
    "binary stl": lambda: saved("stl"),
    "ascii stl": lambda: saved("stl_ascii"),
    "binary ply": lambda: saved("ply"),
    "ascii ply": lambda: saved("ply", encoding="ascii"),
}


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.source("trimesh wrote the file; area and volume of its own mesh")
def test_every_form_gives_the_same_surface(form: str) -> None:
    scan = scans.read(FORMS[form]())
    assert scan.faces.shape == FACES.shape
    assert len(scan.vertices) == len(VERTICES)
    ours = trimesh.Trimesh(scan.vertices, scan.faces, process=False)
    theirs = trimesh.Trimesh(VERTICES, FACES, process=False)
    assert ours.area == pytest.approx(theirs.area, rel=1e-5)
    assert scan.extents == pytest.approx(np.ptp(VERTICES, axis=0), rel=1e-5)


@pytest.mark.parametrize(("form", "media_type"), [
    ("binary stl", scans.STL), ("ascii stl", scans.STL), ("binary ply", scans.PLY),
])  # fmt: skip
def test_a_scan_is_a_file_that_can_be_kept(form: str, media_type: str) -> None:
    content = FORMS[form]()
    kept = contents.read(content)
    assert (kept.media_type, kept.content, kept.is_picture) == (media_type, content, False)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("share", [0.02, 0.5, 0.99])
def test_a_file_cut_off_is_refused(form: str, share: float) -> None:
    content = FORMS[form]()
    with pytest.raises(UnreadableScanError, match=r"whole STL|cut off|no triangles"):
        scans.read(content[: int(share * len(content))])


def binary_stl(corners: Any) -> bytes:
    """A binary STL of triangles (n, 3, 3)."""
    rows = [struct.pack("<12fH", 0, 0, 0, *np.ravel(triangle), 0) for triangle in corners]
    return bytes(80) + struct.pack("<I", len(rows)) + b"".join(rows)


PLY = (
    b"ply\nformat ascii 1.0\n%selement vertex %d\nproperty float x\nproperty float y\n"
    b"property float z\nelement face %d\nproperty list uchar int vertex_indices\nend_header\n"
)
BROKEN = {
    "empty": b"",
    "a note": b"the port is 40 mm wide",
    "nan": binary_stl([[[0, 0, 0], [1, 0, 0], [0, float("nan"), 0]]]),
    "infinity": binary_stl([[[0, 0, 0], [1, 0, 0], [0, float("inf"), 0]]]),
    "points": PLY % (b"", 3, 0) + b"0 0 0\n1 0 0\n0 1 0\n",
    "too few corners": PLY % (b"", 3, 1) + b"0 0 0\n1 0 0\n0 1 0\n3 0 1 7\n",
    "corner below 0": PLY % (b"", 3, 1) + b"0 0 0\n1 0 0\n0 1 0\n3 0 1 -2\n",
    "letters": PLY % (b"", 3, 1) + b"a b c\nd e f\ng h i\n3 0 1 2\n",
    "no header end": b"ply\nformat ascii 1.0\nelement vertex 3\n",
    "header claims billions": PLY % (b"", 3, 10**15) + b"0 0 0\n",
    "too many solids": b"solid a\nfacet\nendfacet\nendsolid a\n" * 60,
    "flat stl": b"solid a\n facet normal 0 0 1\n endfacet\nendsolid a\n",
    "too many triangles": bytes(80) + struct.pack("<I", 200_001) + bytes(50 * 200_001),
    "too large": b"solid a\nfacet\n" + b" " * (scans.LARGEST_SCAN + 1),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_scan_is_refused_with_words(name: str) -> None:
    with pytest.raises(UnreadableScanError, match=r"\w+: \w+"):
        scans.read(BROKEN[name])


def test_the_limits_are_said() -> None:
    with pytest.raises(UnreadableScanError, match="more than 200,000 triangles"):
        scans.read(BROKEN["too many triangles"])
    with pytest.raises(UnreadableScanError, match="larger than 20 MB"):
        scans.read(BROKEN["too large"])


def test_no_file_that_a_scan_names_is_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    """The header names a texture; the reader is given nothing to find it by."""
    opened: list[object] = []
    monkeypatch.setattr("PIL.Image.open", lambda *names, **_: opened.append(names))
    content = PLY % (b"comment TextureFile /etc/hostname\n", 3, 1)
    scan = scans.read(content + b"0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n")
    assert len(scan.faces) == 1
    assert opened == []


def test_triangles_without_area_and_doubles_are_left_out() -> None:
    triangle = [[0, 0, 0], [1, 0, 0], [0, 1, 0]]
    scan = scans.read(binary_stl([triangle, triangle, [[0, 0, 0], [0, 0, 0], [0, 1, 0]]]))
    assert len(scan.faces) == 1


@settings(max_examples=60)
@given(st.data())
def test_spoilt_files_are_read_or_refused_and_nothing_else(data: st.DataObject) -> None:
    content = bytearray(FORMS[data.draw(st.sampled_from(sorted(FORMS)))]())
    for _ in range(data.draw(st.integers(1, 6))):
        place = data.draw(st.integers(0, len(content) - 1))
        content[place] = data.draw(st.integers(0, 255))
    try:
        scan = scans.read(bytes(content))
    except UnreadableScanError:
        return
    assert np.isfinite(scan.vertices).all()
    assert scan.faces.max() < len(scan.vertices)
    assert io.BytesIO(content).getvalue()
