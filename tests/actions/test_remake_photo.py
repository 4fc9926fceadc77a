"""Photographs made anew: nothing but pixels is kept; hostile files are refused with a sentence."""

from __future__ import annotations

import struct
import zlib
from io import BytesIO

import pytest
from PIL import Image

from service.actions.remake_photo import remake_photo
from service.core.findings import Invalid
from service.core.photo_files import LONGEST_EDGE, MOST_BYTES

MARK = b"zq-where-it-was-taken"


def picture(kind: str, size: tuple[int, int] = (60, 40), mode: str = "RGB", **more: object) -> bytes:
    out = BytesIO()
    Image.new(mode, size, "red" if mode in ("RGB", "RGBA") else 0).save(out, kind, **more)
    return out.getvalue()


def with_place(kind: str) -> bytes:
    """A picture that says where it was taken and lies on its side."""
    exif = Image.Exif()
    exif[0x0112] = 6
    exif[0x010E] = MARK.decode()
    exif.get_ifd(0x8825)[2] = (52.0, 31.0, 12.0)
    return picture(kind, exif=exif.tobytes())


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def bomb(width: int, height: int) -> bytes:
    """A PNG of some hundred bytes that says it is very large."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = zlib.compress(b"\x00" * 100_000, 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_place_and_words_are_gone_and_it_stands_upright(kind: str) -> None:
    came = with_place(kind)
    assert MARK in came
    photo = remake_photo("../../board.png", came)
    assert MARK not in photo.content and photo.content.startswith(b"\xff\xd8\xff")
    with Image.open(BytesIO(photo.content)) as kept:
        assert kept.format == "JPEG" and kept.size == (40, 60)
        assert dict(kept.getexif()) == {} and "exif" not in kept.info
    assert photo.name == "board.png"


def test_what_follows_the_picture_is_not_kept() -> None:
    hidden = b"<script>alert(1)</script>"
    photo = remake_photo("x.jpg", picture("JPEG") + hidden)
    assert hidden not in photo.content


def test_a_large_one_is_kept_smaller_and_what_is_clear_becomes_white() -> None:
    with Image.open(BytesIO(remake_photo("x", picture("JPEG", (4000, 1000))).content)) as kept:
        assert kept.size == (LONGEST_EDGE, LONGEST_EDGE // 4)
    clear = BytesIO()
    Image.new("RGBA", (8, 8), (0, 0, 0, 0)).save(clear, "PNG")
    with Image.open(BytesIO(remake_photo("x", clear.getvalue()).content)) as kept:
        assert kept.getpixel((4, 4)) == (255, 255, 255)


@pytest.mark.parametrize("mode", ["L", "P", "1", "LA", "I;16"])
def test_any_mode_a_png_may_have(mode: str) -> None:
    assert remake_photo("x", picture("PNG", mode=mode)).content.startswith(b"\xff\xd8\xff")


def test_the_same_file_twice_is_kept_as_the_same() -> None:
    assert remake_photo("x", with_place("JPEG")).content == remake_photo("x", with_place("JPEG")).content


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "empty"),
        (b"\xff\xd8\xff" + b"x" * MOST_BYTES, "larger than 10 MB"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", "no JPEG"),
        (b"<?xml version='1.0'?><svg/>", "no JPEG"),
        (b"GIF89a" + b"\x00" * 20, "no JPEG"),
        (b"%PDF-1.7 %%EOF", "no JPEG"),
        (b"MZ\x90\x00", "no JPEG"),
        (b"RIFF\x00\x00\x00\x00WAVE", "no JPEG"),
        (b"\xff\xd8\xff", "cannot be opened"),
        (b"\xff\xd8\xff\xe0" + b"\x00" * 500, "cannot be opened"),
        (b"\x89PNG\r\n\x1a\n", "cannot be opened"),
        (b"\x89PNG\r\n\x1a\n<svg><script>1</script></svg>", "cannot be opened"),
        (b"RIFF\x04\x00\x00\x00WEBP", "cannot be opened"),
        (bomb(60_000, 60_000), "."),
        (bomb(8_000, 7_000), "too many pixels"),
        (bomb(2**31 - 1, 2**31 - 1), "."),
        (bomb(0, 5), "."),
        (bomb(4_000, 4_000), "cannot be opened"),
    ],
)
def test_a_hostile_file_is_refused_with_a_sentence(content: bytes, says: str) -> None:
    with pytest.raises(Invalid) as wrong:
        remake_photo("x.jpg", content)
    assert says in wrong.value.sentence


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_one_that_ends_too_early_is_refused(kind: str) -> None:
    whole = picture(kind, (600, 400), quality=90) if kind != "PNG" else picture(kind, (600, 400))
    with pytest.raises(Invalid, match="cannot be opened"):
        remake_photo("x", whole[: len(whole) // 2])


def test_text_that_unpacks_without_end_is_refused() -> None:
    text = chunk(b"zTXt", b"a\x00\x00" + zlib.compress(b"\x00" * 80_000_000, 9))
    whole = picture("PNG")
    with pytest.raises(Invalid, match="cannot be opened"):
        remake_photo("x", whole[:33] + text + whole[33:])


def test_one_picture_named_as_another_is_told_by_its_bytes() -> None:
    assert remake_photo("x.svg", picture("PNG")).content.startswith(b"\xff\xd8\xff")
