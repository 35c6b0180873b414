"""The relational model, one module per noun.

Some tables keep the name they were made with, where the class has a better one since: `job_head`
(Visit), `person` (User), `sign_in` (LoginSession), `wait` (Hold), `open_test` (TestDraft),
`event` (audit log). The names of tables are read outside this program, in whole exports, in
backups and in the rows of the audit log, which no migration may rewrite; a person never sees them.
"""

from shopflow.models.api_request import ApiRequest
from shopflow.models.api_token import ApiToken, Scope
from shopflow.models.approval import Approval, ApprovalLine
from shopflow.models.attachment import JobFile
from shopflow.models.audit_log import Event
from shopflow.models.base import Base
from shopflow.models.bench import (
    Bench,
    BenchCheck,
    BenchRange,
    Calibration,
    LeakTest,
    ReadingKind,
)
from shopflow.models.bench_day import BenchDay, LeakCheck, PlateExchange
from shopflow.models.bookkeeping import Bookkeeping, LedgerAccount, Reminder, ReminderStage
from shopflow.models.cam import Cam
from shopflow.models.capture import Capture
from shopflow.models.certificate import Certificate, CertificateSession
from shopflow.models.certificate_draft import Baseline, CertificateDraft, DraftSession, DraftState
from shopflow.models.collection import Collection, HandedOver
from shopflow.models.customer import Contact, Customer
from shopflow.models.customer_link import CustomerLink
from shopflow.models.decision import Choice, Decision
from shopflow.models.discarded_test import DiscardedTest
from shopflow.models.document_line import DocumentLine
from shopflow.models.engine_ranges import EngineRanges, Fuel
from shopflow.models.engine_result import EngineForecast, EngineResult, PowerAt, ResultKind
from shopflow.models.engine_type import Cooling, EngineAlias, EngineType
from shopflow.models.feed import CalendarFeed
from shopflow.models.fixture import Fixture, FixtureKind
from shopflow.models.forecast import GainCase, KeptForecast, steps_key
from shopflow.models.hand_off import EngineSetUp, HandOffFigure, HandOffNote, ValveSetUp
from shopflow.models.head import Head, HeadOwner, HeadStatus
from shopflow.models.hold import Hold, WaitFor
from shopflow.models.house_style import HouseStyle
from shopflow.models.idempotency_key import IdempotencyKey
from shopflow.models.integrity_limit import IntegrityLimit
from shopflow.models.integrity_test import (
    IntegrityKind,
    IntegrityPart,
    IntegrityTest,
    IntegrityVerdict,
)
from shopflow.models.invoice import Invoice, InvoiceKind, InvoiceLine
from shopflow.models.job import (
    CLOSED_STATES,
    OPEN_STATES,
    PORTED_STATES,
    CastingState,
    Induction,
    Job,
    JobState,
    Purpose,
    Visit,
)
from shopflow.models.job_line import DiscountOf, JobLine, LineKind, LineState
from shopflow.models.ledger import INVOICED, PAID, AccountRole, EntryKind, LedgerEntry, Posting
from shopflow.models.lift_list import LiftList
from shopflow.models.limit import EngineLimit
from shopflow.models.lookup_text import LookupText
from shopflow.models.mail import MailServer, MailState, OutgoingMail
from shopflow.models.measurement import Datum, Measurement, MeasurementKind, Verdict, When
from shopflow.models.name_stamp import NameStamp
from shopflow.models.opening_hours import OpeningHours
from shopflow.models.operation import (
    DROPPED_STEP_STATES,
    OPEN_STEP_STATES,
    Operation,
    OperationKind,
    OperationState,
    Routing,
    RoutingPart,
    RoutingStep,
)
from shopflow.models.part import MovementKind, Part, StockMovement, Supplier
from shopflow.models.part_need import OutsideWork, PartNeed
from shopflow.models.payment import Payment
from shopflow.models.person import LoginSession, Role, SignInAttempt, User
from shopflow.models.places import HeadPlace, HeadPlan, PlaceKind
from shopflow.models.price_entry import PriceEntry
from shopflow.models.purchase_order import OrderState, PurchaseOrder, PurchaseOrderLine
from shopflow.models.quote import Quote, QuoteLine
from shopflow.models.received_part import ReceivedPart
from shopflow.models.record_log import AnchorKind, RecordLogAnchor, RecordLogEntry, RecordLogHead
from shopflow.models.release import Release
from shopflow.models.seat_profile import SeatCut, SeatProfile
from shopflow.models.session import BenchSession, Reading, SessionLift
from shopflow.models.set_up_code import SetUpCode
from shopflow.models.set_up_confirmation import SetUpConfirmation
from shopflow.models.shop import Counter, Shop
from shopflow.models.spring import Spring, SpringPoint
from shopflow.models.swirl_test import Rotation, SwirlMeterKind, SwirlMotion, SwirlTest
from shopflow.models.tax_class import ExemptionKind, TaxClass
from shopflow.models.test_draft import TestDraft
from shopflow.models.time_spent import TimeSpent
from shopflow.models.usual_value import UsualValue
from shopflow.models.velocity_map import Outline, VelocityMap
from shopflow.models.verification_throttle import WrongCode
from shopflow.models.warranty import Bearer, WarrantyReturn
from shopflow.models.webhook import DeliveryState, Webhook, WebhookDelivery

__all__ = [
    "CLOSED_STATES",
    "DROPPED_STEP_STATES",
    "INVOICED",
    "OPEN_STATES",
    "OPEN_STEP_STATES",
    "PAID",
    "PORTED_STATES",
    "AccountRole",
    "AnchorKind",
    "ApiRequest",
    "ApiToken",
    "Approval",
    "ApprovalLine",
    "Base",
    "Baseline",
    "Bearer",
    "Bench",
    "BenchCheck",
    "BenchDay",
    "BenchRange",
    "BenchSession",
    "Bookkeeping",
    "CalendarFeed",
    "Calibration",
    "Cam",
    "Capture",
    "CastingState",
    "Certificate",
    "CertificateDraft",
    "CertificateSession",
    "Choice",
    "Collection",
    "Contact",
    "Cooling",
    "Counter",
    "Customer",
    "CustomerLink",
    "Datum",
    "Decision",
    "DeliveryState",
    "DiscardedTest",
    "DiscountOf",
    "DocumentLine",
    "DraftSession",
    "DraftState",
    "EngineAlias",
    "EngineForecast",
    "EngineLimit",
    "EngineRanges",
    "EngineResult",
    "EngineSetUp",
    "EngineType",
    "EntryKind",
    "Event",
    "ExemptionKind",
    "Fixture",
    "FixtureKind",
    "Fuel",
    "GainCase",
    "HandOffFigure",
    "HandOffNote",
    "HandedOver",
    "Head",
    "HeadOwner",
    "HeadPlace",
    "HeadPlan",
    "HeadStatus",
    "Hold",
    "HouseStyle",
    "IdempotencyKey",
    "Induction",
    "IntegrityKind",
    "IntegrityLimit",
    "IntegrityPart",
    "IntegrityTest",
    "IntegrityVerdict",
    "Invoice",
    "InvoiceKind",
    "InvoiceLine",
    "Job",
    "JobFile",
    "JobLine",
    "JobState",
    "KeptForecast",
    "LeakCheck",
    "LeakTest",
    "LedgerAccount",
    "LedgerEntry",
    "LiftList",
    "LineKind",
    "LineState",
    "LoginSession",
    "LookupText",
    "MailServer",
    "MailState",
    "Measurement",
    "MeasurementKind",
    "MovementKind",
    "NameStamp",
    "OpeningHours",
    "Operation",
    "OperationKind",
    "OperationState",
    "OrderState",
    "OutgoingMail",
    "Outline",
    "OutsideWork",
    "Part",
    "PartNeed",
    "Payment",
    "PlaceKind",
    "PlateExchange",
    "Posting",
    "PowerAt",
    "PriceEntry",
    "PurchaseOrder",
    "PurchaseOrderLine",
    "Purpose",
    "Quote",
    "QuoteLine",
    "Reading",
    "ReadingKind",
    "ReceivedPart",
    "RecordLogAnchor",
    "RecordLogEntry",
    "RecordLogHead",
    "Release",
    "Reminder",
    "ReminderStage",
    "ResultKind",
    "Role",
    "Rotation",
    "Routing",
    "RoutingPart",
    "RoutingStep",
    "Scope",
    "SeatCut",
    "SeatProfile",
    "SessionLift",
    "SetUpCode",
    "SetUpConfirmation",
    "Shop",
    "SignInAttempt",
    "Spring",
    "SpringPoint",
    "StockMovement",
    "Supplier",
    "SwirlMeterKind",
    "SwirlMotion",
    "SwirlTest",
    "TaxClass",
    "TestDraft",
    "TimeSpent",
    "User",
    "UsualValue",
    "ValveSetUp",
    "VelocityMap",
    "Verdict",
    "Visit",
    "WaitFor",
    "WarrantyReturn",
    "Webhook",
    "WebhookDelivery",
    "When",
    "WrongCode",
    "steps_key",
]
