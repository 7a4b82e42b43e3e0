"""Security headers of every answer."""

from flask import Flask, Response

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "font-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)


def init_app(app: Flask) -> None:
    """Set the headers on every response."""
    app.after_request(harden)


def harden(response: Response) -> Response:
    """No inline script or style, no framing, no guessing of types, no referrer elsewhere."""
    headers = response.headers
    headers.setdefault("Content-Security-Policy", POLICY)
    headers.setdefault("X-Content-Type-Options", "nosniff")
    headers.setdefault("X-Frame-Options", "DENY")
    headers.setdefault("Referrer-Policy", "same-origin")
    headers.setdefault("Cross-Origin-Opener-Policy", "same-origin")
    headers.setdefault("Permissions-Policy", "camera=(), microphone=(), geolocation=()")
    if not response.cache_control and response.mimetype == "text/html":
        headers.setdefault("Cache-Control", "no-store")
    return response
