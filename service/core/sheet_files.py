"""What kind of file a safety data sheet may be: told by its first and last bytes, never by its name.

Doors: actions/keep_sheets.py, web/pages/material_sheets.py.
"""

from __future__ import annotations

from typing import Final

from service.core.findings import Invalid

MOST_BYTES: Final = 10_000_000
PDF: Final = "application/pdf"
PNG: Final = "image/png"
JPEG: Final = "image/jpeg"
ENDINGS: Final = {PDF: ".pdf", PNG: ".png", JPEG: ".jpg"}
_HEADS: Final = {b"%PDF-": PDF, b"\x89PNG\r\n\x1a\n": PNG, b"\xff\xd8\xff": JPEG}
_TAILS: Final = {PDF: b"%%EOF", PNG: b"IEND\xaeB`\x82", JPEG: b"\xff\xd9"}
_LOOK: Final = 1024
_PAGES: Final = (b"<svg", b"<html", b"<script", b"<!doctype", b"<?php")


def media_type(content: bytes) -> str:
    """``application/pdf``, ``image/png`` or ``image/jpeg``, by the file's own bytes.

    The head must stand at the very beginning and the end mark within the last 1024 bytes; a web page or
    drawing hidden in the first 1024 is refused. Raises Invalid for anything else, for an empty file and for
    more than 10 MB.

    >>> media_type(b"%PDF-1.7 ... %%EOF")
    'application/pdf'
    """
    if not content:
        raise Invalid("The file is empty. Choose the sheet again.")
    if len(content) > MOST_BYTES:
        raise Invalid("The file is larger than 10 MB. Save it smaller, or photograph its pages.")
    kind = next((kind for head, kind in _HEADS.items() if content.startswith(head)), None)
    if kind is None:
        raise Invalid("This is no PDF, PNG or JPEG. Save the sheet as a PDF, or photograph its pages.")
    start = content[:_LOOK].lower()
    if any(mark in start for mark in _PAGES):
        raise Invalid("Something else is inside this file. Ask the supplier for the sheet as a plain PDF.")
    if _TAILS[kind] not in content[-_LOOK:]:
        raise Invalid("The file ends too early. Load it down again, or photograph the pages.")
    return kind


def plain_name(name: str) -> str:
    """The name a file came with as harmless text: the last part of a path, without signs that cannot be seen.

    >>> plain_name("../../etc/Sheet 12.pdf"), plain_name("C:\\\\x\\\\y.pdf"), plain_name("...")
    ('Sheet 12.pdf', 'y.pdf', 'sheet')
    """
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    kept = "".join(sign for sign in last if sign.isprintable() and sign not in '"<>|:*?').strip(" .")
    return kept[-120:] or "sheet"
