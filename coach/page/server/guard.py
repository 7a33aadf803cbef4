"""Who may ask for what: checked before anything else sees a request.

A page of somebody else's, opened in the same browser, can send requests here as well. It cannot
read the key in this page's address, its requests carry its own ``Origin``, and where it has its
name resolve to this machine (DNS rebinding) they carry its own ``Host``.

What can be read on its way, over plain HTTP between machines, is what a phone needs to tap, and
nothing else; a secured listener may answer only some paths as well (`answers_only`).
"""

from __future__ import annotations

import hmac
from collections.abc import Iterable
from typing import Any

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse, PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from coach.page.server.connections import is_in
from coach.page.server.reach import HERE, at

KEY_HEADER = "x-coach-key"

TAPPING = ("/", "/join", "/static", "/secure", "/accept.svg", "/ws/join", "/own/picture.svg")
"""What a phone that taps asks for."""

HAND = ("/", "/hand", "/static", "/accept.svg", "/ws/hand")
"""What a phone that is the hand of somebody who rehearses alone asks for."""

_ONLY = "only"

_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; "
    "img-src 'self' blob:; connect-src 'self'{socket}; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)


def answers_only(state: Any, paths: Iterable[str]) -> dict[str, Any]:
    """The application's state, as a listener has it that answers these paths and what is in them.

    What the state holds is the same for all listeners.
    """
    return {**state, _ONLY: tuple(paths)}


def only_for(scope: Scope) -> tuple[str, ...] | None:
    """The paths that are answered where a request came in; None for all."""
    if scope["scheme"] in ("http", "ws") and scope["server"][0] != HERE:
        return TAPPING
    found: tuple[str, ...] | None = scope.get("state", {}).get(_ONLY)
    return found


class Guard:
    """Lets through what comes from the page itself, and says what browsers may do with answers."""

    def __init__(self, app: ASGIApp, names: Iterable[str], key: str) -> None:
        """Guard an application.

        Args:
            app: what is guarded.
            names: what this machine may be called, besides the address that a request came to.
            key: what ``/api`` asks for.
        """
        self._app = app
        self._names = frozenset(names)
        self._key = key.encode()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request that may not come through, pass on any other."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        named = headers.get("host", "").lower()
        host = named if named in self._hosts(scope) else ""
        why, status = self._refusal(scope, headers, host)
        if scope["type"] == "websocket":
            if why:  # before it is accepted this becomes a plain 403
                await receive()
                await send({"type": "websocket.close", "code": 1008})
            else:
                await self._app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                _add(MutableHeaders(scope=message), host, scope)
            await send(message)

        if not why:
            await self._app(scope, receive, with_headers)
        elif scope["path"].startswith("/api/"):
            await JSONResponse({"problem": why}, status)(scope, receive, with_headers)
        else:
            await PlainTextResponse(why, status)(scope, receive, with_headers)

    def _hosts(self, scope: Scope) -> set[str]:
        """The ``Host`` headers that mean this server.

        The address that a request came to is one of them, whatever networks the machine is in or
        joins later: with a name of its own resolved to it, another page would not send that.
        """
        address, port = scope["server"]
        return {at(name, port, _scheme(scope)) for name in (*self._names, address)}

    def _refusal(self, scope: Scope, headers: Headers, host: str) -> tuple[str, int]:
        if not host:
            return "This server is not the one at that address.", 421
        changes = scope["type"] == "websocket" or scope["method"] not in ("GET", "HEAD")
        if changes and headers.get("origin") != f"{_scheme(scope)}://{host}":
            return "This request comes from another page.", 403
        path, only = scope["path"], only_for(scope)
        if only is not None and path not in only and not path.startswith("/static/"):
            return "This is not answered here: open the address that the coach printed.", 403
        if not scope["path"].startswith("/api/"):
            return "", 0
        if not hmac.compare_digest(headers.get(KEY_HEADER, "").encode("latin-1"), self._key):
            return "Open the address that the coach printed: its end is the key to this page.", 403
        is_in(scope)
        return "", 0


def _scheme(scope: Scope) -> str:
    return "https" if scope["scheme"] in ("https", "wss") else "http"


def _add(headers: MutableHeaders, host: str, scope: Scope) -> None:
    secure = _scheme(scope) == "https"
    socket = f" {'wss' if secure else 'ws'}://{host}" if host else ""
    headers["Content-Security-Policy"] = _POLICY.format(socket=socket)
    headers["X-Content-Type-Options"] = "nosniff"
    headers["Referrer-Policy"] = "no-referrer"
    # Elsewhere browsers heed it only over HTTPS.
    if secure or host.partition(":")[0] in (HERE, "localhost"):
        headers["Cross-Origin-Opener-Policy"] = "same-origin"
    headers["Cross-Origin-Resource-Policy"] = "same-origin"
    # Files may be kept but are asked for again, so that a coach brought up to date shows at once.
    headers["Cache-Control"] = "no-cache" if scope["path"].startswith("/static/") else "no-store"
