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
