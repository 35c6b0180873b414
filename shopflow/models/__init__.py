"""The relational model, one module per noun."""

from shopflow.models.base import Base
from shopflow.models.bench import Bench, BenchCheck, BenchRange, Calibration, ReadingKind
from shopflow.models.certificate import Certificate, CertificateSession
from shopflow.models.certificate_draft import Baseline, CertificateDraft, DraftSession, DraftState
from shopflow.models.collection import Collection, HandedOver
from shopflow.models.customer import Contact, Customer
from shopflow.models.engine import Cooling, EngineAlias, EngineType
from shopflow.models.event import Event
from shopflow.models.file import JobFile
from shopflow.models.handoff import EngineSetUp, HandOffFigure, HandOffNote, ValveSetUp
from shopflow.models.head import Head, HeadOwner
from shopflow.models.house_style import HouseStyle
from shopflow.models.invoice import Invoice, InvoiceKind, InvoiceLine
from shopflow.models.job import (
    CLOSED_STATES,
    Induction,
    Job,
    JobHead,
    JobState,
    Purpose,
)
from shopflow.models.link import CustomerLink
from shopflow.models.mail import MailServer, MailState, OutgoingMail
from shopflow.models.measurement import Datum, Measurement, MeasurementKind, Verdict, When
from shopflow.models.opentest import OpenTest
from shopflow.models.operation import (
    Operation,
    OperationKind,
    OperationState,
    Routing,
    RoutingStep,
)
from shopflow.models.payment import Payment
from shopflow.models.person import Person, Role, SignInAttempt
from shopflow.models.quote import Quote, QuoteLine
from shopflow.models.received import ReceivedPart
from shopflow.models.session import BenchSession, Reading, SessionLift
from shopflow.models.shop import Counter, Shop
from shopflow.models.warranty import Bearer, WarrantyReturn

__all__ = [
    "CLOSED_STATES",
    "Base",
    "Baseline",
    "Bearer",
    "Bench",
    "BenchCheck",
    "BenchRange",
    "BenchSession",
    "Calibration",
    "Certificate",
    "CertificateDraft",
    "CertificateSession",
    "Collection",
    "Contact",
    "Cooling",
    "Counter",
    "Customer",
    "CustomerLink",
    "Datum",
    "DraftSession",
    "DraftState",
    "EngineAlias",
    "EngineSetUp",
    "EngineType",
    "Event",
    "HandOffFigure",
    "HandOffNote",
    "HandedOver",
    "Head",
    "HeadOwner",
    "HouseStyle",
    "Induction",
    "Invoice",
    "InvoiceKind",
    "InvoiceLine",
    "Job",
    "JobFile",
    "JobHead",
    "JobState",
    "MailServer",
    "MailState",
    "Measurement",
    "MeasurementKind",
    "OpenTest",
    "Operation",
    "OperationKind",
    "OperationState",
    "OutgoingMail",
    "Payment",
    "Person",
    "Purpose",
    "Quote",
    "QuoteLine",
    "Reading",
    "ReadingKind",
    "ReceivedPart",
    "Role",
    "Routing",
    "RoutingStep",
    "SessionLift",
    "Shop",
    "SignInAttempt",
    "ValveSetUp",
    "Verdict",
    "WarrantyReturn",
    "When",
]
