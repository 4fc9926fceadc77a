"""Pages of the store and of a container, driven as a browser without script drives them."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from service.core.access import Role
from service.core.containers import ContainerState
from service.core.shelf_codes import show_code
from service.records.materials import MaterialReading
from service.records.places import PlaceKind
from service.records.stock import Movement
from tests.builders import TODAY
from tests.store_builders import container, holds, job, material, oil, place, received
from tests.web.conftest import Shop


def stocked(shop: Shop, **facts: Any) -> str:
    """One tub of raw umber; its code."""
    with shop.database.writing() as session:
        return received(session, shop.actor(Role.KEEPER), material(session), **facts)


def with_oil(shop: Shop, **facts: Any) -> str:
    with shop.database.writing() as session:
        return received(session, shop.actor(Role.KEEPER), oil(session), **facts)


def form_of(html: str, action: str) -> dict[str, str]:
    """The hidden fields of a form on the page, as a browser would send them."""
    found = re.search(rf'<form method="post" action="{re.escape(action)}".*?</form>', html, re.DOTALL)
    assert found, html
    return dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', found[0]))


def send(client: TestClient, path: str, **typed: str) -> Any:
    """Open a form and send it with what is typed."""
    shown = client.get(path)
    assert shown.status_code == 200, shown.text
    action = path.split("?")[0]
    return client.post(action, data={"when": "about", **form_of(shown.text, action), **typed})


def test_draw_says_what_it_did_and_what_is_left(shop: Shop) -> None:
    code, client = stocked(shop), shop.signed_in(Role.FINISHER)
    answer = send(client, f"/containers/{code}/draw", amount="250 g")
    assert (answer.status_code, answer.headers["location"]) == (303, f"/containers/{code}")
    told = client.get(f"/containers/{code}").text
    assert f"Drew 250 g from {show_code(code)}. 750 g left." in told
    assert "Correct this" in told
    assert "Drew 250 g" not in client.get(f"/containers/{code}").text


def test_twice_the_same_form_is_one_draw(shop: Shop) -> None:
    code, client = stocked(shop), shop.signed_in(Role.FINISHER)
    path = f"/containers/{code}/draw"
    fields = {"when": "about", "amount": "250 g", **form_of(client.get(path).text, path)}
    assert [client.post(path, data=fields).status_code for _ in range(2)] == [303, 303]
    assert client.post(path, data=fields | {"amount": "1 g"}).status_code == 409
    with shop.database.reading() as session:
        assert container(session, code).balance == 750_000


@pytest.mark.parametrize(
    "amount", ["", "much", "-5 g", "1e999 g", "0 g", "2 furlongs", "%", "٣ g", "5" * 150]
)
def test_what_is_no_amount_is_asked_again_and_kept(shop: Shop, amount: str) -> None:
    code, client = stocked(shop), shop.signed_in(Role.FINISHER)
    answer = send(client, f"/containers/{code}/draw", amount=amount)
    assert answer.status_code == 422
    assert "<title>Error: " in answer.text
    assert 'id="e-amount"' in answer.text
    if amount:
        assert f'value="{amount}"' in answer.text


def test_a_doubtful_amount_offers_its_readings_and_remembers_the_choice(shop: Shop) -> None:
    with shop.database.writing() as session:
        code = received(session, shop.actor(Role.KEEPER), oil(session, heats=False))
    client, path = shop.signed_in(Role.FINISHER), f"/containers/{code}/draw"
    asked = send(client, path, amount="2 oz")
    assert asked.status_code == 422
    readings = re.findall(r'name="amount" value="([^"]+)">', asked.text)
    chosen = next(r for r in readings if "fl" in r)
    fields = form_of(asked.text, path)
    assert fields["doubtful"] == "2 oz"
    assert client.post(path, data={"when": "about", **fields, "amount": chosen}).status_code == 303
    with shop.database.reading() as session:
        assert session.exec(select(MaterialReading)).one().person_id == shop.cast.finisher.id
    assert send(client, path, amount="2 oz").status_code == 303


def test_there_was_more_in_it_is_answered_on_the_same_form(shop: Shop) -> None:
    code, client = stocked(shop, amount=100_000), shop.signed_in(Role.FINISHER)
    path = f"/containers/{code}/draw"
    refused = send(client, path, amount="150 g")
    assert refused.status_code == 409
    assert "There was more in it than the book says" in refused.text
    fields = {"when": "about", **form_of(refused.text, path), "amount": "150 g", "more": "yes"}
    assert client.post(path, data=fields).status_code == 303
    holds(shop.database)


def test_what_is_not_known_asks_for_a_look(shop: Shop) -> None:
    code, client = stocked(shop, opened_on=None), shop.signed_in(Role.FINISHER)
    assert "I looked at it now, or tried it, and it is fit" in client.get(f"/containers/{code}/draw").text
    assert send(client, f"/containers/{code}/draw", amount="5 g").status_code == 409
    assert send(client, f"/containers/{code}/draw", amount="5 g", looked="yes").status_code == 303


def test_overdue_rags_answer_with_the_reasons_page(shop: Shop) -> None:
    code, client = with_oil(shop), shop.signed_in(Role.FINISHER)
    assert send(client, f"/containers/{code}/draw", amount="50 ml").status_code == 303
    shop.clock.pass_by(days=1)
    client = shop.signed_in(Role.FINISHER)
    for path, typed in (("draw", {"amount": "50 ml"}), ("open", {}), ("decant", {"amount": "50 ml"})):
        answer = send(client, f"/containers/{code}/{path}", **typed)
        assert answer.status_code == 409, path
        assert "Nothing was booked." in answer.text
    done = {"amount": "50 ml", "when": "done"}
    asked = send(client, f"/containers/{code}/draw", **done)
    assert asked.status_code == 422 and "say why in a real sentence" in asked.text
    done["late_reason"] = "It was done before I looked"
    assert send(client, f"/containers/{code}/draw", **done).status_code == 303


def test_a_late_entry_needs_its_sentence_and_is_marked(shop: Shop) -> None:
    code, client = stocked(shop), shop.signed_in(Role.FINISHER)
    path = f"/containers/{code}/draw"
    early = {"amount": "5 g", "when": "done", "happened": "12 Mar 2026 09:30"}
    answer = send(client, path, **early)
    assert answer.status_code == 422
    assert 'id="e-late_reason"' in answer.text
    answer = send(client, path, **early, late_reason="Written up after the class was over")
    assert answer.status_code == 303
    assert "late entry, written" in client.get(f"/containers/{code}").text


def test_breaking_the_seal_asks_the_day(shop: Shop) -> None:
    code, client = stocked(shop, is_open=False), shop.signed_in(Role.FINISHER)
    path = f"/containers/{code}/draw"
    assert "This breaks the seal" in client.get(path).text
    assert send(client, path, amount="5 g", opening="day").status_code == 422
    assert send(client, path, amount="5 g", opening="day", opened_on="1 Mar 2026").status_code == 303
    with shop.database.reading() as session:
        assert container(session, code).opened_on == TODAY.replace(day=1)
    assert "This breaks the seal" not in client.get(path).text


def test_every_other_act_from_its_form(shop: Shop) -> None:
    code, client = stocked(shop), shop.signed_in(Role.FINISHER)
    with shop.database.writing() as session:
        shelf = place(session, "Shelf 3", PlaceKind.SHELF)
        drum = place(session, "Waste drum 1", PlaceKind.WASTE_DRUM)
    base = f"/containers/{code}"
    acts: list[tuple[str, dict[str, str], str]] = [
        ("draw?how=container", {"before": "500", "after": "450"}, "Drew 50 g"),
        ("draw?how=pot", {"before": "100", "after": "150"}, "Drew 50 g"),
        ("return", {"amount": "20 g"}, "Put 20 g back"),
        ("count", {"amount": "900 g"}, "Counted"),
        ("count?by=weight", {"gross": "1100", "tare": "200"}, "This confirms the book"),
        ("count?by=share", {"share": "half", "of_last": "yes"}, "450 g less than the book said"),
        ("lose", {"loss": "spilled", "amount": "5 g"}, "Booked a loss of 5 g"),
        ("open", {}, "again"),
        ("close", {}, "the lid is on again"),
        ("move", {"place": str(shelf.id)}, "to Shelf 3"),
        ("check", {"found": "sound"}, "sound"),
        ("relabel", {}, "new label"),
        ("decant", {"amount": "45 g"}, "Poured 45 g"),
        (
            "discard",
            {"destination": "waste-drum", "place": str(drum.id), "amount": "100 g"},
            "Discarded 100 g",
        ),
        ("discard", {"destination": "hauler", "everything": "yes"}, "gone from the store"),
    ]
    for path, typed, words in acts:
        answer = send(client, f"{base}/{path}", **typed)
        assert answer.status_code == 303, (path, answer.text)
        assert words in client.get(base).text, path
    with shop.database.reading() as session:
        assert container(session, code).state is ContainerState.GONE
    holds(shop.database)


@pytest.mark.parametrize(
    ("path", "typed", "wrong"),
    [
        ("lose", {"amount": "5 g"}, "loss"),
        ("lose", {"loss": "spilled"}, "amount"),
        ("discard", {"destination": "drain", "amount": "5 g"}, "destination"),
        ("discard", {"destination": "hauler"}, "amount"),
        ("move", {}, "place"),
        ("move", {"place": "99999999999"}, "place"),
        ("check", {"found": "fine"}, "found"),
        ("decant", {}, "amount"),
        ("decant", {"amount": "5 g", "lost": "1 g"}, "lost_note"),
        ("count?by=weight", {"gross": "500"}, "tare"),
        ("count?by=share", {"share": "brim"}, "share"),
        ("draw", {"amount": "5 g", "when": "done", "happened": "noon"}, "happened"),
        ("draw", {"amount": "5 g", "job": "0"}, "job"),
    ],
)
def test_each_slip_is_told_beside_its_field(shop: Shop, path: str, typed: dict[str, str], wrong: str) -> None:
    code = stocked(shop)
    answer = send(shop.signed_in(Role.FINISHER), f"/containers/{code}/{path}", **typed)
    assert answer.status_code == 422
    assert f'id="e-{wrong}"' in answer.text


def test_corrections_are_struck_through_and_need_a_reason(shop: Shop) -> None:
    code, client = stocked(shop), shop.signed_in(Role.FINISHER)
    send(client, f"/containers/{code}/draw", amount="250 g")
    with shop.database.reading() as session:
        number = session.exec(select(Movement.id).where(Movement.kind == "draw")).one()
    path = f"/movements/{number}/correct"
    assert send(client, path, reason="").status_code == 422
    assert send(client, path, reason="wrong can").status_code == 303
    told = client.get(f"/containers/{code}").text
    assert f"Took back entry {number} (drawn 250 g). 1 kg in {show_code(code)} now." in told.replace(
        "\xa0", " "
    )
    assert 'class="struck"' in told
    assert "It cannot be taken back now" in client.get(path).text
    assert client.get("/movements/99999/correct").status_code == 404


def test_a_student_draws_in_a_job_and_sees_no_ledger(shop: Shop) -> None:
    code = stocked(shop)
    with shop.database.writing() as session:
        student = shop.actor(Role.STUDENT)
        running = job(session, shop.actor(Role.FINISHER), people=(student.person_id,))
    client = shop.signed_in(Role.STUDENT)
    own = client.get(f"/containers/{code}").text
    assert "Draw from it" in own
    assert "Ledger" not in own
    assert "Throw it away" not in own
    assert client.get("/store").status_code == 403
    assert client.get(f"/containers/{code}/count").status_code == 403
    assert send(client, f"/containers/{code}/draw", amount="5 g").status_code == 403
    assert send(client, f"/containers/{code}/draw", amount="5 g", job=str(running.id)).status_code == 303
    with shop.database.reading() as session:
        number = session.exec(select(Movement.id).where(Movement.kind == "draw")).one()
    assert send(client, f"/movements/{number}/correct", reason="wrong tub").status_code == 303
