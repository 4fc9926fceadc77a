"""A table as a file to save: always an attachment, never shown inside a page of ours."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Iterator
from typing import IO

from fastapi.responses import Response, StreamingResponse

_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": "sandbox; default-src 'none'",
    "Cache-Control": "no-store",
}
_IN_MEMORY = 1_000_000
_PIECE = 65_536


def as_csv(name: str, lines: Iterable[str]) -> Response:
    """The lines as a file called ``name`` (plain letters, digits, hyphens).

    It is written whole before the first byte leaves: a table that breaks off half way would look complete.
    """
    kept: IO[bytes] = tempfile.SpooledTemporaryFile(_IN_MEMORY)  # noqa: SIM115 - closed when it was sent
    try:
        for line in lines:
            kept.write(line.encode())
        size = kept.tell()
        kept.seek(0)
    except BaseException:
        kept.close()
        raise
    headers = _HEADERS | {
        "Content-Disposition": f'attachment; filename="{name}"',
        "Content-Length": str(size),
    }
    return StreamingResponse(_pieces(kept), media_type="text/csv; charset=utf-8", headers=headers)


def as_file(name: str, content: bytes, media_type: str) -> Response:
    """What was written whole already, as a file called ``name``."""
    disposition = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type=media_type, headers=_HEADERS | disposition)


def _pieces(kept: IO[bytes]) -> Iterator[bytes]:
    with kept:
        while piece := kept.read(_PIECE):
            yield piece
