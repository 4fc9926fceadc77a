"""A time or a day that is typed while "now" is ticked is never dropped without a word; the form keeps it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlmodel import select

from service.core.access import Role
from service.records.engine import Database
from service.records.stock import Movement
from tests.mixing_shop import make_mix_shop
from tests.rag_shop import RagShop, once
from tests.web.conftest import Shop
from tests.web.rag_client import rag_client
from tests.web.test_batch_pages import started
from tests.web.test_container_pages import send, stocked

TYPED = "12 Mar 2026 09:30"
SAID = "and it is ticked that it is done now"


@pytest.mark.parametrize(
    ("path", "typed"),
    [
        ("check", {"found": "sound"}),
        ("draw", {"amount": "5 g"}),
        ("return", {"amount": "5 g"}),
        ("decant", {"amount": "5 g", "capacity": "100 ml"}),
        ("open", {}),
        ("close", {}),
        ("move", {"place": "1"}),
        ("count", {"amount": "900 g"}),
        ("discard", {"destination": "hauler", "everything": "yes"}),
    ],
)
def test_an_act_about_a_container(shop: Shop, path: str, typed: dict[str, str]) -> None:
    code, client = stocked(shop), shop.signed_in(Role.KEEPER)
    before = _movements(shop)
    answer = send(client, f"/containers/{code}/{path}", **typed, happened=TYPED)
    assert answer.status_code == 422 and 'id="e-happened"' in answer.text and SAID in answer.text
    assert TYPED in answer.text and _movements(shop) == before


def test_a_loss_has_happened_and_keeps_its_time(shop: Shop) -> None:
    code, client = stocked(shop), shop.signed_in(Role.KEEPER)
    path, why = f"/containers/{code}/lose", "Written up after the class was over"
    typed = {"loss": "spilled", "amount": "5 g", "happened": TYPED, "late_reason": why}
    assert send(client, path, **typed, when="done").status_code == 303
    assert "late entry, written" in client.get(f"/containers/{code}").text


@pytest.mark.parametrize("path", ["draw", "decant", "open"])
def test_another_day_of_the_first_opening(shop: Shop, path: str) -> None:
    code, client = stocked(shop, is_open=False), shop.signed_in(Role.KEEPER)
    answer = send(client, f"/containers/{code}/{path}", amount="5 g", opening="today", opened_on="1 Mar 2026")
    assert answer.status_code == 422 and 'id="e-opened_on"' in answer.text
    assert "it is not ticked that it was another day" in answer.text and "1 Mar 2026" in answer.text


@pytest.fixture
def rags(sqlite_database: Database, tmp_path: Path) -> Iterator[tuple[RagShop, Shop]]:
    with rag_client(sqlite_database, tmp_path) as (made, doors):
        made.draw()
        made.pass_by(minutes=5)
        yield made, doors


def test_rags_and_cans(rags: tuple[RagShop, Shop]) -> None:
    made, doors = rags
    client = doors.signed_in(Role.FINISHER)
    typed = {"when": "now", "happened": "12 Mar 2026 10:41", "note": "by the door"}
    into = {"step": "in-can", "can": str(made.can), "water": "full"}
    answer = client.post("/rags/1/step", data=into | typed | {"once": once()})
    assert answer.status_code == 422 and SAID in answer.text and "by the door" in answer.text
    assert '<details class="more" open>' in answer.text
    made.into_can()
    for path, asks in (("empty", {"into": str(made.drum)}), ("carry", {"to": str(made.drum)})):
        answer = client.post(f"/rags/cans/{made.can}/{path}", data=asks | typed | {"once": once()})
        assert answer.status_code == 422 and SAID in answer.text and TYPED[:11] in answer.text, path
    left = {"can": str(made.can), "how": "hauler", "loads": "1"}
    answer = client.post("/rags/hand-over", data=left | typed | {"once": once()})
    assert answer.status_code == 422 and SAID in answer.text


def test_the_bench(shop: Shop) -> None:
    mix = make_mix_shop(shop.database, shop.cast)
    for name in ("raw umber", "boiled oil", "spirit"):
        mix.can(name)
    client = shop.signed_in(Role.FINISHER)
    here = started(client, mix)
    asks = {"once": "now-page-1", "material": str(mix.ids["spirit"]), "amount": "5 ml", "when": "about"}
    answer = client.post(f"{here}/add", data=asks | {"happened": TYPED})
    assert answer.status_code == 422 and SAID in answer.text and TYPED in answer.text


def _movements(shop: Shop) -> int:
    with shop.database.reading() as session:
        return len(session.exec(select(Movement.id)).all())
