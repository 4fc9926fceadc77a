"""What may come in as a photograph: told by the first bytes, never by a name; how large, and how it is kept.

Doors: actions/remake_photo.py, actions/judge_sample.py, web/pages/sample_photos.py.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from service.core.findings import Invalid

MOST_BYTES: Final = 10_000_000
MOST_PIXELS: Final = 50_000_000
"""Of the picture as it comes; some hundred times that can hide in a small file."""
LONGEST_EDGE: Final = 2000
"""Pixels of the picture as it is kept."""
KEPT_AS: Final = "image/jpeg"
ACCEPT: Final = "image/jpeg,image/png,image/webp"
NO_PHOTO: Final = "This is no JPEG, PNG or WebP photograph. Take it anew, or save it as JPEG."
BROKEN: Final = "This photograph cannot be opened: it ends too early or is damaged. Take it anew."


@dataclass(frozen=True)
class PhotoFile:
    """A photograph as it is kept: a JPEG made anew, with nothing in it but the picture."""

    name: str
    content: bytes


def photo_format(content: bytes) -> str:
    """``JPEG``, ``PNG`` or ``WEBP``, by the file's own first bytes.

    Raises Invalid for anything else, an empty file and more than 10 MB.

    >>> photo_format(b"\\xff\\xd8\\xff\\xe0")
    'JPEG'
    """
    if not content:
        raise Invalid("The file is empty. Take the photograph again.")
    if len(content) > MOST_BYTES:
        raise Invalid("The photograph is larger than 10 MB. Let the camera take it smaller.")
    if content.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "WEBP"
    raise Invalid(NO_PHOTO)


def judge_size(width: int, height: int) -> None:
    """Refuse a picture of more pixels than a camera takes.

    >>> judge_size(4000, 3000)
    """
    if width < 1 or height < 1 or width * height > MOST_PIXELS:
        raise Invalid("The photograph has too many pixels. Let the camera take it smaller.")
