"""Finishing a paper's file: what it says of itself, and the files inside it.

A finished paper follows PDF/A-3, level A (ISO 19005-3), and PDF/UA-1 (ISO 14289-1): it can be
read in thirty years, and by those who cannot see it.
"""

from __future__ import annotations

import io
import re
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from xml.sax.saxutils import escape

import pikepdf
from PIL import ImageCms

from shopflow import fonts
from shopflow.texts import language

PRODUCER = "shopflow"


@dataclass(frozen=True)
class Attachment:
    """A text file that goes inside the PDF."""

    name: str
    text: str
    description: str
    mime_type: str = "application/toml"
    relationship: str = "Source"
    """Of the paper to the file: "Source" it is made from, or "Data" that it shows."""


@dataclass(frozen=True)
class Description:
    """Statement of a file about itself."""

    title: str
    author: str
    made_at: datetime
    subject: str = ""
    keywords: str = ""
    language: str = ""
    """As "en_US"; that of its texts where empty."""

    @property
    def entries(self) -> dict[str, str]:
        """The entries of the document information, without its dates."""
        entries = {
            "Title": self.title, "Author": self.author, "Subject": self.subject or self.title,
            "Keywords": self.keywords or self.title, "Producer": PRODUCER,
        }  # fmt: skip
        return {name: fonts.printable(text) for name, text in entries.items()}


def described(
    content: bytes, description: Description, attachments: Iterable[Attachment] = ()
) -> bytes:
    """A PDF of `TaggedCanvas` with its own description set and files attached; the same input, the
    same bytes."""
    moment = description.made_at.astimezone(UTC)
    stamp = moment.strftime("D:%Y%m%d%H%M%SZ")
    spoken = (description.language or language()).replace("_", "-")
    with pikepdf.open(io.BytesIO(content)) as pdf:
        dated = description.entries | {"CreationDate": stamp, "ModDate": stamp}
        pdf.docinfo = pdf.make_indirect(
            pikepdf.Dictionary({f"/{name}": text for name, text in dated.items()})
        )
        # Letters that read as nothing are against both standards.
        follows = pdf.Root.MarkInfo.get("/Suspects") is None
        xmp = _xmp(description.entries, moment, spoken, follows=follows)
        pdf.Root.Metadata = pikepdf.Stream(
            pdf, xmp, Type=pikepdf.Name.Metadata, Subtype=pikepdf.Name.XML
        )
        pdf.Root.Lang = pikepdf.String(spoken)
        pdf.Root.ViewerPreferences = pikepdf.Dictionary(DisplayDocTitle=True)
        pdf.Root.OutputIntents = pikepdf.Array([_output_intent(pdf)])
        _finish_pages(pdf)
        _attach(pdf, attachments, stamp)
        out = io.BytesIO()
        pdf.save(
            out,
            deterministic_id=True,
            min_version="1.7",
            object_stream_mode=pikepdf.ObjectStreamMode.generate,
            fix_metadata_version=False,
        )
    return out.getvalue()


def _finish_pages(pdf: pikepdf.Pdf) -> None:
    """Bind each page to the structure, and let every letter say what it reads."""
    for number, page in enumerate(pdf.pages):
        page.obj.StructParents = number
        page.obj.Tabs = pikepdf.Name.S
        if "/Trans" in page.obj:
            del page.obj.Trans
    for font in _fonts(pdf):
        font.ToUnicode.write(_letters(font.ToUnicode.read_bytes()))


def _fonts(pdf: pikepdf.Pdf) -> Iterator[pikepdf.Object]:
    """The typefaces of a file, which all its pages share."""
    for _, font in pdf.pages[0].obj.Resources.Font.items():
        if "/ToUnicode" in font:
            yield font


def _letters(mapping: bytes) -> bytes:
    """A font's map to letters as ISO 32000-1, 9.10.3 has it: none that reads as nothing, at most a
    hundred in a block, those beyond the first plane as pairs."""
    head, rest = re.split(rb"\d+ beginbfchar\n", mapping, maxsplit=1)
    body, end = rest.split(b"endbfchar\n")
    lines = [
        f"<{code}> <{chr(letter).encode('utf-16-be').hex().upper()}>\n"
        for code, letter in ((pair[0], int(pair[1], 16)) for pair in _PAIR.findall(body.decode()))
        if letter
    ]
    blocks = [lines[start : start + 100] for start in range(0, len(lines), 100)]
    written = "".join(f"{len(block)} beginbfchar\n{''.join(block)}endbfchar\n" for block in blocks)
    return re.sub(rb"<00> <..>", b"<00> <FF>", head) + written.encode() + end


_PAIR = re.compile(r"<([0-9A-F]+)> <([0-9A-F]+)>")


def _output_intent(pdf: pikepdf.Pdf) -> pikepdf.Object:
    """The colours meant: sRGB."""
    profile = pikepdf.Stream(pdf, _srgb(), N=3)
    return pdf.make_indirect(
        pikepdf.Dictionary(
            Type=pikepdf.Name.OutputIntent,
            S=pikepdf.Name.GTS_PDFA1,
            OutputConditionIdentifier="sRGB",
            Info="sRGB IEC61966-2.1",
            DestOutputProfile=profile,
        )
    )


@cache
def _srgb() -> bytes:
    """An ICC profile of sRGB, with the date of the standard as its own."""
    profile = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    # ICC.1, 7.2.8: year, month, day, hour, minute, second.
    profile[24:36] = b"".join(part.to_bytes(2, "big") for part in (1999, 10, 18, 0, 0, 0))
    return bytes(profile)


def _attach(pdf: pikepdf.Pdf, attachments: Iterable[Attachment], stamp: str) -> None:
    """Put files inside, each named for what it is to the paper (ISO 19005-3, annex E)."""
    specifications = []
    for attachment in attachments:
        pdf.attachments[attachment.name] = file = _attached(pdf, attachment, stamp)
        specifications.append(file.obj)
    if specifications:
        pdf.Root.AF = pikepdf.Array(specifications)


def _attached(pdf: pikepdf.Pdf, attachment: Attachment, stamp: str) -> pikepdf.AttachedFileSpec:
    content = attachment.text.encode()
    attached = pikepdf.AttachedFileSpec(
        pdf,
        content,
        filename=attachment.name,
        description=attachment.description,
        mime_type=attachment.mime_type,
        creation_date=stamp,
        mod_date=stamp,
        relationship=pikepdf.Name(f"/{attachment.relationship}"),
    )
    packed = zlib.compress(content)
    attached.get_file().obj.write(packed, filter=pikepdf.Name.FlateDecode)
    return attached


def _xmp(entries: dict[str, str], moment: datetime, spoken: str, *, follows: bool) -> bytes:
    """The same description as XMP (ISO 16684-1), which catalogues and archives read."""
    escaped = {name: escape(text) for name, text in entries.items()}
    at = moment.isoformat()
    return f"""<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/"
 xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:pdf="http://ns.adobe.com/pdf/1.3/">
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{escaped["Title"]}</rdf:li></rdf:Alt></dc:title>
<dc:creator><rdf:Seq><rdf:li>{escaped["Author"]}</rdf:li></rdf:Seq></dc:creator>
<dc:description><rdf:Alt><rdf:li xml:lang="x-default">{escaped["Subject"]}</rdf:li></rdf:Alt>\
</dc:description>
<dc:language><rdf:Bag><rdf:li>{spoken}</rdf:li></rdf:Bag></dc:language>
<dc:date><rdf:Seq><rdf:li>{at}</rdf:li></rdf:Seq></dc:date>
<xmp:CreateDate>{at}</xmp:CreateDate>
<xmp:ModifyDate>{at}</xmp:ModifyDate>
<pdf:Producer>{escaped["Producer"]}</pdf:Producer>
<pdf:Keywords>{escaped["Keywords"]}</pdf:Keywords>
</rdf:Description>
{_STANDARDS if follows else ""}</rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>
""".encode()


_STANDARDS = """<rdf:Description rdf:about="" xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/"
 xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/">
<pdfaid:part>3</pdfaid:part>
<pdfaid:conformance>A</pdfaid:conformance>
<pdfuaid:part>1</pdfuaid:part>
</rdf:Description>
<rdf:Description rdf:about="" xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"
 xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#"
 xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>PDF/UA identification schema</pdfaSchema:schema>
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
<pdfaProperty:name>part</pdfaProperty:name>
<pdfaProperty:valueType>Integer</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>Part of ISO 14289 that the file follows</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property>
</rdf:li></rdf:Bag></pdfaExtension:schemas>
</rdf:Description>
"""
"""The claims to both standards; PDF/A has its schema of the other described (6.6.2.3)."""
