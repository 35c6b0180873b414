"""The shop's papers: plain data in, PDF bytes out."""

from shopflow.papers.attached import attached_files
from shopflow.papers.flow_certificate import flow_certificate
from shopflow.papers.hand_off import hand_off
from shopflow.papers.work_order import work_order

__all__ = ["attached_files", "flow_certificate", "hand_off", "work_order"]
