"""The answers of the programming interface: plain data, each field with its meaning.

The description that programs read is made from these: see `schema`.
"""

from shopflow.web.api.shapes.cam import Cam
from shopflow.web.api.shapes.certificate import Certificate
from shopflow.web.api.shapes.customer import Contact, Customer
from shopflow.web.api.shapes.floor import Floor, FloorHead
from shopflow.web.api.shapes.flow_test import Session, SessionSummary
from shopflow.web.api.shapes.head import Engine, Head
from shopflow.web.api.shapes.integrity_test import IntegrityTest
from shopflow.web.api.shapes.job import Job, Money, Operation, Stay
from shopflow.web.api.shapes.measurement import Measurement
from shopflow.web.api.shapes.quantity import Quantity
from shopflow.web.api.shapes.seat_profile import SeatCut, SeatProfile
from shopflow.web.api.shapes.spring import Spring, SpringPoint

__all__ = [
    "Cam",
    "Certificate",
    "Contact",
    "Customer",
    "Engine",
    "Floor",
    "FloorHead",
    "Head",
    "IntegrityTest",
    "Job",
    "Measurement",
    "Money",
    "Operation",
    "Quantity",
    "SeatCut",
    "SeatProfile",
    "Session",
    "SessionSummary",
    "Spring",
    "SpringPoint",
    "Stay",
]
