"""The few files a browser keeps: style, script, mark. Their addresses hold a hash of their contents.

They are read once into memory; a request can only name one of them, never a path.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from service.core.findings import NotFound

FOLDER: Final = Path(__file__).parent / "static"
_TYPES: Final = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".webmanifest": "application/manifest+json",
}


@dataclass(frozen=True)
class StaticFile:
    """A file in memory; ``kept`` when its address names its contents and it may be cached for good."""

    content: bytes
    media_type: str
    kept: bool


@cache
def _shelf() -> dict[str, StaticFile]:
    shelf: dict[str, StaticFile] = {}
    for path in sorted(FOLDER.iterdir()):
        if path.suffix in _TYPES:
            content = path.read_bytes()
            shelf[path.name] = StaticFile(content, _TYPES[path.suffix], kept=False)
            shelf[hashed_name(path.name, content)] = StaticFile(content, _TYPES[path.suffix], kept=True)
    return shelf


def hashed_name(name: str, content: bytes) -> str:
    """ "service.css" with twelve signs of its contents' hash before the ending.

    >>> hashed_name("service.css", b"")
    'service.e3b0c44298fc.css'
    """
    stem, _, ending = name.rpartition(".")
    return f"{stem}.{hashlib.sha256(content).hexdigest()[:12]}.{ending}"


@cache
def static_url(name: str) -> str:
    """The address of a static file; KeyError for a name that does not exist (a slip in a template)."""
    return f"/static/{hashed_name(name, _shelf()[name].content)}"


def _serve(request: Request) -> Response:
    found = _shelf().get(request.path_params["name"])
    if found is None:
        raise NotFound("There is no such file.")
    kept = "public, max-age=31536000, immutable" if found.kept else "no-cache"
    return Response(found.content, media_type=found.media_type, headers={"Cache-Control": kept})


static_route: Final = Route("/static/{name}", _serve, methods=["GET"], name="static")
"""Add with ``app.router.routes.append(static_route)``; GET and HEAD."""
