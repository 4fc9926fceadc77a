"""The inspection pack as files: each section a table, and all of them with the PDF in one ZIP."""

from __future__ import annotations

import io
import zipfile
from typing import Final
from zoneinfo import ZoneInfo

from service.core.inspection_pack import Pack, Section
from service.outreach.csv_tables import written
from service.outreach.pack_paper import pack_pdf

_FIRST_YEAR: Final = 1980
"""Archives of this kind know no time before it."""


def section_csv(section: Section) -> bytes:
    """The file of one section; its instants are UTC."""
    return "".join(written([section.header, *section.rows])).encode()


def pack_zip(pack: Pack) -> bytes:
    """Every table and the PDF. Each file carries the moment the pack was printed, on the shop's clock."""
    at = pack.printed_at.astimezone(ZoneInfo(pack.zone))
    stamp = (max(at.year, _FIRST_YEAR), at.month, at.day, at.hour, at.minute, at.second)
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        for section in pack.sections:
            archive.writestr(_entry(section.file_name, stamp), section_csv(section))
        archive.writestr(_entry(f"{pack.name}.pdf", stamp), pack_pdf(pack))
    return whole.getvalue()


def _entry(name: str, stamp: tuple[int, int, int, int, int, int]) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, stamp)
    entry.compress_type = zipfile.ZIP_DEFLATED
    return entry
