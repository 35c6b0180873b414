"""The shop's papers: plain data in, PDF bytes out."""

from shopflow.papers.bench_card import bench_card
from shopflow.papers.collection import collection
from shopflow.papers.engine_type_report import engine_type_report
from shopflow.papers.flow_certificate import flow_certificate
from shopflow.papers.hand_off import hand_off
from shopflow.papers.inspection_report import inspection_report
from shopflow.papers.invoice import invoice
from shopflow.papers.purchase_order import purchase_order
from shopflow.papers.quote import quote
from shopflow.papers.receipt import receipt
from shopflow.papers.springs import spring_list
from shopflow.papers.statement import statement
from shopflow.papers.swirl import swirl_sheet
from shopflow.papers.tags import bin_labels, tags
from shopflow.papers.through_cam import through_cam
from shopflow.papers.velocity_map import velocity_map
from shopflow.papers.work_order import work_order

__all__ = [
    "bench_card",
    "bin_labels",
    "collection",
    "engine_type_report",
    "flow_certificate",
    "hand_off",
    "inspection_report",
    "invoice",
    "purchase_order",
    "quote",
    "receipt",
    "spring_list",
    "statement",
    "swirl_sheet",
    "tags",
    "through_cam",
    "velocity_map",
    "work_order",
]
