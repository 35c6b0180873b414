"""A drawing as SVG for a page: presentation attributes only, since the page allows no styles."""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from shopflow.charts.marks import Drawing, Mark, Sign, Stroke, Words


def render(drawing: Drawing, prefix: str) -> str:
    """The SVG element; `prefix` keeps its ids apart from other charts' on the page."""
    body = "".join(_mark(mark) for mark in drawing.marks)
    title, description = f"{prefix}-title", f"{prefix}-desc"
    return (
        f'<svg class="chart" viewBox="0 0 {drawing.width:g} {drawing.height:g}" role="img"'
        f' aria-labelledby="{title} {description}" xmlns="http://www.w3.org/2000/svg">'
        f'<title id="{title}">{escape(drawing.title)}</title>'
        f'<desc id="{description}">{escape(drawing.description)}</desc>{body}</svg>'
    )


def _mark(mark: Mark) -> str:
    if isinstance(mark, Stroke):
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in mark.points)
        dash = ' stroke-dasharray="5 3"' if mark.dashed else ""
        return (
            f'<polyline class="{mark.part}" points="{points}" fill="none" stroke="{mark.colour}"'
            f' stroke-width="{mark.width:g}"{dash}/>'
        )
    if isinstance(mark, Words):
        weight = ' font-weight="600"' if mark.bold else ""
        x, y = mark.at
        return (
            f'<text x="{x:.1f}" y="{y:.1f}" font-size="{mark.size:g}" fill="{mark.colour}"'
            f' text-anchor="{mark.anchor}"{weight}>{escape(mark.text)}</text>'
        )
    return _sign(mark)


def _sign(sign: Sign) -> str:
    x, y, size = *sign.at, sign.size
    fill = sign.colour if sign.filled else "#ffffff"
    look = f'fill="{fill}" stroke="{sign.colour}" stroke-width="1.3"'
    if sign.shape == "circle":
        shape = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{size:g}" {look}/>'
    else:
        points = " ".join(f"{px:.1f},{py:.1f}" for px, py in sign.outline)
        shape = f'<polygon points="{points}" {look}/>'
    words = quoteattr(sign.words)
    return f'<g class="point" data-words={words}><title>{escape(sign.words)}</title>{shape}</g>'
