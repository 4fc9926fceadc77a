"""Shelf labels: what they say, where it stands, and that a decoder of other hands reads the QR back."""

from __future__ import annotations

import itertools
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import date

import pytest
import zxingcpp
from PIL import Image, ImageDraw
from sqlmodel import Session

from service.actions.arrivals import Origin, ReceiveAsked
from service.actions.receive_stock import receive
from service.core.access import Role
from service.core.ageing_policies import PolicyEnd
from service.core.materials import Form, MaterialKind, SelfHeating
from service.core.shelf_codes import show_code
from service.outreach.label_faces import RAGS_BURN, blank_faces, container_face, hazard_line, place_face
from service.outreach.labels import (
    MODULE,
    NUDGES,
    STOCKS,
    Drawing,
    LabelFace,
    LabelStock,
    draw_label,
    fit,
    lay_out,
    page_css,
    qr_content,
    qr_square,
    ruler_page,
)
from service.records.engine import Database
from service.records.materials import AgeingPolicyRow, Material
from service.records.places import Place, PlaceKind
from service.records.stock import Container
from service.records.stock_queries import Held
from tests.builders import NOW, TODAY, Cast, cast

_keys = itertools.count(1)
CODE = "K7QF2B"
LONG = LabelFace(
    title="Boiled linseed oil with manganese and zirconium driers, thickened, in a very long name",
    code=show_code(CODE), qr=qr_content(CODE, "https://store.example"),
    lines=(("Packed", None), ("Received", "12 Mar 2026"), ("Opened", None)),
    strong="In date until 12 Mar 2027 if sealed",
    foot=(RAGS_BURN, "See the sheet. " + "; ".join(f"Aquatic Chronic {n} H41{n}" for n in range(1, 5))),
)  # fmt: skip


def picture(path: str, modules: int, scale: int = 6) -> Image.Image:
    """The dark runs of a QR path painted by hand: nothing of the drawing library takes part."""
    image = Image.new("L", (modules * scale, modules * scale), 255)
    pen = ImageDraw.Draw(image)
    for run in path.split("z")[:-1]:
        start, length = run[1:].split("h")[:2]
        x, y = (int(part) for part in start.split())
        wide = int(length.split("v")[0])
        pen.rectangle((x * scale, y * scale, (x + wide) * scale - 1, (y + 1) * scale - 1), fill=0)
    return image


@pytest.mark.parametrize(
    ("base", "said"),
    [
        ("", "C/K7QF2B"),
        ("https://store.example", "HTTPS://STORE.EXAMPLE/C/K7QF2B"),
        ("https://store.example/", "HTTPS://STORE.EXAMPLE/C/K7QF2B"),
        ("http://192.168.1.20:8000", "HTTP://192.168.1.20:8000/C/K7QF2B"),
    ],
)
def test_the_qr_is_read_back_by_another_decoder(base: str, said: str) -> None:
    square = qr_square(qr_content(CODE, base), 0, 0)
    (found,) = zxingcpp.read_barcodes(picture(square.path, square.modules))
    assert found.text == said
    assert found.format == zxingcpp.BarcodeFormat.QRCode


def test_the_qr_stays_small_and_its_modules_large() -> None:
    """Versions and modules as ISO/IEC 18004 counts them (21 + 4 a version), 8 for the quiet zone."""
    assert qr_square(qr_content(CODE, ""), 0, 0).modules == 21 + 8
    web = qr_square(qr_content(CODE, "https://store.example"), 0, 0)
    assert web.modules == 25 + 8
    for base in ("", "https://store.example", "http://192.168.1.20:8000"):
        square = qr_square(qr_content(CODE, base), 0, 0)
        assert square.side // square.modules >= MODULE, "0.5 mm for a 200 dpi head"


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
@pytest.mark.parametrize("title", [LONG.title, "Umber", "W" * 120, ""])
def test_everything_stands_inside_the_label(stock: LabelStock, title: str) -> None:
    drawing = draw_label(replace(LONG, title=title), stock)
    width, height = stock.label
    for text in drawing.texts:
        assert stock.margin <= text.x and text.y - text.size >= 0
        assert text.y <= height - stock.margin + 4, text.words
        if text.squeeze:
            assert text.x + text.squeeze <= width - stock.margin
    assert drawing.qr is not None
    assert drawing.qr.x + drawing.qr.side <= width and drawing.qr.y + drawing.qr.side <= height


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_lines_do_not_run_over_each_other(stock: LabelStock) -> None:
    lines = sorted(draw_label(LONG, stock).texts, key=lambda text: text.y)
    for above, below in itertools.pairwise(lines):
        assert below.y - above.y >= below.size - 3, (above.words, below.words)


def test_the_sheet_and_the_fire_are_never_what_is_cut_off() -> None:
    for stock in STOCKS.values():
        words = [text.words for text in draw_label(LONG, stock).texts]
        assert RAGS_BURN in words
        assert any(line.startswith("See the sheet.") for line in words)


def test_labels_go_row_by_row_and_a_begun_sheet_is_used_up() -> None:
    stock = STOCKS["sheet-24"]
    pages = lay_out([LONG] * 24, stock, first=3)
    assert [len(page.drawings) for page in pages] == [22, 2]
    assert (pages[0].drawings[0].x, pages[0].drawings[0].y) == (72 + 2 * 660, 129)
    assert (pages[0].drawings[1].x, pages[0].drawings[1].y) == (72, 129 + 339)
    assert len(lay_out([LONG] * 3, STOCKS["roll-62x29"])) == 3


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_every_cell_lies_on_the_page_and_none_over_another(stock: LabelStock) -> None:
    (page,) = lay_out([LONG] * stock.on_page, stock)
    cells = [(d.x, d.y, d.x + d.width, d.y + d.height) for d in page.drawings]
    for left, top, right, bottom in cells:
        assert left >= 0 and top >= 0 and right <= stock.page[0] and bottom <= stock.page[1]
    for a, b in itertools.combinations(cells, 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


def test_a_nudge_moves_everything_by_half_millimetres() -> None:
    stock = STOCKS["sheet-14"]
    (plain,), (moved,) = lay_out([LONG], stock), lay_out([LONG], stock, (5, -10))
    assert (moved.drawings[0].x - plain.drawings[0].x, moved.drawings[0].y - plain.drawings[0].y) == (5, -10)
    assert NUDGES[0] == -50 and NUDGES[-1] == 50 and 0 in NUDGES


def test_the_ruler_is_fifty_millimetres_long() -> None:
    for stock in STOCKS.values():
        ruler = ruler_page(stock).drawings[-1]
        assert max(rule.width for rule in ruler.rules) == 500
        ticks = [rule.x for rule in ruler.rules if rule.width == 2]
        assert len(ticks) == 51 and max(ticks) - min(ticks) == 500


def test_the_paper_is_set_by_a_style_sheet() -> None:
    assert page_css(STOCKS["roll-62x29"]) == "@page { size: 62mm 29mm; margin: 0; }\n"
    assert "210mm 297mm" in page_css(STOCKS["sheet-24"])


def test_long_names_are_parted_between_words_and_then_cut() -> None:
    assert fit("", 300, 33, 2) == []
    assert len(fit("word " * 60, 300, 33, 2)) == 2
    assert fit("word " * 60, 300, 33, 2)[-1].endswith("…")
    assert fit("W" * 120, 300, 33, 2)[0].endswith("…")


# --- what stands on it, from the book ------------------------------------------------------------------


def box_of(session: Session, people: Cast, row: Material, **more: object) -> Held:
    asked = ReceiveAsked(f"label-{next(_keys):06d}", row.id or 0, **more)  # type: ignore[arg-type]
    key = next(_keys)
    settled = receive(session, people.actor(Role.FINISHER), NOW, asked, lambda: f"chance {key}")
    box = session.get(Container, settled.result["containers"][0]["id"])
    assert box is not None
    return Held(box, row)


def oil(session: Session, **more: object) -> Material:
    values = {
        "name": "Boiled oil",
        "kind": MaterialKind.BINDER,
        "form": Form.LIQUID,
        "created_at": NOW,
    } | more
    row = Material(**values)
    session.add(row)
    session.flush()
    return row


def test_a_sealed_can_has_lines_to_write_on_and_says_how_long_it_keeps(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        row = oil(session)
        session.add(
            AgeingPolicyRow(
                kind=row.kind, sealed_months=12, opened_months=6, end=PolicyEnd.RETEST.value, set_at=NOW
            )
        )
        session.flush()
        held = box_of(session, people, row, amount="1 l", packed_on=date(2026, 1, 5))
        face = container_face(session, held, TODAY, "https://store.example")
        assert face.lines == (("Packed", "5 Jan 2026"), ("Received", "12 Mar 2026"), ("Opened", None))
        assert face.strong == "In date until 5 Jan 2027 if sealed"
        assert face.code == show_code(held.container.code)
        assert face.qr == f"HTTPS://STORE.EXAMPLE/C/{held.container.code}"
        assert face.foot == (RAGS_BURN, "See the sheet. Hazards not known.")


def test_what_is_not_known_says_so(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        held = box_of(session, people, oil(session), amount="", opened=True, origin=Origin.STOCK_TAKE)
        face = container_face(session, held, TODAY, "")
        assert face.lines == (("Packed", None), ("Received", None), ("Opened", "day not known"))
        assert face.strong == "In date until: not known. Look first."


def test_the_rag_line_follows_the_rules_not_the_flag_alone(sqlite_database: Database) -> None:
    with sqlite_database.writing() as session:
        people = cast(session)
        spirit = oil(session, name="Spirit", kind=MaterialKind.SOLVENT, self_heating=SelfHeating.NO)
        face = container_face(session, box_of(session, people, spirit, amount="1 l"), TODAY, "")
        assert RAGS_BURN not in face.foot
        flagged = oil(session, name="Oil", self_heating=SelfHeating.NO)
        face = container_face(session, box_of(session, people, flagged, amount="1 l"), TODAY, "")
        assert RAGS_BURN in face.foot, "a binder whose oil is not known counts, whatever the flag says"


def test_hazard_classes_beyond_four_are_counted_not_dropped() -> None:
    row = Material(
        name="x",
        kind=MaterialKind.SOLVENT,
        form=Form.LIQUID,
        created_at=NOW,
        hazards=[f"Class {n}" for n in range(6)],
    )
    assert hazard_line(row) == "See the sheet. Class 0; Class 1; Class 2; Class 3 and 2 more"


def test_a_place_and_a_label_printed_ahead() -> None:
    can = Place(code=CODE, name="Red can", kind=PlaceKind.RAG_CAN, created_at=NOW)
    face = place_face("Red can, Store room", can, "")
    assert (face.title, face.strong, face.foot) == ("Red can", "Oily rags only", ("In: Store room",))
    (blank,) = blank_faces([CODE], "")
    assert blank.title == "Material:" and all(value is None for _, value in blank.lines)


def test_a_drawing_as_svg_is_well_formed_with_any_name() -> None:
    """The page's template escapes; here only that no sign of a name reaches a path or an attribute raw."""
    drawing: Drawing = draw_label(replace(LONG, title='<svg onload="x">&"\''), STOCKS["roll-62x29"])
    assert drawing.qr is not None
    root = ET.fromstring(f'<svg><path d="{drawing.qr.path}"/></svg>')
    assert root[0].get("d") == drawing.qr.path
