"""The invoice as EN 16931 inside its PDF: a hybrid as Factur-X 1.0 and ZUGFeRD 2.x have it."""

from __future__ import annotations

from shopflow.documents.e_invoice import FILE
from shopflow.documents.invoice import Invoice
from shopflow.e_invoice import xml_of
from shopflow.papers.description import Attachment, Declared
from shopflow.texts import gettext


def attached(content: Invoice) -> list[Attachment]:
    """The file to go inside; none for a preview, or where invoices carry none."""
    if content.electronic is None or content.preview:
        return []
    return [
        Attachment(
            FILE,
            xml_of(content, content.electronic),
            gettext("This document as EN 16931, for programs"),
            "text/xml",
            "Alternative",
            Declared(_SCHEMA, _PROPERTIES),
        )
    ]


def _property(name: str, words: str) -> str:
    return f"""<rdf:li rdf:parseType="Resource">
<pdfaProperty:name>{name}</pdfaProperty:name>
<pdfaProperty:valueType>Text</pdfaProperty:valueType>
<pdfaProperty:category>external</pdfaProperty:category>
<pdfaProperty:description>{words}</pdfaProperty:description>
</rdf:li>
"""


_SPACE = "urn:factur-x:pdfa:CrossIndustryDocument:invoice:1p0#"
_NAMES = {
    "DocumentFileName": "Name of the embedded file",
    "DocumentType": "Type of the document",
    "Version": "Version of the standard of the embedded file",
    "ConformanceLevel": "Profile of the embedded file",
}
_SCHEMA = f"""<rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>Factur-X PDFA Extension Schema</pdfaSchema:schema>
<pdfaSchema:namespaceURI>{_SPACE}</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>fx</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq>{"".join(_property(*row) for row in _NAMES.items())}</rdf:Seq>\
</pdfaSchema:property>
</rdf:li>"""
_PROPERTIES = f"""<rdf:Description rdf:about="" xmlns:fx="{_SPACE}">
<fx:DocumentType>INVOICE</fx:DocumentType>
<fx:DocumentFileName>{FILE}</fx:DocumentFileName>
<fx:Version>1.0</fx:Version>
<fx:ConformanceLevel>EN 16931</fx:ConformanceLevel>
</rdf:Description>
"""
