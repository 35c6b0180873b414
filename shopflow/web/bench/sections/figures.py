"""Results on a port's page: the areas drawn, the findings, and the engine's inlet Mach index."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from shopflow.documents import AlongPort, Figure, PortSurvey
from shopflow.models import Visit
from shopflow.papers.port import findings, port_chart, valve_areas
from shopflow.papers.silhouette import silhouette
from shopflow.services.bench import sections
from shopflow.services.engine import cams
from shopflow.services.hand_off import mach_index
from shopflow.services.measuring import uncertainties
from shopflow.web.bench.sections.forms import FlowForm
from shopflow.web.context import system
from shopflow.web.db import db
from shopflow.web.drawing import draw, silhouette_drawn


@dataclass(frozen=True)
class PortFigures:
    """A port, with a flow through it where it was tested."""

    port: AlongPort
    chart: Markup
    silhouette: Markup | None
    """None where no survey has two sections."""

    findings: tuple[str, ...]
    valves: list[tuple[str, float]]
    index: list[Figure]
    """The engine's mean inlet Mach index, with its working."""

    lacking: list[str]
    """Missing inputs of that index."""

    @property
    def survey(self) -> PortSurvey:
        """The sections the figures are about."""
        return self.port.surveys[self.port.stands]


def port_figures(visit: Visit, form: FlowForm) -> PortFigures:
    """The figures of the port and the flow a form chooses."""
    port = sections.along_port(visit, form.chosen, form.row, form.place, uncertainties.usual(db()))
    index: list[Figure] = []
    lacking: list[str] = []
    if form.row is not None and form.chosen.side == "intake":
        index, lacking = mach_index.mach_index_of(
            db(), visit, form.row, next(iter(cams.for_visit(db(), visit)), None), system()
        )
    shape = silhouette(port, system())
    return PortFigures(
        port=port,
        chart=draw(port_chart(port, system()), "port", 760.0, 340.0).drawing,
        silhouette=silhouette_drawn(shape, "silhouette") if shape is not None else None,
        findings=tuple(findings(port, system())),
        valves=valve_areas(port),
        index=index,
        lacking=lacking,
    )
