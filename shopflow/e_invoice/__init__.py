"""An invoice as EN 16931 in the syntax of UN/CEFACT Cross Industry Invoice, profile EN 16931 of
Factur-X 1.0 (ZUGFeRD 2.x).

The file is built from the very data that the paper is drawn from, by drafthorse, which checks it
against the schema of the profile. An invoice of part of a job is a commercial invoice (380) as any
other: code 326 is not taken in every country. A deposit that an invoice settles is a line with a
quantity of -1, as on the paper, so that sums and tax are those of the ledger.
"""

from shopflow.e_invoice.building import xml_of

__all__ = ["xml_of"]
