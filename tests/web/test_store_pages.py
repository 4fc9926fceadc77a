"""Finding things: the store, a scan, a label's address, the ledger; and what a reader may look at."""

from __future__ import annotations

from typing import Any

from sqlmodel import select

from service.actions.draw_stock import DrawAsked, draw
from service.core.access import Role
from service.core.containers import Condition
from service.core.materials import Form, MaterialKind
from service.core.shelf_codes import near_codes, show_code
from service.records.places import PlaceKind
from service.records.rags import RagLoad
from tests.builders import NOW
from tests.store_builders import material, oil, once, place, received
from tests.web.conftest import Shop


def stocked(shop: Shop, **facts: Any) -> str:
    """One tub of raw umber; its code."""
    with shop.database.writing() as session:
        return received(session, shop.actor(Role.KEEPER), material(session), **facts)


def with_oil(shop: Shop, **facts: Any) -> str:
    with shop.database.writing() as session:
        return received(session, shop.actor(Role.KEEPER), oil(session), **facts)


def test_a_label_opens_its_container_in_any_letter_case(shop: Shop) -> None:
    code, client = stocked(shop), shop.signed_in(Role.FINISHER)
    for path in (f"/C/{code}", f"/c/{code.lower()}", f"/C/{code.lower()}", f"/containers/{code.lower()}"):
        answer = client.get(path)
        assert (answer.status_code, answer.headers["location"]) == (303, f"/containers/{code}"), path


def test_a_code_with_one_slip_is_offered_its_neighbour(shop: Shop) -> None:
    code, client = stocked(shop), shop.signed_in(Role.FINISHER)
    slip = next(code[:-1] + sign for sign in "23456789ABCDEFGH" if code in near_codes(code[:-1] + sign))
    for path in (f"/C/{slip}", f"/scan?q={slip}", f"/containers/{slip}"):
        answer = client.get(path)
        assert answer.status_code == 404, path
        assert f"/containers/{code}" in answer.text, path
        assert "Did you mean" in answer.text


def test_a_scan_leads_where_it_belongs(shop: Shop) -> None:
    code, client = stocked(shop), shop.signed_in(Role.FINISHER)
    with shop.database.writing() as session:
        shelf = place(session, "Shelf 3", PlaceKind.SHELF)
    for query, target in (
        (f"q={code}", f"/containers/{code}"),
        (f"code={show_code(code)}", f"/containers/{code}"),
        (f"q=https://shop.example/C/{code}", f"/containers/{code}"),
        (f"q={code}&for=draw", f"/containers/{code}/draw"),
        (f"q={code}&for=../people", f"/containers/{code}"),
        (f"q={shelf.code}", f"/places/{shelf.id}"),
        ("q=raw umber", "/store?q=raw%20umber"),
        ("q=", "/store"),
    ):
        answer = client.get(f"/scan?{query}")
        assert (answer.status_code, answer.headers["location"]) == (303, target), query


def test_the_store_is_grouped_searched_and_narrowed(shop: Shop) -> None:
    with shop.database.writing() as session:
        keeper, umber = shop.actor(Role.KEEPER), material(session)
        shelf = place(session, "Shelf 3", PlaceKind.SHELF, place(session, "Cabinet A", PlaceKind.CABINET))
        one = received(session, keeper, umber, place_id=shelf.id, lot="50%_A")
        old = received(
            session, keeper, material(session, "old size", policy={"sealed_months": 1, "opened_months": 1})
        )
        tin = received(session, keeper, oil(session), opened_on=None)
    client = shop.signed_in(Role.FINISHER)

    def shown(query: str) -> set[str]:
        text = client.get(f"/store{query}").text
        return {code for code in (one, old, tin) if show_code(code) in text}

    assert shown("") == {one, old, tin}
    assert shown("?q=umber") == {one}
    assert shown("?q=%25") == {one}
    assert shown("?q=_") == {one}
    assert shown(f"?q={tin.lower()}") == {tin}
    assert shown("?standing=past") == {old}
    assert shown("?standing=not-known") == {tin}
    assert shown(f"?place={shelf.parent_id}") == {one}
    assert shown("?kind=binder") == {tin}
    assert shown("?state=gone") == set()
    assert shown("?standing=fine&kind=x&place=x&state=x") == {one, old, tin}
    assert "No containers match" in client.get("/store?q=nothing+like+it").text
    assert client.get("/store?page=0").status_code == 422


def test_a_leaking_can_says_so_wherever_it_is_shown(shop: Shop) -> None:
    leaks, dented = stocked(shop, condition=Condition.LEAKING), stocked(shop, condition=Condition.DAMAGED)
    sound, client = stocked(shop), shop.signed_in(Role.FINISHER)
    text = client.get("/store").text
    assert text.count(", leaks") == text.count(", came damaged") > 0
    page = client.get(f"/containers/{leaks}").text
    assert "It leaks." in page and f'href="/containers/{leaks}/decant"' in page
    assert page.index("Decant it</a>") < page.index("Draw from it</a>")
    assert "leaks</span>" in client.get(f"/containers/{leaks}/draw").text
    assert "Look at it before you use it" in client.get(f"/containers/{dented}").text
    assert "leak" not in client.get(f"/containers/{sound}").text
    assert "decant" not in shop.signed_in(Role.READER).get(f"/containers/{leaks}").text


def test_materials_places_and_policies_are_one_step_from_the_store(shop: Shop) -> None:
    text = shop.signed_in(Role.READER).get("/store").text.split("<main")[1]
    assert all(f'href="/{path}"' in text for path in ("materials", "places", "policies"))


def test_a_reader_looks_and_books_nothing(shop: Shop) -> None:
    code, client = stocked(shop), shop.signed_in(Role.READER)
    for path in ("/store", f"/containers/{code}", "/records", "/records/ledger", "/records/ledger/check"):
        assert client.get(path).status_code == 200, path
    assert "Draw from it" not in client.get(f"/containers/{code}").text
    assert client.get(f"/containers/{code}/draw").status_code == 403
    assert client.post(f"/containers/{code}/draw", data={"once": once(), "amount": "5 g"}).status_code == 403


def test_the_ledger_lists_and_narrows(shop: Shop) -> None:
    code, client = stocked(shop), shop.signed_in(Role.KEEPER)
    other = with_oil(shop)
    with shop.database.writing() as session:
        draw(session, shop.actor(Role.FINISHER), NOW, DrawAsked(once=once(), code=other, amount="5 ml"))
        assert session.exec(select(RagLoad)).one()
    everything = client.get("/records/ledger").text
    assert show_code(code) in everything
    assert show_code(other) in everything
    drawn = client.get("/records/ledger?kind=draw").text
    assert show_code(code) not in drawn
    assert show_code(other) in drawn
    assert show_code(other) not in client.get(f"/records/ledger?code={code}").text
    assert "No entries match" in client.get("/records/ledger?late=yes").text
    assert "The ledger holds together" in client.get("/records/ledger/check").text


def test_names_are_shown_as_text(shop: Shop) -> None:
    with shop.database.writing() as session:
        stuff = material(session, "<b>umber</b> & co", form=Form.POWDER, kind=MaterialKind.DRY_PIGMENT)
        code = received(session, shop.actor(Role.KEEPER), stuff, note="<script>x</script>")
    client = shop.signed_in(Role.KEEPER)
    for path in ("/store", f"/containers/{code}", f"/containers/{code}/draw", "/records/ledger"):
        text = client.get(path).text
        assert "<b>umber" not in text, path
        assert "<script>x" not in text, path
