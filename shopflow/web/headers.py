"""Response headers that keep a browser from doing what no page of ours asks for."""

from __future__ import annotations

from flask import Flask, Response, request

from shopflow.web import assets

POLICY = "; ".join(
    (
        "default-src 'self'",
        "object-src 'none'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
        "form-action 'self'",
    )
)
"""No inline script or style, nothing from elsewhere."""

HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}

ONLY_HTTPS = "max-age=31536000; includeSubDomains"

PRIVATE = {
    "Cache-Control": "no-store",
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex, nofollow",
}
"""For what an address alone opens: it is kept nowhere and told to nobody."""


def init_app(app: Flask) -> None:
    """Set them on every response."""

    def set_headers(response: Response) -> Response:
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        if app.config["SHOPFLOW"].https:
            response.headers.setdefault("Strict-Transport-Security", ONLY_HTTPS)
        if request.endpoint not in assets.ENDPOINTS:
            # Not no-store: going back to a form must find what was typed in it.
            response.headers.setdefault("Cache-Control", "private, no-cache")
        return response

    app.after_request(set_headers)
