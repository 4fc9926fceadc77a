"""A photograph made anew: only its pixels are kept, so no place, no time, no second file hidden in it."""

from __future__ import annotations

from io import BytesIO

from service.core.findings import Invalid
from service.core.photo_files import BROKEN, LONGEST_EDGE, PhotoFile, judge_size, photo_format
from service.core.sheet_files import plain_name


def remake_photo(name: str, content: bytes) -> PhotoFile:
    """The photograph as it is kept: a JPEG, upright, at most 2000 pixels long, without any data about it.

    Takes up to some seconds and some hundred megabytes: call it outside of a transaction.

    Raises:
        Invalid: it is no photograph, too large, or broken.
    """
    kind = photo_format(content)
    # Loaded when a photograph first comes: it takes longer than the rest of a start.
    from PIL import Image, ImageOps

    try:
        with Image.open(BytesIO(content), formats=(kind,)) as opened:
            judge_size(*opened.size)
            # Made small first: a JPEG is then never unpacked at its full size, and nothing is turned twice.
            opened.thumbnail((LONGEST_EDGE, LONGEST_EDGE))
            picture: Image.Image = ImageOps.exif_transpose(opened)
            clear = picture.convert("RGBA")
            flat = Image.new("RGB", clear.size, "white")
            flat.paste(clear, mask=clear)
    except Invalid:
        raise
    except Exception as broken:  # whatever a hostile file makes the library raise, it is no photograph
        raise Invalid(BROKEN) from broken
    out = BytesIO()
    flat.save(out, "JPEG", quality=85)
    return PhotoFile(plain_name(name), out.getvalue())
