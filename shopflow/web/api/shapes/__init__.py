"""The answers of the programming interface: plain data, each field with its meaning.

The description that programs read is made from these: see `schema`.
"""

from shopflow.web.api.shapes.bench import BenchDay, Fixture, LeakCheck, PlateCheck
from shopflow.web.api.shapes.cam import Cam
from shopflow.web.api.shapes.certificate import Certificate
from shopflow.web.api.shapes.change import Change, Changes
from shopflow.web.api.shapes.customer import Contact, Customer
from shopflow.web.api.shapes.floor import Floor, FloorHead
from shopflow.web.api.shapes.flow_test import Session, SessionSummary
from shopflow.web.api.shapes.head import Engine, Head
from shopflow.web.api.shapes.integrity_test import IntegrityTest
from shopflow.web.api.shapes.job import Job, Operation, Stay
from shopflow.web.api.shapes.measurement import Measurement
from shopflow.web.api.shapes.money import Invoice, JobBalance, LedgerEntry, Money, Payment, Quote
from shopflow.web.api.shapes.quantity import Quantity
from shopflow.web.api.shapes.reading import (
    Bench,
    Channel,
    LiftRow,
    NewReading,
    OpenTest,
    Reading,
)
from shopflow.web.api.shapes.seat_profile import SeatCut, SeatProfile
from shopflow.web.api.shapes.spring import Spring, SpringPoint
from shopflow.web.api.shapes.velocity_map import VelocityMap
from shopflow.web.api.shapes.written import File, NewFlowTest, NewMeasurement, Notes

__all__ = [
    "Bench",
    "BenchDay",
    "Cam",
    "Certificate",
    "Change",
    "Changes",
    "Channel",
    "Contact",
    "Customer",
    "Engine",
    "File",
    "Fixture",
    "Floor",
    "FloorHead",
    "Head",
    "IntegrityTest",
    "Invoice",
    "Job",
    "JobBalance",
    "LeakCheck",
    "LedgerEntry",
    "LiftRow",
    "Measurement",
    "Money",
    "NewFlowTest",
    "NewMeasurement",
    "NewReading",
    "Notes",
    "OpenTest",
    "Operation",
    "Payment",
    "PlateCheck",
    "Quantity",
    "Quote",
    "Reading",
    "SeatCut",
    "SeatProfile",
    "Session",
    "SessionSummary",
    "Spring",
    "SpringPoint",
    "Stay",
    "VelocityMap",
]
