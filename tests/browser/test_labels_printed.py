"""The label page printed by a real browser on its own paper size, turned into dots and read by a decoder."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp
from fastapi.testclient import TestClient
from PIL import Image
from playwright.sync_api import Browser, Page, Route

from service.actions.arrivals import ReceiveAsked
from service.actions.describe_material import MaterialAsked, describe_material
from service.actions.receive_stock import receive
from service.app import create_app
from service.clock import new_secret
from service.config import Settings
from service.core.access import Role
from service.core.material_entry import Description
from service.core.materials import Form, MaterialKind
from service.outreach.labels import STOCKS
from service.records.engine import Database
from tests.builders import FAST_HASHER, NOW, cast
from tests.web.conftest import Clock, Shop

HEAD_DPI = 200
"""A common thermal print head; 8 dots to the millimetre."""


class Printer:
    """A browser page whose every request is answered by the application in this process."""

    def __init__(self, page: Page, client: TestClient) -> None:
        self.page, self.client = page, client
        page.route("**/*", self._answer)

    def _answer(self, route: Route) -> None:
        path = route.request.url.split("testserver", 1)[1]
        got = self.client.get(path)
        headers = {k: v for k, v in got.headers.items() if k != "content-length"}
        route.fulfill(status=got.status_code, headers=headers, body=got.content)

    def paper(self, path: str) -> list[Image.Image]:
        """The pages as a print head of 200 dpi would burn them."""
        self.page.goto("http://testserver" + path)
        document = pypdfium2.PdfDocument(io.BytesIO(self.page.pdf(prefer_css_page_size=True)))
        self.millimetres = [tuple(side / 72 * 25.4 for side in page.get_size()) for page in document]
        pictures = [page.render(scale=HEAD_DPI / 72, grayscale=True).to_pil() for page in document]
        document.close()
        return pictures


@pytest.fixture
def labels(sqlite_database: Database, tmp_path: Path) -> Iterator[tuple[Shop, list[str]]]:
    base = "https://store.example"
    settings = Settings(data=tmp_path, database_url="sqlite://", base_url=base, trusted_hosts=("testserver",))
    with sqlite_database.writing() as session:
        people = cast(session)
        said = Description("Boiled linseed oil, artists' quality", MaterialKind.BINDER, Form.LIQUID)
        keeper = people.actor(Role.KEEPER)
        made = describe_material(session, keeper, NOW, MaterialAsked("printed-0001", said)).result
        asked = ReceiveAsked("printed-0002", made["material"], count=5, amount="1 l")
        came = receive(session, keeper, NOW, asked, new_secret).result
    app = create_app(settings, sqlite_database, Clock(), hasher=FAST_HASHER)
    shop = Shop(app, sqlite_database, Clock(), people)
    yield shop, [one["code"] for one in came["containers"]]
    for client in shop.clients:
        client.close()


@pytest.fixture
def printer(browser: Browser, labels: tuple[Shop, list[str]]) -> Iterator[Printer]:
    shop, _ = labels
    client = shop.signed_in(Role.KEEPER)
    # The base address is https, so the cookie carries the name that browsers keep for it.
    token = dict(client.cookies)
    client.cookies.clear()
    client.headers["cookie"] = f"__Host-umberkeep={next(iter(token.values()))}"
    context = browser.new_context()
    yield Printer(context.new_page(), client)
    context.close()


@pytest.mark.parametrize("key", STOCKS)
def test_every_printed_label_is_read_back(printer: Printer, labels: tuple[Shop, list[str]], key: str) -> None:
    _, codes = labels
    pages = printer.paper(f"/labels/print?stock={key}&" + "&".join(f"c={code}" for code in codes))
    stock = STOCKS[key]
    assert len(pages) == -(-len(codes) // stock.on_page)
    wide, high = (side / 10 for side in stock.page)
    for size in printer.millimetres:
        assert size == pytest.approx((wide, high), abs=0.5)
    read = [found.text for page in pages for found in zxingcpp.read_barcodes(page)]
    assert sorted(read) == sorted(f"HTTPS://STORE.EXAMPLE/C/{code}" for code in codes)


def test_the_ruler_measures_fifty_millimetres_on_paper(printer: Printer) -> None:
    (page,) = printer.paper("/labels/ruler?stock=roll-62x29")
    dark = page.point(lambda level: 255 if level < 128 else 0)
    # The long line lies 11.8 mm below the top of the label; look along it.
    row = dark.crop((0, int(11.6 / 25.4 * HEAD_DPI), page.width, int(12.2 / 25.4 * HEAD_DPI)))
    inside = row.crop((int(4 / 25.4 * HEAD_DPI), 0, int(58 / 25.4 * HEAD_DPI), row.height)).getbbox()
    assert inside is not None
    assert (inside[2] - inside[0]) / HEAD_DPI * 25.4 == pytest.approx(50, abs=0.4)


def test_nothing_of_the_screen_page_is_printed(printer: Printer, labels: tuple[Shop, list[str]]) -> None:
    _, codes = labels
    printer.paper(f"/labels/print?stock=roll-62x29&c={codes[0]}")
    printer.page.emulate_media(media="print")
    assert not printer.page.locator("header.top").is_visible()
    assert not printer.page.locator("h1").is_visible()
    assert printer.page.locator("svg.label-paper").is_visible()
