"""Tables on paper: figures and days stand whole however many columns there are."""

from __future__ import annotations

from pathlib import Path

import matplotlib
import pypdfium2 as pdfium
from fpdf import FPDF

from service.outreach.paper_tables import draw_table


def test_no_figure_and_no_day_is_broken_in_a_table_of_many_columns() -> None:
    paper = FPDF(orientation="landscape", format="letter")
    letters = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    paper.add_font("pack", "", letters / "DejaVuSans.ttf")
    paper.add_font("pack", "B", letters / "DejaVuSans-Bold.ttf")
    paper.set_font("pack", size=7)
    paper.add_page()
    text = "rags and sludge of the spray booth, drained " * 3
    header = ("drum", "kg", "begun", "gone", *("words",) * 8)
    draw_table(paper, header, [("1204", "12600.75", "2026-04-01", "2026-11-27", *(text,) * 8)])
    page = pdfium.PdfDocument(bytes(paper.output()))[0]
    lines = page.get_textpage().get_text_range().split()
    for whole in ("1204", "12600.75", "2026-04-01", "2026-11-27"):
        assert whole in lines
