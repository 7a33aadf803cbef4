"""Requests read and answers given in one way."""

from __future__ import annotations

import asyncio
import io
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError
from starlette.requests import ClientDisconnect, Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route

from coach.logbook.file import Full
from coach.page.server.limits import MESSAGE_BYTES
from coach.problems import Problem

Answers = dict[str, Any] | list[dict[str, Any]]
"""What becomes JSON."""

STATIC = Path(__file__).parents[1] / "static"

GONE = 499
"""The status of an answer that nobody reads."""

Handler = Callable[[Request], Awaitable[Answers | Response]]


class Message(BaseModel):
    """Something that goes between browser and server: nothing more in it than is written."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


M = TypeVar("M", bound=Message)


class Missing(Problem):
    """What was asked for is not there."""


def get(path: str, handler: Handler) -> Route:
    """An address that is read."""
    return Route(path, _answered(handler), methods=["GET"])


def post(path: str, handler: Handler) -> Route:
    """An address that is told something."""
    return Route(path, _answered(handler), methods=["POST"])


def _answered(handler: Handler) -> Callable[[Request], Awaitable[Response]]:
    """A handler whose values become JSON, and whose problems one sentence of it."""

    async def answer(request: Request) -> Response:
        try:
            found = await handler(request)
        except Problem as problem:
            return JSONResponse({"problem": str(problem)}, _status(problem))
        except ClientDisconnect:
            return Response(status_code=GONE)
        except asyncio.CancelledError:  # the server closes
            return JSONResponse({"problem": "The coach was closed."}, 503)
        return found if isinstance(found, Response) else JSONResponse(found)

    return answer


def _status(problem: Problem) -> int:
    if isinstance(problem, Full):
        return 507  # Insufficient Storage, RFC 4918: the same may be told again
    return 404 if isinstance(problem, Missing) else 400


async def body(request: Request, model: type[M]) -> M:
    """The request's body.

    Raises:
        Problem: it is too large, or not as the model has it; the sentence says where.
    """
    whole = b""
    async for part in request.stream():
        whole += part
        if len(whole) > MESSAGE_BYTES:
            raise Problem(f"A request may hold {MESSAGE_BYTES} bytes at most.")
    try:
        return model.model_validate_json(whole)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"]) or "the request"
        raise Problem(f"{first['msg']}.", where) from None


def code(link: str) -> Response:
    """An address as a QR code (ISO/IEC 18004)."""
    import segno  # here, as rehearsing without a phone needs none of it

    drawn = io.BytesIO()
    segno.make_qr(link).save(drawn, kind="svg", scale=8, border=4, dark="#000", light="#fff")
    return picture(drawn.getvalue())


def page(name: str) -> Response:
    """One of the pages in `STATIC`."""
    return FileResponse(STATIC / f"{name}.html", media_type="text/html")


def picture(svg: bytes) -> Response:
    """An SVG."""
    return Response(svg, media_type="image/svg+xml")
