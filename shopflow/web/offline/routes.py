"""The app as it is installed: its manifest, its service worker, and what is not sent yet."""

from __future__ import annotations

from flask import Blueprint, Response, jsonify, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.texts import gettext
from shopflow.web.context import current_shop
from shopflow.web.offline import worker

blueprint = Blueprint("offline", __name__)

ICON_SIZES = (192, 512)
INK = "#17202a"
GROUND = "#f3f4f1"


@blueprint.get("/app.webmanifest")
def manifest() -> Response:
    """Tell a device how to install the app."""
    shop = current_shop()
    answer = jsonify(
        id="/",
        name=shop.name if shop else "shopflow",
        short_name="shopflow",
        start_url=url_for("floor.index"),
        scope="/",
        display="standalone",
        background_color=GROUND,
        theme_color=INK,
        icons=[
            {
                "src": url_for("static", filename=f"icon-{size}.png"),
                "sizes": f"{size}x{size}",
                "type": "image/png",
                "purpose": "any maskable",
            }
            for size in ICON_SIZES
        ],
        shortcuts=[{"name": gettext("Test a head"), "url": url_for("bench_mode.index")}],
    )
    answer.mimetype = "application/manifest+json"
    return answer


@blueprint.get("/service-worker.js")
def service_worker() -> Response:
    """The service worker, at the root so that it serves every page."""
    return Response(worker.text(), mimetype="text/javascript")


@blueprint.get("/not-sent")
def queue() -> ResponseReturnValue:
    """Show entries that wait in this browser; also the page for no network and no kept page."""
    return render_template("offline/queue.html")
