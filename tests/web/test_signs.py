"""Names in every writing of the world, and names made to deceive: one defined result on both databases."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.core.access import Role
from service.records.engine import Database
from service.web.static_files import static_url
from tests.builders import FAST_HASHER, cast
from tests.web.conftest import Clock, Shop, shop_settings
from tests.web.hostile import fresh_key


@pytest.fixture
def shop(database: Database, tmp_path: Path) -> Iterator[Shop]:
    """The shop once on each database."""
    with database.writing() as session:
        people = cast(session)
    clock = Clock()
    app = create_app(shop_settings(tmp_path, database), database, clock, hasher=FAST_HASHER)
    made = Shop(app, database, clock, people)
    yield made
    for client in made.clients:
        client.close()


def written(client: TestClient, name: str, **more: Any) -> tuple[int, dict[str, Any]]:
    body = {"once": fresh_key(), "name": name, "kind": "dry-pigment", **more}
    answer = client.post("/api/materials", json=body)
    return answer.status_code, answer.json()


def found(client: TestClient, text: str) -> list[str]:
    return [one["name"] for one in client.get("/api/containers", params={"q": text}).json()["items"]]


KEPT: Final[dict[str, str]] = {
    "composed": "\u00d6lfarbe",
    "decomposed": "O\u0308lfarbe",
    "astral": "Umber \U0001f9ea \U0001f468\u200d\U0001f3a8",
    "right to left": "\u05d0\u05d5\u05de\u05d1\u05e8 250",
    "Arabic digits": "\u0623\u0645\u0628\u0631 \u0661\u0662\u0663",
    "Chinese": "\u8d6d\u8272",
    "hundred marks": "e" + "\u0301" * 100,
    "zero width joiner": "Um\u200dber",
    "ligature": "\ufb01ne umber",
    "capital I with a dot": "\u0130zmir",
    "Cyrillic that looks like Latin": "Umb\u0435r",
}
REFUSED: Final[dict[str, str]] = {
    "override": "Umber\u202egnp",
    "isolate": "Um\u2066ber",
    "NUL": "Um\x00ber",
    "escape": "Um\x1bber",
    "half a pair": "Um\ud800ber",
    "next line": "Um\x85ber",
    "two hundred marks": "e" + "\u0301" * 200,
}


@pytest.mark.parametrize("name", KEPT)
def test_kept_composed_and_shown_whole(shop: Shop, name: str) -> None:
    script, page = shop.api(Role.KEEPER), shop.signed_in(Role.KEEPER)
    status, told = written(script, KEPT[name])
    assert status == 201, told
    kept = script.get(f"/api/materials/{told['material']}").json()["name"]
    assert kept == unicodedata.normalize("NFC", KEPT[name])
    assert kept in page.get(f"/materials/{told['material']}").text
    assert kept in page.get("/materials").text


@pytest.mark.parametrize("name", REFUSED)
def test_refused_by_call_and_by_form_alike(shop: Shop, name: str) -> None:
    content = f'{{"once": "r", "kind": "dry-pigment", "name": {_ascii_json(REFUSED[name])}}}'
    script, page = shop.api(Role.KEEPER), shop.signed_in(Role.KEEPER)
    answer = script.post("/api/materials", content=content, headers={"content-type": "application/json"})
    assert answer.status_code == 422 and "name" in answer.json()["errors"]
    if "\ud800" not in REFUSED[name]:
        form = {"once": "f", "name": REFUSED[name], "kind": "dry-pigment"}
        assert page.post("/materials/new", data=form).status_code == 422
    assert script.get("/api/materials").json()["materials"] == []


def _ascii_json(text: str) -> str:
    return '"' + "".join(f"\\u{ord(sign):04x}" if ord(sign) < 0x10000 else sign for sign in text) + '"'


TWINS: Final[list[tuple[str, str, bool]]] = [
    ("\u00d6lfarbe", "O\u0308lfarbe", True),
    ("\u00d6lfarbe", "\u00f6LFARBE", True),
    ("fine umber", "\ufb01ne umber", True),
    ("Raw umber", "Raw\u200bumber", True),
    ("Raw umber", "R\uff41w umber", True),
    ("Stra\u00dfe", "STRASSE", True),
    ("Umber", "Umb\u0435r", False),
    ("Umber", "Umber\u0301", False),
]


@pytest.mark.parametrize(("first", "second", "same"), TWINS)
def test_a_name_that_reads_the_same_is_told(shop: Shop, first: str, second: str, same: bool) -> None:
    """Told, not refused: two materials may carry one name. What only looks alike is another name."""
    script = shop.api(Role.KEEPER)
    assert written(script, first)[0] == 201
    status, told = written(script, second)
    assert status == 201
    said = " ".join(one["sentence"] for one in told["findings"])
    assert (unicodedata.normalize("NFC", first) in said) is same


def test_a_search_finds_every_way_of_writing_on_both_databases(shop: Shop) -> None:
    script = shop.api(Role.KEEPER)
    for name in ("\u00d6lfarbe", "Gro\u0308\u00dfe O\u0308le", "BL\u00c4UE 100 %", "A_B"):
        status, told = written(script, name)
        assert status == 201
        stock = {"once": fresh_key(), "material": told["material"], "amount": "10 g"}
        assert script.post("/api/containers", json=stock).status_code == 201
    for text in ("\u00f6lfarbe", "\u00d6LFARBE", "O\u0308lfarbe", "\u00f6lf"):
        assert found(script, text) == ["\u00d6lfarbe"], text
    assert found(script, "bl\u00e4ue") == found(script, "BLA\u0308UE") == ["BL\u00c4UE 100 %"]
    assert found(script, "gr\u00f6\u00dfe") == ["Gr\u00f6\u00dfe \u00d6le"]
    assert found(script, "%") == ["BL\u00c4UE 100 %"] and found(script, "_") == ["A_B"]
    assert found(script, "100%") == [] and found(script, "__") == []


def test_a_person_is_found_by_name_however_written(shop: Shop) -> None:
    page, script = shop.signed_in(Role.KEEPER), shop.api(Role.KEEPER)
    form = {"name": "O\u0308rjan Ek", "sign_in_name": "orjan", "role": "finisher"}
    assert page.post("/people/new", data=form).status_code == 303
    for name in ("\u00d6rjan Ek", "\u00f6rjan ek", "O\u0308rjan Ek"):
        asked = {"once": fresh_key(), "name": "Bench", "person": name}
        assert script.post("/api/jobs", json=asked).status_code == 201, name
    other = {"once": fresh_key(), "name": "Bench", "person": "Orjan Ek"}
    assert script.post("/api/jobs", json=other).status_code == 422


@pytest.mark.parametrize("name", ["ORLA", "\uff4frla", "orla ", "Orla", "o\u0072la"])
def test_a_sign_in_name_is_taken_in_every_form_of_its_letters(shop: Shop, name: str) -> None:
    page = shop.signed_in(Role.KEEPER)
    answer = page.post("/people/new", data={"name": "Another", "sign_in_name": name, "role": "finisher"})
    assert answer.status_code == 422 and "Somebody has that sign-in name" in answer.text


def test_names_are_set_apart_from_what_stands_beside_them(shop: Shop) -> None:
    """In letters that run to the left, a name must not turn round the figures beside it."""
    style = shop.client().get(static_url("service.css")).text
    assert "strong, b, em, span" in style and "unicode-bidi: isolate" in style
