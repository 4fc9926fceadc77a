"""Tables on paper: figures and days stand whole however many columns there are."""

from __future__ import annotations

from pathlib import Path

import matplotlib
import pypdfium2 as pdfium
from fpdf import FPDF

from service.outreach.paper_tables import draw_table


def printed(header: tuple[str, ...], *rows: tuple[str, ...]) -> list[str]:
    """What stands on the first page, word by word as it was drawn."""
    paper = FPDF(orientation="landscape", format="letter")
    letters = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    paper.add_font("pack", "", letters / "DejaVuSans.ttf")
    paper.add_font("pack", "B", letters / "DejaVuSans-Bold.ttf")
    paper.set_font("pack", size=7)
    paper.add_page()
    draw_table(paper, header, rows)
    return str(pdfium.PdfDocument(bytes(paper.output()))[0].get_textpage().get_text_range()).split()


def test_a_word_is_broken_only_where_not_all_fit_side_by_side() -> None:
    text = "rags and sludge of the spray booth, drained " * 5
    header = ("signal word", "responsibility", *("words",) * 4)
    lines = printed(header, ("Warning", "Workshop", *(text,) * 4))
    assert {"signal", "responsibility", "Warning", "Workshop"} <= set(lines)
    lines = printed(("drum", *("words",) * 20), ("1204", *("Responsibilities",) * 20))
    assert "1204" in lines and "".join(lines).count("R") == 20, "nothing is cut where words do not fit"


def test_no_figure_and_no_day_is_broken_in_a_table_of_many_columns() -> None:
    text = "rags and sludge of the spray booth, drained " * 3
    header = ("drum", "kg", "begun", "gone", *("words",) * 8)
    lines = printed(header, ("1204", "12600.75", "2026-04-01", "2026-11-27", *(text,) * 8))
    for whole in ("1204", "12600.75", "2026-04-01", "2026-11-27"):
        assert whole in lines
