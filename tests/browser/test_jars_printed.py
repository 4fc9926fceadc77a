"""A batch from its additions to a printed jar label and a printed sheet, on paper of their own size."""

from __future__ import annotations

import io
import itertools
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp
from fastapi.testclient import TestClient
from PIL import Image
from playwright.sync_api import Browser, Page, Route
from sqlmodel import col, select

from service.actions.add_to_batch import AddAsked, add
from service.actions.fill_jars import JarAsked
from service.actions.finish_batch import FinishAsked, finish
from service.app import create_app
from service.config import Settings
from service.core.access import Role
from service.core.shelf_codes import show_code
from service.outreach.jar_label import JAR_SIZES
from service.records.engine import Database
from service.records.materials import Material
from tests.builders import FAST_HASHER
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import once
from tests.web.conftest import Clock, Shop

DPI = 300
_chance = itertools.count(1)
NOTE = "Stir from the bottom with a flat stick"


@dataclass
class Sheet:
    """One printed page: its sides in mm, its text with plain blanks, its dots and where letters stand."""

    sides: tuple[float, float]
    text: str
    dots: Image.Image
    letters: list[tuple[str, tuple[float, float, float, float]]]


class Paper:
    """A browser page whose every request is answered by the application in this process."""

    def __init__(self, page: Page, client: TestClient) -> None:
        self.page, self.client = page, client
        page.route("**/*", self._answer)

    def _answer(self, route: Route) -> None:
        got = self.client.get(route.request.url.split("testserver", 1)[1])
        headers = {k: v for k, v in got.headers.items() if k != "content-length"}
        route.fulfill(status=got.status_code, headers=headers, body=got.content)

    def printed(self, path: str) -> list[Sheet]:
        self.page.goto("http://testserver" + path)
        document = pypdfium2.PdfDocument(io.BytesIO(self.page.pdf(prefer_css_page_size=True)))
        found = []
        for one in document:
            words = one.get_textpage()
            letters = []
            for at in range(words.count_chars()):
                letter = words.get_text_range(at, 1)
                if letter.strip():
                    left, bottom, right, top = (side / 72 * 25.4 for side in words.get_charbox(at))
                    letters.append((letter, (left, bottom, right, top)))
            wide, high = (side / 72 * 25.4 for side in one.get_size())
            text = re.sub(r"\s+", " ", words.get_text_range().replace("\ufffe", "-"))
            dots = one.render(scale=DPI / 72).to_pil().convert("RGB")
            found.append(Sheet((wide, high), text, dots, letters))
        document.close()
        return found


@pytest.fixture
def mix(sqlite_database: Database) -> MixShop:
    """A batch of oil and spirit with classes of their own, finished into one jar of a litre."""
    shop = make_mix_shop(sqlite_database)
    for name in ("raw umber", "boiled oil", "spirit"):
        shop.can(name)
    with sqlite_database.writing() as session:
        spirit = session.exec(select(Material).where(col(Material.name) == "spirit")).one()
        spirit.hazards = ["Flam. Liq. 3 H226", "Asp. Tox. 1 H304", "STOT SE 3 H336"]
        session.add(spirit)
    return shop


@pytest.fixture
def paper(browser: Browser, mix: MixShop, sqlite_database: Database, tmp_path: Path) -> Iterator[Paper]:
    base = "https://store.example"
    settings = Settings(data=tmp_path, database_url="sqlite://", base_url=base, trusted_hosts=("testserver",))
    app = create_app(settings, sqlite_database, Clock(), hasher=FAST_HASHER)
    shop = Shop(app, sqlite_database, Clock(), mix.people)
    client = shop.signed_in(Role.KEEPER)
    # The base address is https, so the cookie carries the name that browsers keep for it.
    token = dict(client.cookies)
    client.cookies.clear()
    client.headers["cookie"] = f"__Host-umberkeep={next(iter(token.values()))}"
    context = browser.new_context()
    yield Paper(context.new_page(), client)
    context.close()
    for one in shop.clients:
        one.close()


def begun(shop: MixShop, recipe: int = 0) -> int:
    return int(shop.start(shop.keep(recipe=recipe)).result["batch"])


def finished(shop: MixShop, *jars: JarAsked, recipe: int = 0) -> tuple[int, list[str]]:
    batch = begun(shop, recipe)
    with shop.database.writing() as session:
        more = AddAsked(once=once(), batch_id=batch, amount="10 ml", material_id=shop.ids["tap water"])
        add(session, shop.actor(), shop.now, more)
        asked = FinishAsked(
            once=once(), batch_id=batch, jars=jars, yield_how="measured", loss="20 ml", loss_note="strainer",
            strained=True, stir_note=NOTE,
        )  # fmt: skip
        chance = lambda: f"printed {next(_chance)}"  # noqa: E731
        done = finish(session, shop.actor(), shop.now, asked, chance).result
    return batch, [jar["code"] for jar in done["jars"]]


def inside(sheet: Sheet) -> None:
    """Nothing is cut: every letter stands on the paper with half a millimetre to spare."""
    for letter, (left, bottom, right, top) in sheet.letters:
        wide, high = sheet.sides
        assert left > 0.5 and bottom > 0.5 and right < wide - 0.5 and top < high - 0.5, (letter, left, bottom)


def squeezed(text: str) -> str:
    """Without blanks and hyphens: a word parted at the end of a line is read back in two."""
    return re.sub(r"[\s\-\u00ad\ufffe]", "", text)


@pytest.mark.parametrize("key", ["105x148", "148x210"])
def test_a_jar_label_says_everything_at_its_size(paper: Paper, mix: MixShop, key: str) -> None:
    batch, (code,) = finished(mix, JarAsked("500 ml", capacity="500 ml"))
    (sheet,) = paper.printed(f"/containers/{code}/jar-label?size={key}")
    size = JAR_SIZES[key]
    assert sorted(sheet.sides) == pytest.approx([size.short / 100, size.long / 100], abs=0.4)
    inside(sheet)
    said = squeezed(sheet.text)
    for words in (
        "Walnut stain", f"Batch {batch}", "made 12 Mar 2026", "by", "Danger", "In date until", NOTE,
        "Stir before each dip; how fast it settles is not known.", show_code(code),
        "Oily rags: rags with it can ignite by themselves.", "Not complete: hazards of",
        "May be fatal if swallowed and enters airways",
    ):  # fmt: skip
        assert squeezed(words) in said, (words, sheet.text)
    (read,) = zxingcpp.read_barcodes(sheet.dots.convert("L"))
    assert read.text == f"HTTPS://STORE.EXAMPLE/C/{code}"
    red = [dot for _, dot in sheet.dots.getcolors(2**24) or [] if isinstance(dot, tuple)]
    assert any(dot[0] > 180 and dot[1] < 90 and dot[2] < 90 for dot in red), "a pictogram is framed in red"


def test_a_mild_wash_fits_on_a_smaller_paper(paper: Paper, mix: MixShop) -> None:
    key = "74x105"
    wash = mix.write(("raw umber", "10 g"), ("tap water", "500 ml"), name="Umber wash")
    _, (code,) = finished(mix, JarAsked("500 ml", capacity="500 ml"), recipe=wash)
    (sheet,) = paper.printed(f"/containers/{code}/jar-label?size={key}")
    size = JAR_SIZES[key]
    assert sorted(sheet.sides) == pytest.approx([size.short / 100, size.long / 100], abs=0.4)
    inside(sheet)
    said = squeezed(sheet.text)
    assert squeezed("Not complete: hazards of") in said and "Notalabel" not in said and "Oilyrags" not in said
    assert squeezed(NOTE) in said and squeezed(show_code(code)) in said
    (read,) = zxingcpp.read_barcodes(sheet.dots.convert("L"))
    assert read.text == f"HTTPS://STORE.EXAMPLE/C/{code}"


def test_what_does_not_fit_is_no_label_and_the_page_takes_the_next(paper: Paper, mix: MixShop) -> None:
    _, (code,) = finished(mix, JarAsked("500 ml", capacity="500 ml"))
    (small,) = paper.printed(f"/containers/{code}/jar-label?size=52x74")
    assert "Not a label." in small.text and "Danger" not in small.text
    inside(small)
    (whole,) = paper.printed(f"/containers/{code}/jar-label")
    assert "Danger" in whole.text and max(whole.sides) > 100


def test_no_short_label_where_something_is_not_known(paper: Paper, mix: MixShop) -> None:
    _, (code,) = finished(mix, JarAsked("500 ml", capacity="500 ml"))
    (sheet,) = paper.printed(f"/containers/{code}/jar-label?use=workplace&size=148x210")
    assert squeezed("so it gets no short label. Take the whole label.") in squeezed(sheet.text)
    assert not zxingcpp.read_barcodes(sheet.dots.convert("L"))


@pytest.mark.parametrize(("key", "sides"), [("a4", (210, 297)), ("letter", (215.9, 279.4))])
def test_the_sheet_of_a_finished_batch(
    paper: Paper, mix: MixShop, key: str, sides: tuple[float, float]
) -> None:
    batch, (code,) = finished(mix, JarAsked("500 ml", capacity="500 ml"))
    pages = paper.printed(f"/bench/{batch}/sheet?paper={key}")
    assert 1 <= len(pages) <= 3
    for one in pages:
        assert one.sides == pytest.approx(sides, abs=0.5)
        inside(one)
    text = " ".join(one.text for one in pages)
    for words in (
        "Walnut stain, version 1", "1. raw umber", "100 g", "300 ml", "tap water", "not in the recipe",
        "10 ml from the tap", "Not complete.", "Danger", "Ventilation class", "Rag load", "put away by",
        show_code(code), "Recorded as lost", "20 ml Walnut stain", "strainer", NOTE,
        "No clear coat before the next morning; later when it is cold or damp.",
        "no colour on a white rag", "Made by: ____", "Checked by: ____",
    ):  # fmt: skip
        assert words in text, (words, text)
    assert "Letter" not in text and "Sign out" not in text, "nothing of the screen is printed"


def test_the_sheet_of_a_running_batch_has_room_to_write(paper: Paper, mix: MixShop) -> None:
    batch = begun(mix)
    text = " ".join(one.text for one in paper.printed(f"/bench/{batch}/sheet"))
    assert "Made: ____" in text and "measured / estimated" in text and "Amount and code of each: ____" in text
    paper.page.goto(f"http://testserver/bench/{batch}")
    assert paper.page.get_by_role("link", name="Sheet to print").count() == 1
