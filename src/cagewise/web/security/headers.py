"""What a browser may do with our pages."""

from __future__ import annotations

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

EMPTY_STYLE = "'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='"
"""SHA-256 of nothing: a ``<style>`` without a character may stand in a page. The library of the
plots makes one and fills it through the object model, which only a script of ours can do. It is the
least it works with; what else it would write into style attributes is refused and not missed."""

POLICY = "; ".join(
    (
        "default-src 'self'",
        "script-src 'self'",
        f"style-src 'self' {EMPTY_STYLE}",
        "img-src 'self' data: blob:",
        "connect-src 'self'",
        "object-src 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-src 'none'",
        "frame-ancestors 'none'",
    )
)
"""Nothing comes from elsewhere, nothing inline runs, nobody frames a page."""

FOR_ALL = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}


class SafeHeaders:
    """Gives every answer the headers; what says nothing about keeping is not kept by anybody."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve a request."""

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in FOR_ALL.items():
                    headers[name] = value
                headers.setdefault("cache-control", "no-store")
            await send(message)

        await self._app(scope, receive, with_headers if scope["type"] == "http" else send)
