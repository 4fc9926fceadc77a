"""Taking in through the pages: one question at a time, the opening stock-take, the labels afterwards."""

from __future__ import annotations

import itertools
import re
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from service.core.access import Role
from service.core.containers import ContainerState
from service.core.materials import Form, MaterialKind
from service.core.shelf_codes import make_code
from service.records.materials import Material
from service.records.places import Place, PlaceKind
from service.records.stock import Container
from tests.web.conftest import Shop

_keys = itertools.count(1)


def once() -> str:
    return f"take-key-{next(_keys):06d}"


@pytest.fixture
def oil(shop: Shop) -> int:
    """A liquid without any fact, and a cabinet with number 1."""
    with shop.database.writing() as session:
        row = Material(
            name="Linseed oil", kind=MaterialKind.BINDER, form=Form.LIQUID, created_at=shop.clock()
        )
        session.add(row)
        session.add(
            Place(code=make_code(1), name="Cabinet A", kind=PlaceKind.CABINET, created_at=shop.clock())
        )
        session.flush()
        assert row.id is not None
        return row.id


def boxes(shop: Shop) -> list[Container]:
    with shop.database.reading() as session:
        return list(session.exec(select(Container).order_by(Container.code)).all())


def hidden(page: str) -> dict[str, str]:
    """The hidden fields of the page's form, as a browser would send them."""
    return dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', page))


def walk(shop: Shop, oil: int, answers: list[dict[str, str]], role: Role = Role.FINISHER) -> Any:
    """Answer one question after the other as a browser does; the last answer of the service."""
    client = shop.signed_in(role)
    page = client.get(f"/receive/{oil}")
    for answer in answers:
        page = client.post(f"/receive/{oil}", data=hidden(page.text) | answer)
        if page.status_code != 200:
            break
    return page


def test_four_questions_and_twelve_containers(shop: Shop, oil: int) -> None:
    done = walk(
        shop,
        oil,
        [
            {"count": "12", "amount": "60 ml"},
            {"packed_on": "3 Nov 2025", "lot": "77-B", "supplier": "North mill"},
            {"place_id": "1"},
            {"opened": "sealed", "condition": "sound", "sheet_came": "no"},
        ],
    )
    assert done.status_code == 303
    came = boxes(shop)
    assert len(came) == 12 and {box.balance for box in came} == {60_000}
    assert {box.lot for box in came} == {"77-B"} and all(box.place_id == 1 for box in came)
    page = shop.signed_in(Role.FINISHER).get(done.headers["location"]).text
    assert "12 containers of Linseed oil" in page and "Print labels" in page
    assert page.count("/C/") == 12
    assert "No safety data sheet" in page, "what is missing is said"


def test_nothing_known_is_taken_in_as_not_known(shop: Shop, oil: int) -> None:
    assert (
        walk(shop, oil, [{"count": "1"}, {}, {}, {"condition": "sound", "opened": "sealed"}]).status_code
        == 303
    )
    (box,) = boxes(shop)
    assert box.balance is None and box.packed_on is None and box.place_id is None


def test_an_ambiguous_amount_is_asked_at_its_own_question(shop: Shop, oil: int) -> None:
    page = walk(shop, oil, [{"count": "2", "amount": "1 quart"}])
    assert page.status_code == 422
    assert "How many, and how much in each?" in page.text
    assert re.search(r'name="amount" value="1 US quart"', page.text), "the readings are buttons"
    on = walk(shop, oil, [{"count": "2", "amount": "1 US quart"}])
    assert on.status_code == 200 and "Which dates are on it?" in on.text


@pytest.mark.parametrize(
    ("answers", "heading", "words"),
    [
        ([{"count": "201"}], "How many", "Enter a count from 1 to 200."),
        ([{"count": "0"}], "How many", "Enter a count from 1 to 200."),
        ([{"amount": "half"}], "How many", "what it holds when full"),
        ([{"amount": "some of it"}], "How many", "cannot be read as an amount"),
        ([{"amount": "1 l"}, {"packed_on": "3/4/2025"}], "Which dates", "Write the month as a name"),
        ([{"amount": "1 l"}, {"packed_on": "3 Nov 2027"}], "Which dates", "after the day it was taken in"),
        ([{"amount": "1 l"}, {}, {}, {"condition": "sound"}], "How did it come?", "sealed or open"),
        (
            [{"amount": "1 l"}, {}, {"place_id": "99"}, {"opened": "sealed"}],
            "Where does it stand?",
            "one of the places",
        ),
        (
            [{"amount": "1 l"}, {}, {}, {"opened": "sealed", "opened_on": "3 Nov 2025"}],
            "How did it come?",
            "no opening day",
        ),
    ],
)
def test_each_complaint_stands_at_its_own_question_and_answers_stay(
    shop: Shop, oil: int, answers: list[dict[str, str]], heading: str, words: str
) -> None:
    page = walk(shop, oil, answers)
    assert page.status_code == 422
    assert heading in page.text and words in page.text
    for answer in answers:
        for name, value in answer.items():
            # A list cannot show a number that is not in it.
            assert name == "place_id" or f'value="{value}"' in page.text
    assert not boxes(shop)


def test_back_keeps_what_was_answered(shop: Shop, oil: int) -> None:
    client = shop.signed_in(Role.FINISHER)
    page = walk(shop, oil, [{"count": "3", "amount": "1 l"}])
    back = client.post(f"/receive/{oil}", data=hidden(page.text) | {"lot": "A 5", "back": "amount"})
    assert back.status_code == 200
    assert 'value="3"' in back.text and 'value="1 l"' in back.text and 'value="A 5"' in back.text


def test_a_double_tap_takes_in_once(shop: Shop, oil: int) -> None:
    client = shop.signed_in(Role.FINISHER)
    last = walk(shop, oil, [{"count": "2", "amount": "1 l"}, {}, {}])
    form = hidden(last.text) | {"condition": "sound", "opened": "sealed"}
    first, second = (client.post(f"/receive/{oil}", data=form) for _ in range(2))
    assert first.headers["location"] == second.headers["location"]
    assert len(boxes(shop)) == 2


def test_leaking_and_open_with_an_unknown_day(shop: Shop, oil: int) -> None:
    done = walk(shop, oil, [{"amount": "about 200 ml"}, {}, {}, {"opened": "open", "condition": "leaking"}])
    page = shop.signed_in(Role.FINISHER).get(done.headers["location"]).text
    assert "It leaks." in page and "nobody knows since when" in page
    (box,) = boxes(shop)
    assert box.state is ContainerState.OPEN and box.opened_on is None


def test_the_list_to_choose_from_and_who_may(shop: Shop, oil: int) -> None:
    finisher = shop.signed_in(Role.FINISHER)
    assert f'href="/receive/{oil}"' in finisher.get("/receive?q=LINSEED").text
    assert "No material matches" in finisher.get("/receive?q=%25").text, "a per cent sign is no wild card"
    for role in (Role.STUDENT, Role.READER):
        assert shop.signed_in(role).get("/receive").status_code == 403
    assert finisher.get("/receive/999").status_code == 404
    assert finisher.get("/receive/done/999").status_code == 404


# --- the opening stock-take -------------------------------------------------------------------------------


def take(shop: Shop, oil: int, client: TestClient | None = None, **more: str) -> Any:
    said = {"material_id": str(oil), "condition": "sound", "opened": "sealed", "once": once()} | more
    return (client or shop.signed_in(Role.FINISHER)).post("/receive/stock-take", data=said)


def test_can_after_can_with_material_and_place_kept(shop: Shop, oil: int) -> None:
    client = shop.signed_in(Role.FINISHER)
    answer = take(shop, oil, client, amount="about half", capacity="1 l", opened="open", place_id="1")
    assert answer.status_code == 303
    (box,) = boxes(shop)
    assert (box.balance, box.balance_known.value) == (500_000, "estimated")
    assert box.received_on is None and box.opened_on is None and box.ever_opened
    page = client.get(answer.headers["location"]).text
    assert f'<option value="{oil}" selected>' in page and '<option value="1" selected>' in page
    assert f"/labels/print?c={box.code}" in page, "its label waits to be printed"
    assert "Next one." in page


def test_a_label_printed_ahead_is_scanned_and_needs_no_printing(shop: Shop, oil: int) -> None:
    code = make_code(777)
    answer = take(shop, oil, amount="1 l", code=f"HTTPS://STORE.EXAMPLE/C/{code}")
    assert answer.status_code == 303 and "done=" not in answer.headers["location"]
    assert boxes(shop)[0].code == code
    again = take(shop, oil, amount="1 l", code=code)
    assert again.status_code == 422 and "in the book already" in again.text
    wrong = take(shop, oil, amount="1 l", code="K7QF2O")
    assert wrong.status_code == 422 and "not a shelf code" in wrong.text and 'value="1 l"' in wrong.text


def test_a_room_of_unknowns(shop: Shop, oil: int) -> None:
    assert take(shop, oil).status_code == 303
    (box,) = boxes(shop)
    assert box.balance is None and box.in_date_until is None
    missing = shop.signed_in(Role.FINISHER).post("/receive/stock-take", data={"once": once()})
    assert missing.status_code == 422 and "Choose what is in it." in missing.text


# --- labels -----------------------------------------------------------------------------------------------


def test_labels_are_chosen_and_shown(shop: Shop, oil: int) -> None:
    take(shop, oil, amount="1 l")
    (box,) = boxes(shop)
    client = shop.signed_in(Role.FINISHER)
    chooser = client.get("/labels").text
    assert f'value="{box.code}"' in chooser
    page = client.get(f"/labels/print?stock=sheet-24&x=-0.5&y=1&first=4&c={box.code}&p={make_code(1)}").text
    assert page.count("<g transform=") == 2 and "Linseed oil" in page and "Cabinet A" in page
    assert 'transform="translate(67 478)"' in page, "cell 4: one row down, nudged by half a millimetre"
    assert "style=" not in page
    paper = client.get("/labels/page.css?stock=sheet-24")
    assert paper.headers["content-type"].startswith("text/css") and "size: 210mm 297mm" in paper.text


def test_codes_typed_by_hand(shop: Shop, oil: int) -> None:
    take(shop, oil, amount="1 l")
    (box,) = boxes(shop)
    client = shop.signed_in(Role.FINISHER)
    shown = f"{box.code[:3].lower()} {box.code[3:].lower()}"
    assert client.get("/labels/print", params={"codes": shown}).status_code == 200
    wrong = client.get("/labels/print", params={"codes": f"{shown}\nK7Q F2O", "stock": "sheet-14"})
    assert wrong.status_code == 422 and "is not a shelf code" in wrong.text and shown in wrong.text
    none = client.get("/labels/print")
    assert none.status_code == 422 and "Choose a container or place" in none.text
    assert client.get("/labels/print", params={"codes": make_code(99)}).status_code == 422


def test_labels_printed_ahead_stand_in_no_book(shop: Shop) -> None:
    page = shop.signed_in(Role.FINISHER).get("/labels/ahead?count=24&stock=sheet-24")
    assert page.status_code == 200 and page.text.count("<g transform=") == 24
    assert not boxes(shop)


@pytest.mark.parametrize(
    "query",
    ["stock=other", "x=0.3", "x=99", "first=0", "first=25", "stock=sheet-24&y=-9", "c=" + "x" * 200],
)
def test_odd_label_queries_are_422(shop: Shop, query: str) -> None:
    assert shop.signed_in(Role.FINISHER).get(f"/labels/print?c={make_code(1)}&{query}").status_code == 422
