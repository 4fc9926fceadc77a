"""The list of what goes first, the year ahead, the second clock of a tin, and why the check takes it."""

from __future__ import annotations

import re
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import event

from service.actions.draw_stock import DrawAsked, draw
from service.core.access import Role
from service.core.containers import Condition
from service.core.shelf_codes import show_code
from service.records.materials import Material
from service.records.places import PlaceKind
from service.web.render import HARD
from tests.builders import NOW
from tests.mixing_shop import make_mix_shop
from tests.store_builders import job, material, oil, once, place, received
from tests.web.conftest import Shop

LITRE: dict[str, Any] = {"capacity_ul": 1_000_000, "is_open": False}
YEAR = {"sealed_months": 120, "opened_months": 12, "end": "retest"}


def linseed(shop: Shop) -> int:
    with shop.database.writing() as session:
        row = oil(session, policy=YEAR)
        row.oil_share_percent = Decimal(100)
        session.add(row)
        session.flush()
        return row.id or 0


def tin(shop: Shop, number: int, *amounts: str, of_job: int | None = None, **facts: Any) -> str:
    with shop.database.writing() as session:
        stuff = session.get(Material, number)
        assert stuff is not None
        code = received(session, shop.actor(Role.KEEPER), stuff, **(LITRE | facts))
        for n, amount in enumerate(amounts):
            asked = DrawAsked(once=once(), code=code, amount=amount, job_id=of_job)
            draw(session, shop.actor(Role.KEEPER), NOW + timedelta(seconds=n), asked)
        return code


def in_order(text: str, *codes: str) -> list[int]:
    return [text.index(f">{show_code(code).replace(' ', HARD)}<") for code in codes]


def test_the_block_tells_openings_assumptions_and_what_to_do(shop: Shop) -> None:
    code = tin(shop, linseed(shop), "400 ml", "300 ml")
    text = shop.signed_in(Role.FINISHER).get(f"/containers/{code}").text.replace(HARD, " ")
    block = text[text.index("A second clock: air in the tin") :]
    assert "By the book it had 2 openings." in block
    assert "at most" not in block[: block.index("It never makes")] and "It can be more: other air" in block
    assert "filled to nine tenths at most (common practice, no source)" in block
    assert "can have spent 1.92 to 2.55 g of oil: 0.687 to 0.916 % of what is in it" in block
    assert "It never makes a date later." in block and "What it takes for granted" in block
    assert "Decant it into a jar of 375 ml: that saves 0.625 l of air and 0.174 g of oxygen" in block
    assert "unsourced web page" in block and "journal" in block, "every practice and figure with its grade"
    assert "99.1 %" in block and "the width of the tin is not written down" in block


def test_a_skin_is_told_once_the_width_is(shop: Shop) -> None:
    """2.55 g at most over 91.6 cm²: 0.3 mm."""
    code, client = tin(shop, linseed(shop), "400 ml", "300 ml"), shop.signed_in(Role.READER)
    told = client.get(f"/containers/{code}?across=108").text.replace(HARD, " ")
    assert "0.225 to 0.3 mm" in told and "108 mm across" in told and "e-across" not in told
    for odd in ("wide", "0", "-4", "1e9", "NaN", "<b>", "9999"):
        answer = client.get(f"/containers/{code}", params={"across": odd})
        assert answer.status_code == 200 and "from 5 to 2000, like 108" in answer.text, odd
        assert "<b>" not in answer.text
    assert client.get(f"/containers/{code}", params={"across": "9" * 21}).status_code == 422
    dark = tin(shop, linseed(shop), "400 ml", capacity_ul=None)
    assert "the air of some opening is not known" in client.get(f"/containers/{dark}?across=108").text


def test_nothing_is_said_of_what_is_sealed_or_holds_no_oil(shop: Shop) -> None:
    with shop.database.writing() as session:
        umber = received(session, shop.actor(Role.KEEPER), material(session), capacity_ul=1_000_000)
    client = shop.signed_in(Role.KEEPER)
    for code in (tin(shop, linseed(shop)), umber):
        assert "A second clock" not in client.get(f"/containers/{code}").text
    used = tin(shop, linseed(shop), "100 ml")
    assert "A second clock" in client.get(f"/containers/{used}").text
    assert "A second clock" not in shop.signed_in(Role.STUDENT).get(f"/containers/{used}").text


@pytest.mark.parametrize("facts", [{"capacity_ul": None}, {"is_open": True}])
def test_what_is_not_known_is_said_on_the_page(shop: Shop, facts: dict[str, Any]) -> None:
    code = tin(shop, linseed(shop), "400 ml", **facts)
    text = shop.signed_in(Role.KEEPER).get(f"/containers/{code}").text
    block = text[text.index("A second clock: air in the tin") : text.index("What to do</h3>")]
    assert "not known" in block and "at most" not in block and "% of what is in it" not in block


def test_the_life_is_drawn_with_its_words(shop: Shop) -> None:
    code = tin(shop, linseed(shop), "10 ml", packed_on=date(2024, 2, 29), received_on=date(2024, 3, 4))
    text = shop.signed_in(Role.KEEPER).get(f"/containers/{code}").text
    picture = re.search(r'<svg class="pic".*?</svg>', text, re.S)
    assert picture and "<title" in picture[0] and "packed 29" in picture[0] and "today 12" in picture[0]
    assert "style=" not in picture[0] and "The same as a table" in text
    with shop.database.writing() as session:
        dark = received(
            session, shop.actor(Role.KEEPER), material(session), packed_on=None, received_on=None
        )
    told = shop.signed_in(Role.KEEPER).get(f"/containers/{dark}").text
    assert "pic-not-known-part" in told and "pic-in-date-part" not in told.split("pic-legend")[0]


def test_the_soonest_goes_first_and_of_equal_dates_what_had_more_air(shop: Shop) -> None:
    number = linseed(shop)
    once_only, often = tin(shop, number, "600 ml"), tin(shop, number, *["100 ml"] * 6)
    sooner = tin(shop, number, "10 ml", printed_date=date(2026, 4, 30))
    past = tin(shop, number, printed_date=date(2026, 3, 1))
    text = shop.signed_in(Role.READER).get("/use-first").text
    assert in_order(text, sooner, often, once_only) == sorted(in_order(text, sooner, often, once_only))
    assert f">{show_code(past).replace(' ', HARD)}<" not in text and "1 container is past" in text
    assert "opened 6 times" in text and "half empty" in text


def test_the_list_is_by_place_and_tells_what_leaks(shop: Shop) -> None:
    number = linseed(shop)
    with shop.database.writing() as session:
        shelves = [place(session, name, PlaceKind.SHELF).id for name in ("Shelf A", "Shelf <B>", "Shelf A")]
    here = tin(shop, number, "10 ml", place_id=shelves[0], condition=Condition.LEAKING)
    there = tin(shop, number, "10 ml", place_id=shelves[1], printed_date=date(2026, 4, 1))
    twin = tin(shop, number, "10 ml", place_id=shelves[2])
    text = shop.signed_in(Role.KEEPER).get("/use-first").text
    heads = re.findall(r"<h2>(.*?)</h2>", text)
    assert heads[0] == "Shelf &lt;B&gt;" and sum(head.startswith("Shelf A (") for head in heads) == 2
    assert in_order(text, there, here, twin)[0] < min(in_order(text, here, twin))
    assert "Ends within the year, leaks, open already" in text


def test_recipes_are_told_that_use_up_what_ends(shop: Shop) -> None:
    mixing = make_mix_shop(shop.database, shop.cast)
    for _ in range(3):
        mixing.can("boiled oil", 500_000, printed_date=date(2026, 5, 31))
    mixing.can("drier", 500_000, printed_date=date(2026, 5, 2))
    text = shop.signed_in(Role.KEEPER).get("/use-first").text
    told = re.sub(r"\s+", " ", text)
    assert "Three containers of boiled oil end in May 2026" in told
    assert re.search(r'boiled oil end in May 2026.*?Used in: <a href="/recipes/\d+">Walnut stain</a>', told)
    assert re.search(r"One container of drier ends in May 2026.*?No recipe in use has it", told)


def test_a_large_store_is_looked_at_in_part_and_that_is_said(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    number = linseed(shop)
    codes = [tin(shop, number, printed_date=date(2026, 4, 1) + timedelta(days=n)) for n in range(6)]
    whole = shop.signed_in(Role.KEEPER).get("/use-first").text
    assert "looks at the first" not in whole and in_order(whole, *codes) == sorted(in_order(whole, *codes))
    monkeypatch.setattr("service.actions.list_use_first.MOST_OF_A_SORT", 3)
    some = shop.signed_in(Role.KEEPER).get("/use-first").text
    assert "looks at the first" in some and in_order(some, *codes[:3]) == sorted(in_order(some, *codes[:3]))
    assert f">{show_code(codes[5]).replace(' ', HARD)}<" not in some
    monkeypatch.setattr("service.web.pages.use_first.PER_PAGE", 2)
    pages = [shop.signed_in(Role.KEEPER).get(f"/use-first?page={n}").text for n in (1, 2, 3)]
    assert "Page 1 of 2" in pages[0] and "Page 2 of 2" in pages[1]
    in_order(pages[1], codes[2])
    assert "The list ends before this page" in pages[2] and "Nothing in the store" not in pages[2]


def test_an_empty_list_promises_nothing(shop: Shop) -> None:
    text = shop.signed_in(Role.READER).get("/use-first").text
    assert "That does not mean that all of it is sound" in text
    assert shop.signed_in(Role.READER).get("/use-first?page=7").status_code == 200
    assert shop.signed_in(Role.READER).get("/use-first?page=nine").status_code == 422


def test_the_list_costs_as_many_queries_for_many_as_for_few(shop: Shop) -> None:
    number, client, counts = linseed(shop), shop.signed_in(Role.KEEPER), []
    with shop.database.writing() as session:
        at_work = job(session, shop.actor(Role.KEEPER)).id  # one job, so that one load stands above the page
    for _ in range(2):
        for _ in range(12):
            tin(shop, number, "10 ml", of_job=at_work)
        seen: list[str] = []

        def count(*said: Any, seen: list[str] = seen) -> None:
            seen.append(said[2])

        event.listen(shop.database.engine, "before_cursor_execute", count)
        assert client.get("/use-first").status_code == 200 and client.get("/year-ahead").status_code == 200
        event.remove(shop.database.engine, "before_cursor_execute", count)
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_the_year_ahead_is_drawn_and_counted(shop: Shop) -> None:
    number = linseed(shop)
    days = [(2026, 5, 3), (2026, 5, 31), (2027, 2, 28), (2027, 3, 12), (2027, 4, 1), (2026, 3, 1)]
    for day in (date(*one) for one in days):
        tin(shop, number, printed_date=day)
    with shop.database.writing() as session:
        received(session, shop.actor(Role.KEEPER), material(session), packed_on=None, received_on=None)
    text = shop.signed_in(Role.READER).get("/year-ahead").text
    assert "Containers in date until a day of: May 2026 2, February 2027 1, March 2027 1." in text
    rows = dict(re.findall(r"<dt>(.*?)</dt><dd>(\d+)", text))
    assert rows["Past already"] == "1" and rows["Not known"] == "1" and rows["End later"] == "1"
    assert "they are discarded" not in text and "on the shelf still, to be discarded" in text
    assert '<title id="year-title">' in text and "style=" not in text[text.index("<svg class=\"pic\"") :]


def test_the_check_says_why_this_tin(shop: Shop) -> None:
    mixing = make_mix_shop(shop.database, shop.cast)
    facts: dict[str, Any] = {"capacity_ul": 1_000_000}
    less, more = mixing.can("boiled oil", **facts), mixing.can("boiled oil", **facts)
    mixing.can("raw umber")
    mixing.can("spirit")
    with shop.database.writing() as session:
        for n, (code, amount) in enumerate([(less, "300 ml"), *[(more, "50 ml")] * 6]):
            asked = DrawAsked(once=once(), code=code, amount=amount)
            draw(session, shop.actor(Role.KEEPER), NOW + timedelta(seconds=n), asked)
    kept = mixing.keep()
    text = shop.signed_in(Role.FINISHER).get(f"/checks/{kept}").text
    assert f">{show_code(more)}<" in text and f">{show_code(less)}<" not in text
    assert "Why this one" in text and "Use first: open already" in text and "opened 7 times" in text
    answer = shop.api(Role.FINISHER).post(f"/api/recipes/{mixing.recipe}/check", json={"amount": "1 times"})
    whys = {one["code"]: one["why"] for one in answer.json()["allocations"]}
    assert whys[more].startswith("use first: open already")
    start = mixing.start(kept)
    assert start.result, "a check with its reasons starts as ever"
