"""A drawing as SVG for a page: presentation attributes only, since the page allows no styles.

Letters inherit the page's typeface; classes name what a mark is, for style sheets and scripts.
"""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from shopflow.charts.marks import Area, Block, Drawing, Mark, Reading, Sign, Stroke, Words

NAMESPACE = "http://www.w3.org/2000/svg"


def render(drawing: Drawing, prefix: str, kind: str = "") -> str:
    """The SVG element; `prefix` keeps its ids apart from other charts' on the page, and `kind` is a
    class beside "chart".

    Each point is a group of class "point" whose data-curve and data-series say of which curve it
    is, whose data-x, data-y and data-error hold its figures in full, and whose title says them in
    words; data-link is the address it leads to, for the script to offer.
    """
    body = "".join(_mark(mark) for mark in drawing.marks)
    title, description = f"{prefix}-title", f"{prefix}-desc"
    classes = f"chart {kind}".rstrip()
    return (
        f'<svg class="{classes}" viewBox="0 0 {drawing.width:g} {drawing.height:g}" role="img"'
        f" aria-labelledby={quoteattr(f'{title} {description}')} xmlns={quoteattr(NAMESPACE)}>"
        f"<title id={quoteattr(title)}>{escape(drawing.title)}</title>"
        f"<desc id={quoteattr(description)}>{escape(drawing.description)}</desc>{body}</svg>"
    )


def _mark(mark: Mark) -> str:
    if isinstance(mark, Stroke):
        return _stroke(mark)
    if isinstance(mark, Words):
        return _words(mark)
    if isinstance(mark, Area):
        return f'<polygon class="band" points="{_pairs(mark.corners)}" fill="{mark.colour}"/>'
    if isinstance(mark, Block):
        return _block(mark)
    return _sign(mark) if mark.reading is None else _point(mark, mark.reading)


def _stroke(mark: Stroke) -> str:
    dash = " ".join(f"{length:g}" for length in mark.dash)
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<polyline class="{mark.part}" points="{_pairs(mark.points)}" fill="none"'
        f' stroke="{mark.colour}" stroke-width="{mark.width:.2f}" stroke-linejoin="round"{dashed}/>'
    )


def _words(mark: Words) -> str:
    weight = ' font-weight="600"' if mark.bold else ""
    anchor = "" if mark.anchor == "start" else f' text-anchor="{mark.anchor}"'
    x, y = mark.at
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{mark.size:g}" fill="{mark.colour}"'
        f"{anchor}{weight}>{escape(mark.text)}</text>"
    )


def _block(mark: Block) -> str:
    left, top, right, bottom = mark.box
    fill = mark.colour if mark.filled else "#ffffff"
    rect = (
        f'<rect x="{left:.1f}" y="{top:.1f}" width="{right - left:.1f}" height="{bottom - top:.1f}"'
        f' fill="{fill}" stroke="{mark.colour}" stroke-width="1.2"/>'
    )
    title = f"<title>{escape(mark.words)}</title>" if mark.words else ""
    return f'<g class="block">{title}{rect}</g>'


def _point(sign: Sign, reading: Reading) -> str:
    error = f' data-error="{reading.error!r}"' if reading.error is not None else ""
    link = f" data-link={quoteattr(reading.link)}" if reading.link else ""
    return (
        f'<g class="point" data-curve="{reading.curve}" data-series={quoteattr(reading.series)}'
        f' data-x="{reading.x!r}" data-y="{reading.y!r}"{error}{link}>'
        f"<title>{escape(reading.words)}</title>{_sign(sign)}</g>"
    )


def _sign(sign: Sign) -> str:
    fill = sign.colour if sign.filled else "#ffffff"
    look = f'fill="{fill}" stroke="{sign.colour}" stroke-width="{sign.size * 0.4:.2f}"'
    if sign.shape == "circle":
        x, y = sign.at
        return f'<circle class="sign" cx="{x:.1f}" cy="{y:.1f}" r="{sign.size:g}" {look}/>'
    return f'<polygon class="sign" points="{_pairs(sign.outline)}" {look}/>'


def _pairs(points: list[tuple[float, float]] | tuple[tuple[float, float], ...]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
