"""Contents of documents: plain frozen data, independent of the records.

Results are SI numbers, shown in the reader's units; typed values are text.
"""

from shopflow.documents.certificate import Answered, AtLift, Explained, FlowCertificate, PortSpread
from shopflow.documents.chambers import ChamberOf, Chambers
from shopflow.documents.engine import (
    EngineView,
    ForecastRange,
    ReportedResult,
    SavedForecast,
)
from shopflow.documents.head import Figure, HeadIdentity, Measured, Tested, ValveFigures
from shopflow.documents.job import HandOff, JobFacts, Photo, Step, WorkOrder, WorkOrderHead
from shopflow.documents.port import AlongPort, PortSurvey, SectionPoint
from shopflow.documents.seat import SeatCutRow, SeatSheet
from shopflow.documents.session import (
    AreaGain,
    Budget,
    BudgetLine,
    Excluded,
    Gain,
    GainPoint,
    LaterResult,
    Margins,
    ResultPoint,
    SessionCurve,
    SessionResult,
    TrialResult,
)
from shopflow.documents.shop import Display, Letterhead, Party, SigningKey
from shopflow.documents.springs import EachValve, SpringCurve, SpringList, SpringSide
from shopflow.documents.through_cam import (
    AreaOverAngle,
    CertifiedCam,
    DrawnCam,
    GainOverCam,
    OneCam,
    OverCams,
    ThroughCam,
)

__all__ = [
    "AlongPort",
    "Answered",
    "AreaGain",
    "AreaOverAngle",
    "AtLift",
    "Budget",
    "BudgetLine",
    "CertifiedCam",
    "ChamberOf",
    "Chambers",
    "Display",
    "DrawnCam",
    "EachValve",
    "EngineView",
    "Excluded",
    "Explained",
    "Figure",
    "FlowCertificate",
    "ForecastRange",
    "Gain",
    "GainOverCam",
    "GainPoint",
    "HandOff",
    "HeadIdentity",
    "JobFacts",
    "LaterResult",
    "Letterhead",
    "Margins",
    "Measured",
    "OneCam",
    "OverCams",
    "Party",
    "Photo",
    "PortSpread",
    "PortSurvey",
    "ReportedResult",
    "ResultPoint",
    "SavedForecast",
    "SeatCutRow",
    "SeatSheet",
    "SectionPoint",
    "SessionCurve",
    "SessionResult",
    "SigningKey",
    "SpringCurve",
    "SpringList",
    "SpringSide",
    "Step",
    "Tested",
    "ThroughCam",
    "TrialResult",
    "ValveFigures",
    "WorkOrder",
    "WorkOrderHead",
]
