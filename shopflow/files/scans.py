"""Scans of ports: STL and PLY files read into triangles, whatever the bytes hold.

Only trimesh's own readers of the two formats see a file, and only once its size and its count of
triangles are within limits. Textures, materials and other files it names are never looked for.
"""

from __future__ import annotations

import io
import re
import struct
import warnings
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.errors import ShopflowError
from shopflow.texts import gettext

LARGEST_SCAN = 20 * 1024 * 1024
"""Bytes; a binary STL of the most triangles has half of it."""

MOST_TRIANGLES = 200_000
MOST_SOLIDS = 50
FARTHEST = 1e7
"""Coordinate beyond which there is no scan in mm or inches, and no number either."""

STL, PLY = "model/stl", "model/ply"
"""Media types of scans; that of PLY is not registered with IANA."""

_STL_HEADER, _STL_TRIANGLE = 84, 50
_PLY_HEADER_END = 64 * 1024
_PLY_COUNT = re.compile(rb"^element[ \t]+(\w+)[ \t]+([0-9]{1,18})[ \t]*\r?$", re.MULTILINE)


class UnreadableScanError(ShopflowError):
    """A scan cannot be used; the words say why and what to do."""


@dataclass(frozen=True)
class Scan:
    """Triangles of a scan in its own unit, each corner once."""

    vertices: NDArray[np.float64]
    """(n, 3)"""

    faces: NDArray[np.intp]
    """(m, 3) indices of vertices"""

    @property
    def extents(self) -> tuple[float, float, float]:
        """Greatest extents along x, y and z."""
        x, y, z = np.ptp(self.vertices, axis=0).tolist()
        return x, y, z


def media_type(content: bytes) -> str:
    """Media type of a scan by its bytes; empty where they are of no scan.

    >>> media_type(b"solid port\\n facet normal 0 0 1\\n"), media_type(b"a note")
    ('model/stl', '')
    """
    if re.match(rb"ply\r?\n", content):
        return PLY
    start = content[:2048].lstrip().lower()
    is_text = start.startswith(b"solid") and b"facet" in start
    return STL if is_text or _is_binary_stl(content) else ""


def read(content: bytes) -> Scan:
    """The triangles of an STL or PLY file. Raises UnreadableScanError."""
    kind = media_type(content)
    _check_size(content, kind)
    try:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            return _joined(_parsed(content, kind))
    except UnreadableScanError:
        raise
    except Exception:
        # The readers meet broken files with errors of every kind; none may reach the page.
        raise _damaged() from None


def _damaged() -> UnreadableScanError:
    return UnreadableScanError(
        gettext("is damaged or was cut off: save the scan again as binary STL and send that")
    )


def _is_binary_stl(content: bytes) -> bool:
    if len(content) < _STL_HEADER + _STL_TRIANGLE:
        return False
    (count,) = struct.unpack_from("<I", content, _STL_HEADER - 4)
    return len(content) == _STL_HEADER + int(count) * _STL_TRIANGLE


def _check_size(content: bytes, kind: str) -> None:
    """Refuse what is no scan, or too large to be read."""
    if not content:
        raise UnreadableScanError(gettext("is empty, or was cut off on its way: send it again"))
    if len(content) > LARGEST_SCAN:
        raise UnreadableScanError(
            gettext(
                "is larger than {most} MB: reduce the scan, or cut away what is not the port",
                most=LARGEST_SCAN // 2**20,
            )
        )
    if not kind:
        raise UnreadableScanError(
            gettext(
                "is not a whole STL or PLY file: choose the scan itself, and save it again if it "
                "was cut off"
            )
        )
    triangles, solids = _counts(content, kind)
    if triangles > MOST_TRIANGLES or solids > MOST_SOLIDS:
        most = f"{MOST_TRIANGLES:,}"
        raise UnreadableScanError(
            gettext(
                "has more than {most} triangles: reduce the scan, or cut away what is not the port",
                most=most,
            )
        )


def _counts(content: bytes, kind: str) -> tuple[int, int]:
    """Triangles and solids that a file claims to hold."""
    if kind == PLY:
        claimed = _claimed(content)
        # A surface has about half as many corners as triangles; apart, three times as many.
        return max(claimed["vertex"] // 3, claimed["face"]), 1
    if _is_binary_stl(content):
        return (len(content) - _STL_HEADER) // _STL_TRIANGLE, 1
    text = content.lower()
    return text.count(b"endfacet"), text.count(b"endsolid")


def _claimed(content: bytes) -> Counter[str]:
    """Counts of elements that the header of a PLY file claims, by name."""
    end = content.find(b"end_header", 0, _PLY_HEADER_END)
    counts = _PLY_COUNT.findall(content[: max(end, 0)])
    return Counter({name.decode(): int(count) for name, count in counts})


def _parsed(content: bytes, kind: str) -> list[Mapping[str, Any]]:
    """Solids of a file as trimesh's reader gives them. Raises any error for a broken one."""
    # Here, since trimesh takes a second to load and few pages need it.
    from trimesh.exchange.ply import load_ply
    from trimesh.exchange.stl import load_stl_ascii, load_stl_binary

    file = io.BytesIO(content)
    if kind == PLY:
        part = load_ply(file, resolver=None, fix_texture=False, skip_materials=True)
        claimed = _claimed(content)
        if len(part["vertices"]) < claimed["vertex"] or len(part["faces"]) < claimed["face"]:
            raise _damaged()
        return [part]
    if _is_binary_stl(content):
        return [load_stl_binary(file)]
    if b"endsolid" not in content.lower():
        raise _damaged()
    loaded: dict[str, Any] = load_stl_ascii(file)
    return list(loaded["geometry"].values()) if "geometry" in loaded else [loaded]


def _joined(parts: list[Mapping[str, Any]]) -> Scan:
    """All solids as one surface, its corners merged and its flat triangles left out."""
    from trimesh import Trimesh

    parts = [part for part in parts if len(part.get("faces", ()))]
    if not parts:
        raise UnreadableScanError(
            gettext("has no triangles: save the scan as a surface, not as points")
        )
    counts = np.cumsum([0, *(len(part["vertices"]) for part in parts)])
    vertices = np.concatenate([np.asarray(part["vertices"], dtype=float) for part in parts])
    faces = np.concatenate(
        [
            np.asarray(part["faces"], dtype=np.intp) + first
            for part, first in zip(parts, counts[:-1], strict=True)
        ]
    )
    if not (np.abs(vertices) < FARTHEST).all():
        raise UnreadableScanError(
            gettext("has coordinates that are not numbers: repair the scan and save it again")
        )
    if faces.min() < 0 or faces.max() >= len(vertices):
        raise _damaged()
    mesh = Trimesh(vertices, faces, process=False)
    mesh.merge_vertices()
    return Scan(np.asarray(mesh.vertices, dtype=float), _distinct(np.asarray(mesh.faces)))


def _distinct(faces: NDArray[np.intp]) -> NDArray[np.intp]:
    """Triangles of three different corners, each once."""
    ordered = np.sort(faces, axis=1)
    real = (ordered[:, 0] != ordered[:, 1]) & (ordered[:, 1] != ordered[:, 2])
    _, first = np.unique(ordered[real], axis=0, return_index=True)
    return np.asarray(faces[real][np.sort(first)], dtype=np.intp)
