"""Finishing a paper's file: what it says of itself, and the files inside it."""

from __future__ import annotations

import io
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from xml.sax.saxutils import escape

import pikepdf

from shopflow import fonts

PRODUCER = "shopflow"
LANGUAGE = "en"


@dataclass(frozen=True)
class Attachment:
    """A text file that goes inside the PDF."""

    name: str
    text: str


def described(
    content: bytes,
    title: str,
    author: str,
    made_at: datetime,
    subject: str = "",
    keywords: str = "",
    attachments: Iterable[Attachment] = (),
) -> bytes:
    """A PDF with its own description set and files attached; the same input, the same bytes."""
    entries = {
        "Title": title, "Author": author, "Subject": subject or title,
        "Keywords": keywords or title, "Producer": PRODUCER,
    }  # fmt: skip
    entries = {name: fonts.printable(text) for name, text in entries.items()}
    moment = made_at.astimezone(UTC)
    stamp = moment.strftime("D:%Y%m%d%H%M%SZ")
    with pikepdf.open(io.BytesIO(content)) as pdf:
        dated = entries | {"CreationDate": stamp, "ModDate": stamp}
        pdf.docinfo = pdf.make_indirect(
            pikepdf.Dictionary({f"/{name}": text for name, text in dated.items()})
        )
        pdf.Root.Metadata = pikepdf.Stream(
            pdf, _xmp(entries, moment), Type=pikepdf.Name.Metadata, Subtype=pikepdf.Name.XML
        )
        pdf.Root.Lang = pikepdf.String(LANGUAGE)
        pdf.Root.ViewerPreferences = pikepdf.Dictionary(DisplayDocTitle=True)
        for attachment in attachments:
            pdf.attachments[attachment.name] = _attached(pdf, attachment, stamp)
        out = io.BytesIO()
        # All that is long is packed already; packing it anew would take longer than the rest.
        pdf.save(out, deterministic_id=True, compress_streams=False, fix_metadata_version=False)
    return out.getvalue()


def _attached(pdf: pikepdf.Pdf, attachment: Attachment, stamp: str) -> pikepdf.AttachedFileSpec:
    content = attachment.text.encode()
    attached = pikepdf.AttachedFileSpec(
        pdf,
        content,
        filename=attachment.name,
        mime_type="application/toml",
        creation_date=stamp,
        mod_date=stamp,
    )
    packed = zlib.compress(content)
    attached.get_file().obj.write(packed, filter=pikepdf.Name.FlateDecode)
    return attached


def _xmp(entries: dict[str, str], moment: datetime) -> bytes:
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
<dc:language><rdf:Bag><rdf:li>{LANGUAGE}</rdf:li></rdf:Bag></dc:language>
<dc:date><rdf:Seq><rdf:li>{at}</rdf:li></rdf:Seq></dc:date>
<xmp:CreateDate>{at}</xmp:CreateDate>
<xmp:ModifyDate>{at}</xmp:ModifyDate>
<pdf:Producer>{escaped["Producer"]}</pdf:Producer>
<pdf:Keywords>{escaped["Keywords"]}</pdf:Keywords>
</rdf:Description>
</rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>
""".encode()
