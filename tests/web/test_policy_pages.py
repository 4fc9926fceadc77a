"""The pages of how long things keep: whose word every figure is, history, and a keeper's form."""

from __future__ import annotations

import html
import re
from datetime import date

import pytest
from fastapi.testclient import TestClient

from service.actions.arrivals import ReceiveAsked
from service.actions.begin_shop import begin_shop
from service.actions.receive_stock import receive
from service.core.materials import Form, MaterialKind
from service.core.sources import GRADE_WORDS
from service.records.materials import Material
from tests.jar_acts import jar_of, pour, solution_shop
from tests.web.conftest import Shop

JAPAN = "/policies/kind/colour-in-japan"


@pytest.fixture
def umber(shop: Shop) -> int:
    """A colour in japan with one tube packed on 12 August 2024."""
    with shop.database.writing() as session:
        begin_shop(session, shop.clock())
        row = Material(
            name="Raw umber in japan", kind=MaterialKind.COLOUR_IN_JAPAN, form=Form.PASTE,
            created_at=shop.clock(),
        )
        session.add(row)
        session.flush()
        assert row.id is not None
        said = ReceiveAsked("policy-page-1", row.id, amount="100 g", packed_on=date(2024, 8, 12))
        receive(session, shop.actor("finisher"), shop.clock(), said, lambda: "a chance")
    return row.id


def form(page: str, **said: str) -> dict[str, str]:
    """A filled form with the hidden fields of the page."""
    hidden = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', page))
    return {
        **hidden, "end": "retest", "sealed": "18", "sealed_unit": "months", "opened": "6",
        "opened_unit": "months", "hard_months": "36", "extends_months": "3", "word": "house",
        "grade": "memory", "reason": "The cans gel sooner here.", **said,
    }  # fmt: skip


def send(client: TestClient, address: str, **said: str) -> tuple[int, str]:
    answer = client.post(address, data=form(client.get(address).text, **said))
    return answer.status_code, answer.text


def test_the_list_says_whose_word_each_is(shop: Shop, umber: int) -> None:
    text = shop.signed_in("reader").get("/policies").text
    assert "colour in japan" in text
    assert text.count("house policy") > 20
    assert "unsourced web page" in text
    # No policy came with the program for dyes: that is said, not filled in.
    assert "every container stands as not known" in text
    assert f"/policies/material/{umber}" in text


def test_one_kind_shows_every_figure_with_its_grade(shop: Shop, umber: int) -> None:
    text = shop.signed_in("finisher").get(JAPAN).text
    for figure in ("24 months", "12 months", "48 months from its start", "6 months"):
        assert figure in text
    assert text.count("house policy; unsourced web page") >= 5
    assert "came with the program" in text
    assert "Raw umber in japan" in text
    assert "<form method=\"post\" action=\"/policies" not in text


def test_a_published_row_says_so(shop: Shop, umber: int) -> None:
    text = shop.signed_in("reader").get("/policies/key/isopropanol").text
    assert "Published" in text
    assert "Cornell University" in text


def test_a_keeper_sets_it_and_reads_what_it_did(shop: Shop, umber: int) -> None:
    keeper = shop.signed_in("keeper")
    status, _ = send(keeper, JAPAN)
    assert status == 303
    text = keeper.get(JAPAN).text
    assert "1 container went through it: 1 now stands as past." in text
    assert text.count("The cans gel sooner here.") == 1
    assert "Orla Brandt" in text
    assert "24 months" in text.split("What it was")[1]


def test_a_solution_counts_the_jars_it_rules(shop: Shop) -> None:
    """Flakes in alcohol keep as a cut, in a jar of a mix with a policy of its own."""
    made = solution_shop(shop.database, shop.cast)
    pour(made, jar_of(made, ("flakes", "20 g"), ("spirit", "100 ml")), amount="20 ml")
    keeper, cut = shop.signed_in("keeper"), "/policies/key/shellac_cut"
    assert "2 containers of 1 material go by it" in keeper.get(cut).text
    assert send(keeper, cut, sealed="1", opened="1", hard_months="12")[0] == 303
    assert "2 containers went through it" in keeper.get(cut).text


def test_one_material_of_its_own(shop: Shop, umber: int) -> None:
    keeper = shop.signed_in("keeper")
    own = f"/policies/material/{umber}"
    assert "goes by that of" in keeper.get(own).text
    assert send(keeper, own, sealed="40", hard_months="60")[0] == 303
    text = keeper.get(own).text
    assert "goes by that of" not in text
    assert "40 months" in text
    assert "its own policy" in keeper.get("/policies").text


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"reason": ""}, "Enter why you set it."),
        ({"end": ""}, "Choose what the end of its life means."),
        ({"sealed": "about 3"}, "Enter a whole number in digits."),
        ({"sealed": "0"}, "Enter a whole number from 1 to 1200."),
        ({"sealed": "99999", "sealed_unit": "days"}, "Enter a whole number from 1 to 37200."),
        ({"word": "published"}, "Name the published source"),
        ({"end": "expiry"}, "A check moves no expiry."),
        ({"end": "indefinite"}, "Leave every figure empty"),
        ({"end": "parts"}, "Only made mixes follow"),
        ({"grade": ""}, "Choose how well the figures are sourced."),
    ],
)
def test_what_cannot_be_keeps_what_was_typed(
    shop: Shop, umber: int, said: dict[str, str], words: str
) -> None:
    status, text = send(shop.signed_in("keeper"), JAPAN, note="gel through the body", **said)
    assert status == 422
    assert words in text
    assert "<title>Error: " in text
    assert "gel through the body" in text


def test_set_meanwhile_is_stale_and_sent_twice_is_one(shop: Shop, umber: int) -> None:
    keeper = shop.signed_in("keeper")
    page = keeper.get(JAPAN).text
    assert keeper.post(JAPAN, data=form(page)).status_code == 303
    assert keeper.post(JAPAN, data=form(page)).status_code == 303
    assert keeper.post(JAPAN, data=form(page, once="another-key-1")).status_code == 409
    assert keeper.get(JAPAN).text.count("The cans gel sooner here.") == 1


@pytest.mark.parametrize("role", ["reader", "student", "finisher"])
def test_only_a_keeper_sets(shop: Shop, umber: int, role: str) -> None:
    page = shop.signed_in("keeper").get(JAPAN).text
    assert shop.signed_in(role).post(JAPAN, data=form(page)).status_code == 403


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("/policies/material/99999", 404), ("/policies/material/0", 422), ("/policies/key/no-such", 404),
        ("/policies/kind/gold", 422), ("/policies/key/%00", 422), ("/policies/material/99999999999", 422),
    ],
)  # fmt: skip
def test_odd_addresses(shop: Shop, umber: int, address: str, status: int) -> None:
    assert shop.signed_in("keeper").get(address).status_code == status
    page = shop.signed_in("keeper").get(JAPAN).text
    assert shop.signed_in("keeper").post(address, data=form(page)).status_code == status


def test_every_figure_of_the_lists_has_its_grade(shop: Shop) -> None:
    keeper = shop.signed_in("keeper")
    with shop.database.writing() as session:
        begin_shop(session, shop.clock())
    for where in ("/policies", "/policies/conditions"):
        page = keeper.get(where).text
        rows = re.findall(r"<tr[ >].*?</tr>", page, re.S)
        told = [row for row in rows if "house policy" in row or ">published<" in row]
        assert told, where
        graded = (*GRADE_WORDS.values(), "grade not known")
        assert all(any(words in html.unescape(row) for words in graded) for row in told), where
