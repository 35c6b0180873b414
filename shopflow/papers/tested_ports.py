"""A certificate's first page: which ports, which valves and seats, and the engine's own lift."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus import Flowable

from shopflow.documents import AtLift, FlowCertificate, PortSpread, SessionResult
from shopflow.papers.numbers import stated
from shopflow.papers.style import gap
from shopflow.papers.tables import facts
from shopflow.texts import gettext, translated
from shopflow.units import UnitSystem, pretty


def tested_ports_block(certificate: FlowCertificate, width: float) -> list[Flowable]:
    """Facts on the ports tested; without those an older certificate does not hold."""
    units = certificate.display.units
    rows = [
        (gettext("Ports tested"), "\n".join(certificate.sampling)),
        (gettext("At engine's lift"), "\n".join(_at(item, units) for item in certificate.at_lift)),
        (gettext("Port to port"), "\n".join(_spread(item, units) for item in certificate.spread)),
        (gettext("Valves and seats"), "\n".join(_sizes(certificate.sessions))),
    ]
    return [gap(4), *facts(rows, width, 1)]


def _at(item: AtLift, units: UnitSystem) -> str:
    lift = f"{translated(item.side).capitalize()}, {units.text(item.lift, 'lift')} ({item.source})"
    if item.flow is None:
        reached = units.text(item.tested_to, "lift")
        return gettext("{lift}: not reached, tested to {reached}", lift=lift, reached=reached)
    flow, margin = stated(units, item.flow, item.expanded_uncertainty, "flow")
    value = f"{flow} ± {margin}" if item.expanded_uncertainty else flow
    if item.reference_pressure:
        return gettext(
            "{lift}: {flow} {unit} at {pressure} in standard air, {test}",
            lift=lift, flow=value, unit=pretty(units.unit("flow")),
            pressure=item.reference_pressure, test=item.session,
        )  # fmt: skip
    return gettext(
        "{lift}: {flow} {unit} as tested at {pressure}, {test}",
        lift=lift, flow=value, unit=pretty(units.unit("flow")),
        pressure=item.test_pressure, test=item.session,
    )  # fmt: skip


def _spread(item: PortSpread, units: UnitSystem) -> str:
    return gettext(
        "{side}, {stage}: {spread} % of the mean effective area of {ports} ports, from {least} "
        "(cylinder {least_at}) to {greatest} (cylinder {greatest_at})",
        side=translated(item.side).capitalize(), stage=item.stage or gettext("stage not recorded"),
        spread=f"{100.0 * item.relative:.1f}", ports=item.ports,
        least=units.text(item.least, "port area"), least_at=item.least_at,
        greatest=units.text(item.greatest, "port area"), greatest_at=item.greatest_at,
    )  # fmt: skip


def _sizes(sessions: tuple[SessionResult, ...]) -> Iterator[str]:
    """The last sizes of each side, as its last test states them."""
    last = {session.side: session for session in sessions}
    for side, session in last.items():
        stated = dict(session.conditions)
        named = {
            "Valve head": gettext("valve {size}", size=stated.get("Valve head")),
            "Seat": gettext("seat {size}", size=stated.get("Seat")),
            "Throat": gettext("throat {size}", size=stated.get("Throat")),
        }
        sizes = [text for name, text in named.items() if stated.get(name)]
        if sizes:
            yield f"{translated(side).capitalize()}: {', '.join(sizes)}"
