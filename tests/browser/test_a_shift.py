"""A whole shift by clicks and typing: a class with oil, an overdue evening, the block, an override, the drum
outside, the day closed, the day sheet on paper. The service's clock is moved by hand.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pypdfium2
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from service.core.containers import Standing
from service.core.shelf_codes import show_code
from tests.browser.addresses import code_of
from tests.browser.conftest import DESKTOP, PHONE
from tests.browser.live_server import LiveServer, start_server
from tests.browser.page_audit import Watch, page_faults, watch
from tests.browser.walking import act, container, fresh, menu, press, scan, seen, sign_in
from tests.wall_clock import Wall

ZONE = ZoneInfo("Europe/Berlin")
PIN = "2648"
HELD = "Evening class, oil on ash"
AFTER = "Hall bench, one more coat"
REASON = "The hall opens tomorrow at eight and this bench is half coated."


def at(clock: str) -> datetime:
    """A time of the Wednesday on which the story plays, on the shop's wall."""
    hour, minute = (int(part) for part in clock.split(":"))
    return datetime(2027, 3, 10, hour, minute, tzinfo=ZONE).astimezone(UTC)


@dataclass
class Evening:
    """The shop of the story, its clock, and the browsers of its people."""

    server: LiveServer
    wall: Wall
    browser: Browser
    contexts: list[BrowserContext] = field(default_factory=list)
    heard: list[Watch] = field(default_factory=list)

    def watched(self, **width: object) -> Page:
        context, page = fresh(self.browser, locale="en-GB", **width)
        self.contexts.append(context)
        self.heard.append(watch(page))
        return page

    def as_person(self, name: str, **width: object) -> Page:
        page = self.watched(**width)
        sign_in(page, self.server, name)
        return page

    def code(self, material: str) -> str:
        return code_of(self.server, Standing.IN_DATE, material)


@pytest.fixture
def evening(browser: Browser, tmp_path: Path) -> Iterator[Evening]:
    wall = Wall(tmp_path / "clock")
    wall.set(at("15:00"))
    server = start_server(tmp_path, env=wall.environment() | {"TZ": ZONE.key})
    made = Evening(server, wall, browser)
    yield made
    for context in made.contexts:
        context.close()
    server.stop()


def look(page: Page, name: str) -> None:
    """The page as it stands has no fault that a machine can see."""
    assert not page_faults(page), name


def open_a_job(page: Page, name: str, kind: str, *people: str) -> None:
    menu(page, "Jobs")
    press(page, "Open a job")
    page.get_by_label("Name of the job").fill(name)
    page.get_by_label(kind).check()
    for person in people:
        page.get_by_label(person).check()
    look(page, f"open-{kind}")
    page.get_by_role("button", name="Open the job").click()
    expect(seen(page, "No oil has been drawn for it")).to_be_visible()


def yesterdays_rags_leave(page: Page) -> None:
    """What the demo left overdue is handed over, so that the day begins clean."""
    page.get_by_role("link", name="Put them away").first.click()
    page.get_by_role("button", name="In the rag can now").click()
    menu(page, "Rags")
    press(page, "The whole can left")
    page.get_by_role("link", name="Red rag can by the yard door").click()
    expect(page.get_by_role("link", name=re.compile("Rag load 3")).first).to_be_visible()
    page.get_by_label("The hauler took them").check()
    page.get_by_label("Name of the hauler, municipality or laundry").fill("Bell Lane Haulage")
    page.get_by_label("Just now").check()
    page.get_by_role("button", name="It left, with all of this").click()
    expect(page.get_by_text("1 rag load left the building")).to_be_visible()


def hand(page: Page, way: str, pieces: str) -> None:
    page.get_by_label(way).check()
    page.get_by_label("How many pieces?").fill(pieces)
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text(f"{pieces} rags: written down")).to_be_visible()


def the_tablet(evening: Evening, keeper: Page) -> Page:
    """The tablet on the wall, signed in by the address that a keeper makes for it."""
    menu(keeper, "People")
    press(keeper, "Tablets and scripts")
    keeper.get_by_role("button", name="Make its address").first.click()
    address = keeper.locator("p.code").first.inner_text().replace("\n", "").strip()
    tablet = evening.watched(viewport={"width": 800, "height": 1180}, has_touch=True)
    tablet.goto(evening.server.base + re.sub(r"^https?://[^/]+", "", address))
    tablet.get_by_role("main").get_by_role("button").first.click()
    return tablet


def tap(tablet: Page, name: str) -> None:
    tablet.goto(re.sub(r"(https?://[^/]+)/.*", r"\1/tap", tablet.url))
    tablet.get_by_role("link", name=name).click()
    tablet.get_by_label("PIN").fill(PIN)
    tablet.get_by_role("button", name=f"Go on as {name}").click()


def students_draw(evening: Evening, tablet: Page, oil: str) -> None:
    for name in ("Mina Tell", "Jory Vane", "Pip Arden"):
        tap(tablet, name)
        scan(tablet, oil)
        draw_for(tablet, "10 ml", HELD)
        expect(seen(tablet, "Drew 10 ml")).to_be_visible()
        look(tablet, f"tablet-{name[:4]}")


def draw_for(page: Page, amount: str, job: str) -> None:
    act(page, "Draw from it")
    page.get_by_label("How much?").fill(amount)
    jobs = page.get_by_label("For which job?")
    label = jobs.locator("option", has_text=job).inner_text()
    jobs.select_option(label=label)
    page.get_by_label("I am about to do it").check()
    look(page, "draw-form")
    page.get_by_role("button", name="Draw it").click()


def an_hour_before(evening: Evening, sela: Page, tablet: Page) -> None:
    """From an hour before, the header of every page counts the minutes; the class puts its rags away."""
    evening.wall.set(at("15:50"))
    for page, said in ((sela, HELD), (tablet, "must soon leave the building")):
        page.reload()
        expect(page.get_by_label("Oily rags").filter(has_text=said).first).to_be_visible()
    look(sela, "notice-phone")
    menu(sela, "Jobs")
    press(sela, HELD)
    press(sela, "Rags handed out and in")
    hand(sela, "Handed in", "12")
    away = sela.get_by_role("link", name="Put them away")
    for left in (1, 0):  # the class of the demo's own day and this one
        away.first.click()
        look(sela, f"load-{left}")
        sela.get_by_role("button", name="In the rag can now").click()
        expect(seen(sela, re.compile("in the rag can"))).to_be_visible()
        look(sela, f"contained-{left}")
        expect(away).to_have_count(left)


def the_evening_is_blocked(evening: Evening, tilda: Page, tablet: Page, oil: str) -> None:
    """The class has gone home, the can is still in the hall: from 16:30 on nobody draws oil."""
    evening.wall.set(at("18:10"))
    menu(tilda, "Today")
    expect(tilda.get_by_label("Oily rags").filter(has_text="overdue").first).to_be_visible()
    look(tilda, "evening-today")
    open_a_job(tilda, AFTER, "Shop work")
    container(tilda, oil)
    draw_for(tilda, "50 ml", AFTER)
    expect(tilda.get_by_text("Nothing was booked.")).to_be_visible()
    look(tilda, "blocked")


def one_draw_is_let_through(evening: Evening, tilda: Page, sela: Page, oil: str) -> None:
    """A keeper lets one draw through, with a reason, to the end of its job; the second is stopped again."""
    sela.goto(evening.server.base + "/rags/overrides")
    expect(sela.get_by_role("button", name="Let it through once")).to_have_count(0)
    menu(tilda, "Rags")
    press(tilda, "Overrides")
    tilda.get_by_label("One draw from one container").check()
    tilda.get_by_label("Container code").fill(show_code(oil))
    tilda.get_by_label(re.compile(AFTER)).check()
    tilda.get_by_label("Until the time below").check()
    tilda.get_by_label("Until", exact=True).fill("11 Mar 2027 07:00")
    tilda.get_by_label("Why").fill(REASON)
    look(tilda, "override-form")
    tilda.get_by_role("button", name="Let it through once").click()
    expect(seen(tilda, "It can last until that job ends, no longer")).to_be_visible()
    expect(tilda.get_by_label("Why")).to_have_value(REASON)
    look(tilda, "override-refused")
    tilda.get_by_label("Until that job ends").check()
    tilda.get_by_role("button", name="Let it through once").click()
    expect(seen(tilda, f"draw of {show_code(oil)}")).to_be_visible()
    look(tilda, "override-given")
    container(tilda, oil)
    draw_for(tilda, "50 ml", AFTER)
    expect(seen(tilda, "Drew 50 ml")).to_be_visible()
    container(tilda, oil)
    draw_for(tilda, "50 ml", AFTER)
    expect(tilda.get_by_text("Nothing was booked.")).to_be_visible()


def into_the_drum(tilda: Page) -> None:
    """The last rags into the can, and everything that is in the can into the drum in the yard."""
    menu(tilda, "Rags")
    look(tilda, "rags-overdue")
    tilda.get_by_role("link", name=re.compile(AFTER)).filter(visible=True).first.click()
    tilda.get_by_role("button", name="In the rag can now").click()
    expect(seen(tilda, "in the rag can")).to_be_visible()
    menu(tilda, "Rags")
    press(tilda, "Cans and drums")
    look(tilda, "cans")
    press(tilda, "Red rag can by the yard door")
    expect(seen(tilda, "does the lid still fall shut over them?")).to_be_visible()
    tilda.get_by_label("Into which can or drum?").select_option(label="Rag drum in the yard")
    tilda.get_by_label("Wholly under water").check()
    tilda.get_by_label("Mass in the drum outside").fill("900 g")
    tilda.get_by_label("When is it collected, if you know?").fill("30 Mar 2027")
    tilda.get_by_label("Just now").check()
    look(tilda, "can-empty")
    tilda.get_by_role("button", name="It is emptied").click()
    expect(tilda.get_by_text("Written down: 3 rag loads.")).to_be_visible()


def given_up(page: Page) -> None:
    """The batch that stands in the way is a press away; it goes into the waste drum."""
    page.get_by_role("link", name="To batch").click()
    press(page, "Give it up")
    page.get_by_label("Why is it given up?").fill("The class went home before it was finished")
    page.get_by_label(re.compile("waste drum")).first.check()
    page.get_by_role("button", name="Give it up").click()
    # Its pot was wiped: what was in the drum is not all there is any more.
    press(page, "Put its rags away")
    page.get_by_role("button", name="In the rag can now").click()
    look(page, "load-again")
    page.get_by_role("link", name=re.compile("^Empty “Red rag can by the yard door”")).click()
    page.get_by_label("Wholly under water").check()
    page.get_by_label("Just now").check()
    page.get_by_role("button", name="It is emptied").click()
    menu(page, "Jobs")


def the_day_is_closed(tilda: Page) -> None:
    """The list says what is open; every job is closed, then the day, and its sheet goes on paper."""
    menu(tilda, "Rags")
    expect(tilda.get_by_label("Oily rags").filter(has_text="overdue")).to_have_count(0)
    press(tilda, "Close the day")
    expect(seen(tilda, f"The job {HELD} is still open. Close it first.")).to_be_visible()
    expect(tilda.get_by_role("button", name="Close the day")).to_have_count(0)
    look(tilda, "day-list")
    expect(tilda.get_by_role("link", name="Close this job").first).to_be_visible()
    for name in ("Table top, last coat", "Class: glazing sample boards", HELD, AFTER):
        menu(tilda, "Jobs")
        press(tilda, name)
        press(tilda, "Close this job")
        look(tilda, "close-job")
        if tilda.get_by_role("link", name="To batch").count():
            given_up(tilda)
            press(tilda, name)
            press(tilda, "Close this job")
        tilda.get_by_role("button", name="Close the job").click()
        expect(tilda.get_by_text("Closed.").first).to_be_visible()
    menu(tilda, "Rags")
    press(tilda, "Close the day")
    look(tilda, "day-free")
    tilda.get_by_label("Remark").fill("Hall swept, can empty, drum topped up with water")
    tilda.get_by_role("button", name="Close the day").click()
    expect(seen(tilda, "Day closed 10 Mar 2027")).to_be_visible()
    tilda.get_by_role("button", name="Write the head down, then print").click()
    expect(seen(tilda, "written down")).to_be_visible()
    look(tilda, "sheet-screen")


def on_paper(page: Page) -> list[str]:
    """The words of each printed page, those alone that stand whole between its edges."""
    edges = {"top": "12mm", "right": "12mm", "bottom": "12mm", "left": "12mm"}
    document = pypdfium2.PdfDocument(io.BytesIO(page.pdf(format="A4", margin=edges)))  # type: ignore[arg-type]
    pages = []
    for sheet in document:
        text = sheet.get_textpage()
        width, height = sheet.get_size()
        words = text.get_text_range()
        for n in range(text.count_chars()):
            left, bottom, right, top = text.get_charbox(n)
            whole = left >= 0 and bottom >= 0 and right <= width and top <= height
            assert whole or not text.get_text_range(n, 1).strip(), text.get_text_range(n, 20)
        pages.append(words)
    document.close()
    return pages


def the_sheet_on_paper(tilda: Page, oil: str) -> None:
    words = " ".join(" ".join(on_paper(tilda)).split())
    for said in (
        "Day sheet, 10 Mar 2027", "Day closed 10 Mar 2027", "Hall swept, can empty", HELD, AFTER, "Mina Tell",
        "Rag load 4", "Rag load 5", "Rag load 6", "In the drum outside", "Bell Lane Haulage", REASON,
        f"draw of {show_code(oil)} in {AFTER}",
        "Tilda Marsh", "Head of the rag log", "Hash of the last", "Leader: ____", "Keeper: ____",
    ):  # fmt: skip
        assert said in words, said
    for unwanted in ("Menu", "Spill or fire", "Write the head down"):
        assert unwanted not in words


def test_a_shift(evening: Evening) -> None:
    oil = evening.code("Boiled linseed oil")
    sela = evening.as_person("sela", **PHONE)
    tilda = evening.as_person("tilda", **DESKTOP)
    yesterdays_rags_leave(tilda)
    open_a_job(sela, HELD, "Class", "Mina Tell", "Jory Vane", "Pip Arden")
    press(sela, "Rags handed out and in")
    hand(sela, "Handed out", "12")
    look(sela, "handed")
    tablet = the_tablet(evening, tilda)
    students_draw(evening, tablet, oil)
    an_hour_before(evening, sela, tablet)
    the_evening_is_blocked(evening, tilda, tablet, oil)
    one_draw_is_let_through(evening, tilda, sela, oil)
    into_the_drum(tilda)
    the_day_is_closed(tilda)
    the_sheet_on_paper(tilda, oil)
    assert not [fault for heard in evening.heard for fault in heard.faults]
