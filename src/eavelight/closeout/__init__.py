"""Documents handed over: the closeout as page and as PDF, from one plain document.

`closeout_document` makes the document from a visit; `closeout_html` and `closeout_pdf`
render the same content. Sections and blocks are plain data, so that another sheet is
another function that fills them.
"""

from eavelight.closeout.build import closeout_document
from eavelight.closeout.customer import CustomerSheet, customer_sheet
from eavelight.closeout.customer_page import customer_html, customer_pdf
from eavelight.closeout.document import Document
from eavelight.closeout.features import REPORT_FEATURES, ReportFeature
from eavelight.closeout.html import closeout_html
from eavelight.closeout.material import FoundEvent, Material, Signature
from eavelight.closeout.pdf import closeout_pdf

__all__ = [
    "REPORT_FEATURES",
    "CustomerSheet",
    "Document",
    "FoundEvent",
    "Material",
    "ReportFeature",
    "Signature",
    "closeout_document",
    "closeout_html",
    "closeout_pdf",
    "customer_html",
    "customer_pdf",
    "customer_sheet",
]
