"""The field of a PDF that its signature goes into, as a part of the paper's structure.

A field that the signing library makes would stand outside it, against PDF/UA-1 (ISO 14289-1, 7.18).
"""

from __future__ import annotations

import io
from typing import Any

import pikepdf
from pikepdf import Array, Dictionary, Name

PRINTED_AND_LOCKED = 4 + 128
"""ISO 32000-1, 12.5.3."""


def with_field(pdf: bytes, name: str, tooltip: str) -> bytes:
    """A tagged PDF with an empty field that shows nothing; the same input, the same bytes.

    Raises PdfError where it cannot be read.
    """
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        page = opened.pages[0].obj
        field = opened.make_indirect(
            Dictionary(
                Type=Name.Annot, Subtype=Name.Widget, FT=Name.Sig, T=name, TU=tooltip,
                Rect=[0, 0, 0, 0], F=PRINTED_AND_LOCKED, P=page,
            )
        )  # fmt: skip
        page.Annots = Array([field])
        opened.Root.AcroForm = opened.make_indirect(Dictionary(Fields=[field], SigFlags=3))
        if "/StructTreeRoot" in opened.Root:
            _put_into_structure(opened, field, page)
        out = io.BytesIO()
        opened.save(
            out,
            deterministic_id=True,
            object_stream_mode=pikepdf.ObjectStreamMode.preserve,
            fix_metadata_version=False,
        )
    return out.getvalue()


def _put_into_structure(pdf: pikepdf.Pdf, field: Any, page: Any) -> None:
    """Make the field the last element of the paper."""
    root = pdf.Root.StructTreeRoot
    document = root.K
    key = int(root.ParentTreeNextKey)
    held = Dictionary(Type=Name.OBJR, Obj=field, Pg=page)
    element = pdf.make_indirect(Dictionary(Type=Name.StructElem, S=Name.Form, P=document, K=held))
    document.K.append(element)
    root.ParentTree.Nums.append(key)
    root.ParentTree.Nums.append(element)
    root.ParentTreeNextKey = key + 1
    field.StructParent = key
