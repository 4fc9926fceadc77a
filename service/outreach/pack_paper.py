"""The inspection pack as a PDF: every section a table, each page numbered, day and moment at its foot.

The letters are those that come with the library for charts; they hold Latin, Greek and Cyrillic. A sign they
lack is printed as a white square and said so: the tables beside the PDF have it.
"""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from zoneinfo import ZoneInfo

from service.core.inspection_pack import Pack, Section
from service.outreach.paper_tables import draw_table

if TYPE_CHECKING:
    from fpdf import FPDF

MOST_LINES: Final = 1000
"""Lines of one section on paper; a longer one says how many more its file has."""
LACKS: Final = "□"
_FONT: Final = "pack"
_SMALL: Final = 7.0
_HASH: Final = 64


def words(value: Any, zone: ZoneInfo) -> str:
    """A cell as paper says it: instants on the shop's clock, hashes by their first signs.

    >>> words(None, ZoneInfo("UTC")), words(True, ZoneInfo("UTC")), words(date(2026, 3, 12), ZoneInfo("UTC"))
    ('–', 'yes', '2026-03-12')
    """
    if value is None or value == "":
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return f"{value.astimezone(zone):%Y-%m-%d %H:%M}"
    if isinstance(value, date):
        return value.isoformat()
    text = str(value)
    if len(text) == _HASH and set(text) <= set("0123456789abcdef"):
        return f"{text[:12]}…"
    return text


def foot_words(pack: Pack) -> str:
    """What stands at the foot of every page."""
    zone = ZoneInfo(pack.zone)
    until = words(pack.moment.at, zone)
    return (
        f"{pack.shop}: {pack.title}, what was recorded until {until}; printed {words(pack.printed_at, zone)} "
        f"({pack.zone})"
    )


def pack_pdf(pack: Pack) -> bytes:
    """The pack on A4 across; on letter where the shop's law is that of the US."""
    paper = _paper(pack)
    zone = ZoneInfo(pack.zone)
    paper.add_page()
    _text(paper, pack.title, 16, bold=True)
    _text(paper, pack.shop, 11)
    _text(paper, f"Ledger head: {pack.ledger_head}", 8)
    _text(paper, f"Rag log head: {pack.rag_head}", 8)
    for section in pack.sections:
        _section(paper, section, zone)
    return bytes(paper.output())


def _paper(pack: Pack) -> FPDF:
    from fpdf import FPDF

    foot = foot_words(pack)

    class Paper(FPDF):
        def footer(self) -> None:
            self.set_y(-10)
            self.set_font(_FONT, size=_SMALL)
            self.cell(0, 5, _printed(self, foot))
            self.set_x(-45)
            self.cell(35, 5, f"Page {self.page_no()} of {{nb}}", align="R")

    paper = Paper(orientation="landscape", format="letter" if pack.on_letter else "A4")
    letters = _letters()
    paper.add_font(_FONT, "", letters / "DejaVuSans.ttf")
    paper.add_font(_FONT, "B", letters / "DejaVuSans-Bold.ttf")
    paper.set_title(pack.title)
    paper.set_creation_date(pack.printed_at)
    paper.set_margins(10, 10, 10)
    paper.set_auto_page_break(True, margin=13)
    paper.set_font(_FONT, size=_SMALL)
    return paper


def _letters() -> Path:
    import matplotlib

    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"


def _printed(paper: FPDF, text: str) -> str:
    """The text with a white square for each sign that the letters lack."""
    held = paper.fonts[_FONT].cmap  # type: ignore[union-attr]
    return "".join(sign if ord(sign) in held or sign == "\n" else LACKS for sign in text)


def _text(paper: FPDF, text: str, size: float, *, bold: bool = False) -> None:
    paper.set_font(_FONT, "B" if bold else "", size)
    paper.multi_cell(0, size * 0.5, _printed(paper, text), new_x="LMARGIN", new_y="NEXT", align="L")
    paper.set_font(_FONT, "", _SMALL)


def _section(paper: FPDF, section: Section, zone: ZoneInfo) -> None:
    paper.ln(4)
    if paper.get_y() > paper.h - 40:
        paper.add_page()
    paper.start_section(section.title)
    _text(paper, section.title, 11, bold=True)
    for said in section.said:
        _text(paper, said, 8)
    rows, more = section.lines(MOST_LINES)
    if not rows:
        _text(paper, "Nothing stands here.", 8)
        return
    cells = [[_printed(paper, words(value, zone)) for value in row] for row in rows]
    draw_table(paper, section.columns, cells)
    if more:
        _text(paper, f"{more} more lines stand in {section.file_name}.", 8, bold=True)

