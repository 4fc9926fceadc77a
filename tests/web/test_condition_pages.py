"""`/policies/conditions` and the form of a look: what follows stands beside each choice and is told after."""

from __future__ import annotations

from datetime import timedelta

from service.core.access import Role
from service.core.materials import Form, MaterialKind
from tests.builders import TODAY
from tests.store_builders import material, oil, received
from tests.web.conftest import Shop
from tests.web.test_jar_pages import plain

FORM = {
    "once": "rule-1", "consequence": "ends", "what_to_do": "Discard it at once.", "word": "house",
    "source": "seen in this shop", "grade": "memory", "reason": "It never came right here", "seen_id": "0",
}  # fmt: skip


def test_every_finding_stands_with_its_word_and_the_institutions_beside(shop: Shop) -> None:
    text = plain(shop.signed_in(Role.FINISHER).get("/policies/conditions").text)
    for words in (
        "Gelled ends its life now", "Thickened asks for a look before each use", "Never stir a skin in.",
        "Iowa State University", "scrap at 100 ppm or more", "house policy", "published",
    ):  # fmt: skip
        assert words in text, words


def test_a_keeper_sets_a_rule_and_the_form_of_a_look_says_it(shop: Shop) -> None:
    keeper = shop.signed_in(Role.KEEPER)
    with shop.database.writing() as session:
        code = received(session, shop.actor(Role.KEEPER), oil(session))
    before = plain(keeper.get(f"/containers/{code}/check").text)
    assert "Thickened It drags and draws threads. This asks for a look before each use" in before
    assert "Gelled" in before and "peroxide strip" not in before
    address = "/policies/conditions/thickened"
    done = keeper.post(address, data=FORM)
    assert done.status_code == 303
    page = plain(keeper.get(address).text)
    assert "Checks made before keep what followed then." in page and "Why: It never came right here" in page
    stale = keeper.post(address, data=FORM | {"once": "rule-2"})
    assert stale.status_code == 409
    looked = keeper.post(
        f"/containers/{code}/check", data={"once": "look-1", "found": "thickened", "when": "about"}
    )
    assert looked.status_code == 303
    after = plain(keeper.get(f"/containers/{code}").text)
    assert "thickened; it is past now and can only be discarded. Discard it at once." in after
    assert "Checked: thickened" in after


def test_the_page_says_how_a_slip_is_put_right_and_where_it_cannot_be(shop: Shop) -> None:
    keeper = shop.signed_in(Role.KEEPER)
    with shop.database.writing() as session:
        stuff = oil(session, policy={"end": "retest", "sealed_months": 24, "opened_months": 12})
        code = received(session, shop.actor(Role.KEEPER), stuff)
    address = f"/containers/{code}"
    assert "Gelled" in (form := plain(keeper.get(f"{address}/check").text))
    assert "This ends its life now. Nothing takes that back." in form
    assert "Was it a slip" not in plain(keeper.get(address).text)
    said = {"once": "look-2", "found": "thickened", "when": "about"}
    assert keeper.post(f"{address}/check", data=said).status_code == 303
    assert "with a sentence of what you tried, lifts it here" in plain(keeper.get(address).text)
    sound = {"once": "look-3", "found": "sound", "when": "about", "note": "A board brushed with it was dry"}
    assert keeper.post(f"{address}/check", data=sound).status_code == 303
    assert "Was it a slip" not in plain(keeper.get(address).text)
    gelled = said | {"once": "look-4", "found": "gelled"}
    assert keeper.post(f"{address}/check", data=gelled).status_code == 303
    assert "What ended it stays, a slip of the pen too" in plain(keeper.get(address).text)


def test_what_was_in_an_empty_tin_is_written_down_with_its_time(shop: Shop) -> None:
    keeper = shop.signed_in(Role.KEEPER)
    with shop.database.writing() as session:
        code = received(session, shop.actor(Role.KEEPER), oil(session))
    address = f"/containers/{code}"
    poured = {"once": "pour-1", "when": "about", "everything": "yes"}
    assert keeper.post(f"{address}/decant", data=poured).status_code == 303
    assert "Write it down with its time" in plain(keeper.get(address).text)
    said = {"once": "look-5", "found": "rancid", "when": "about", "note": "Stank when it was rinsed"}
    no = keeper.post(f"{address}/check", data=said)
    assert no.status_code == 422 and "Enter the time, and why it is" in plain(no.text)
    assert "Stank when it was rinsed" in no.text
    late = f"{TODAY - timedelta(days=2):%-d %b %Y} 10:00"
    assert 'value="done" checked' in keeper.get(f"{address}/check").text
    told = said | {"when": "done", "happened": late, "late_reason": "Nobody wrote it down that day"}
    assert keeper.post(f"{address}/check", data=told).status_code == 303
    assert "Checked: rancid" in plain(keeper.get(address).text)


def test_what_is_typed_stays_when_a_rule_is_refused(shop: Shop) -> None:
    keeper = shop.signed_in(Role.KEEPER)
    wrong = keeper.post("/policies/conditions/gelled", data=FORM | {"consequence": "passes"})
    assert wrong.status_code == 422 and "No shop sets it milder" in wrong.text
    assert "Discard it at once." in wrong.text and "It never came right here" in wrong.text
    empty = keeper.post("/policies/conditions/gelled", data={"once": "rule-3"})
    assert empty.status_code == 422 and "Enter why you set it." in empty.text
    assert shop.signed_in(Role.FINISHER).post("/policies/conditions/gelled", data=FORM).status_code == 403
    assert keeper.get("/policies/conditions/purple").status_code in (404, 422)


def test_a_peroxide_former_asks_for_the_strip(shop: Shop) -> None:
    keeper = shop.signed_in(Role.KEEPER)
    with shop.database.writing() as session:
        alcohol = material(session, "isopropanol", kind=MaterialKind.SOLVENT, form=Form.LIQUID)
        alcohol.known_key = "isopropanol"
        code = received(session, shop.actor(Role.KEEPER), alcohol, packed_on=TODAY - timedelta(days=9))
    page = plain(keeper.get(f"/containers/{code}/check").text)
    assert "What the peroxide strip showed" in page and "It is sound" not in page and "Sound" not in page
    for typed in ("a lot", "-3", "1e99"):
        odd = keeper.post(
            f"/containers/{code}/check", data={"once": "look-2", "peroxide_mg_l": typed, "when": "about"}
        )
        assert odd.status_code == 422 and 'id="e-peroxide_mg_l"' in odd.text, typed
    done = keeper.post(
        f"/containers/{code}/check", data={"once": "look-3", "peroxide_mg_l": "250", "when": "about"}
    )
    assert done.status_code == 303
    page = keeper.get(f"/containers/{code}").text
    assert "The strip showed 250 mg/l." in plain(page)
    for act in ("draw", "return", "move", "open", "decant", "lose"):
        assert f"/containers/{code}/{act}" not in page, f"under “do not open or carry it” stands {act}"
    assert f"/containers/{code}/tell" in page
