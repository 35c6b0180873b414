"""The description of a paper in its own file, and the files inside it.

A paper follows PDF/A-3, level A (ISO 19005-3), and PDF/UA-1 (ISO 14289-1): it can be read in thirty
years, and by those who cannot see it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from xml.sax.saxutils import escape

from PIL import ImageCms

from shopflow import fonts
from shopflow.papers.pdf_file import PdfFile, text_string
from shopflow.texts import language

PRODUCER = "shopflow"


@dataclass(frozen=True)
class Declared:
    """Statements about a file inside, in the paper's own metadata (XMP)."""

    schema: str
    """The item that describes their names in the extension schemas of PDF/A."""

    properties: str


@dataclass(frozen=True)
class Attachment:
    """A text file that goes inside the PDF."""

    name: str
    text: str
    description: str
    mime_type: str = "application/toml"
    relationship: str = "Source"
    """Of the paper to the file: "Source" it is made from, "Data" that it shows, or "Alternative" to
    itself."""

    declared: Declared | None = None


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

    attachments: Sequence[Attachment] = ()

    @property
    def tag(self) -> str:
        """Its language as RFC 3066 has it."""
        return (self.language or language()).replace("_", "-")

    @property
    def entries(self) -> dict[str, str]:
        """The entries of the document information, without its dates."""
        entries = {
            "Title": self.title, "Author": self.author, "Subject": self.subject or self.title,
            "Keywords": self.keywords or self.title, "Producer": PRODUCER,
        }  # fmt: skip
        return {name: fonts.printable(text) for name, text in entries.items()}


def write_description(file: PdfFile, description: Description, *, follows: bool) -> tuple[str, int]:
    """Put a description and the attachments into a file: the catalog's entries for them, and the
    number of the document information.

    Where the file does not follow the standards it does not claim to.
    """
    moment = description.made_at.astimezone(UTC)
    stamp = moment.strftime("D:%Y%m%d%H%M%SZ")
    xmp = _xmp(description, moment, follows=follows)
    metadata = file.add_stream("/Type/Metadata/Subtype/XML", xmp, plain=True)
    profile = file.add_stream("/N 3", _srgb())
    dated = description.entries | {"CreationDate": stamp, "ModDate": stamp}
    info = file.add(f"<<{''.join(f'/{name}{text_string(text)}' for name, text in dated.items())}>>")
    entries = (
        f"/Metadata {metadata} 0 R/Lang{text_string(description.tag)}"
        "/ViewerPreferences<</DisplayDocTitle true>>"
        "/OutputIntents[<</Type/OutputIntent/S/GTS_PDFA1/OutputConditionIdentifier(sRGB)"
        f"/Info(sRGB IEC61966-2.1)/DestOutputProfile {profile} 0 R>>]"
    )
    return entries + _attached(file, description.attachments, stamp), info


@cache
def _srgb() -> bytes:
    """An ICC profile of sRGB, with the date of the standard as its own."""
    profile = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    # ICC.1, 7.2.8: year, month, day, hour, minute, second.
    profile[24:36] = b"".join(part.to_bytes(2, "big") for part in (1999, 10, 18, 0, 0, 0))
    return bytes(profile)


def _attached(file: PdfFile, attachments: Sequence[Attachment], stamp: str) -> str:
    """Put files inside, each named for what it is to the paper (ISO 19005-3, annex E); the entries
    of the catalog."""
    if not attachments:
        return ""
    numbers = {item.name: _specified(file, item, stamp) for item in attachments}
    listed = "".join(f"{number} 0 R " for number in numbers.values())
    # A name tree is sorted by the bytes of its keys (ISO 32000-1, 7.9.6).
    names = sorted(numbers, key=lambda name: name.encode("utf-16-be"))
    named = "".join(f"{text_string(name)} {numbers[name]} 0 R " for name in names)
    return f"/AF[{listed}]/Names<</EmbeddedFiles<</Names[{named}]>>>>"


def _specified(file: PdfFile, attachment: Attachment, stamp: str) -> int:
    content = attachment.text.encode()
    digest = hashlib.md5(content, usedforsecurity=False).hexdigest()
    kind = attachment.mime_type.replace("/", "#2F")
    held = file.add_stream(
        f"/Type/EmbeddedFile/Subtype/{kind}/Params<</Size {len(content)}/CheckSum<{digest}>"
        f"/CreationDate({stamp})/ModDate({stamp})>>",
        content,
    )
    name = text_string(attachment.name)
    return file.add(
        f"<</Type/Filespec/F{name}/UF{name}/Desc{text_string(attachment.description)}"
        f"/AFRelationship/{attachment.relationship}/EF<</F {held} 0 R/UF {held} 0 R>>>>"
    )


def _xmp(description: Description, moment: datetime, *, follows: bool) -> bytes:
    """The same description as XMP (ISO 16684-1), which catalogues and archives read."""
    escaped = {name: escape(text) for name, text in description.entries.items()}
    declared = [item.declared for item in description.attachments if item.declared]
    properties = "".join(item.properties for item in declared)
    standards = _standards("".join(item.schema for item in declared)) if follows else ""
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
<dc:language><rdf:Bag><rdf:li>{description.tag}</rdf:li></rdf:Bag></dc:language>
<dc:date><rdf:Seq><rdf:li>{at}</rdf:li></rdf:Seq></dc:date>
<xmp:CreateDate>{at}</xmp:CreateDate>
<xmp:ModifyDate>{at}</xmp:ModifyDate>
<pdf:Producer>{escaped["Producer"]}</pdf:Producer>
<pdf:Keywords>{escaped["Keywords"]}</pdf:Keywords>
</rdf:Description>
{standards}{properties}</rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>
""".encode()


def _standards(schemas: str) -> str:
    """The claims to both standards; PDF/A has every schema beside its own described (6.6.2.3)."""
    return f"""<rdf:Description rdf:about="" xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/"
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
</rdf:li>{schemas}</rdf:Bag></pdfaExtension:schemas>
</rdf:Description>
"""
