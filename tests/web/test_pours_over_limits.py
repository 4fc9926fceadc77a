"""What is poured over, or comes with a stock list, asks the storage limits as a delivery does."""

from __future__ import annotations

from typing import Any

import pytest
from sqlmodel import select

from service.core.access import Role
from service.records.stock import Container
from tests.web.conftest import Shop
from tests.web.test_store_limits import Store, duties

FIVE_GALLONS = "18.927059 l"


@pytest.fixture
def full(shop: Shop) -> Store:
    """Sixty gallons stand in the first cabinet: as much as one takes."""
    made = Store(shop)
    assert made.receive(12, made.first).status_code == 201
    return made


def codes(answer: Any) -> set[str]:
    return {one["code"] for one in answer.json()["findings"]}


def pour(store: Store, code: str, **more: Any) -> Any:
    return store.post(f"/api/containers/{code}/decants", store.finisher, **more)


def test_a_jar_poured_over_a_limit_is_refused_before_and_recorded_after(full: Store) -> None:
    code = full.receive(1, full.second).json()["containers"][0]["code"]
    asked = {"amount": "2 l", "capacity": "2 l", "place": full.first}
    refused = pour(full, code, **asked)
    assert refused.status_code == 409, refused.text
    said = {one["code"]: one["sentence"] for one in refused.json()["findings"]}
    assert "First cabinet" in said["over-the-limit"] and "Second cabinet" in said["room-elsewhere"]
    with full.shop.database.reading() as session:
        assert len(session.exec(select(Container)).all()) == 13 and not duties(full)
    late = {"already_done": True, "late_reason": "It was poured before anybody looked it up"}
    done = pour(full, code, **asked, **late)
    assert done.status_code == 201, done.text
    (duty,) = duties(full)
    assert "First cabinet" in duty.sentence
    assert full.row("osha-cabinet-cat123", "First cabinet")["met"] is False


def test_more_poured_into_a_can_of_a_full_cabinet_is_refused(full: Store) -> None:
    outside = full.receive(1, full.second).json()["containers"][0]["code"]
    with full.shop.database.reading() as session:
        there = session.exec(select(Container.code).where(Container.place_id == full.first)).first()
    assert full.post(f"/api/containers/{there}/draws", amount="3 l").status_code == 201
    # 3 l are free again: so much goes in, and no more.
    assert pour(full, outside, amount="3 l", into=there).status_code == 201
    refused = pour(full, outside, amount="500 ml", into=there)
    assert refused.status_code == 409 and "over-the-limit" in codes(refused)


def test_pouring_within_a_full_place_makes_nothing_worse(full: Store) -> None:
    with full.shop.database.reading() as session:
        there = session.exec(select(Container.code).where(Container.place_id == full.first)).first()
    done = pour(full, str(there), amount="2 l", capacity="2 l")
    assert done.status_code == 201, done.text
    assert full.row("osha-cabinet-cat123", "First cabinet")["counted"] == pytest.approx(60)


def test_what_no_table_counts_is_poured_without_a_word(shop: Shop) -> None:
    store = Store(shop)
    facts = {"flash_point": {"value": 500, "unit": "F"}, "source": "sheet"}
    store.say(f"/api/materials/{store.spirit}/storage", version=1, **facts)
    code = store.receive(1, store.second).json()["containers"][0]["code"]
    done = pour(store, code, amount="2 l", capacity="2 l", place=store.first)
    assert done.status_code == 201 and "over-the-limit" not in codes(done)


def test_a_list_over_a_limit_is_taken_in_by_its_lines_and_owes_a_move(shop: Shop) -> None:
    store = Store(shop)
    csv = (
        "material,amount,capacity,opened,place,count\n"
        f"cleaning spirit,{FIVE_GALLONS},{FIVE_GALLONS},sealed,First cabinet,7\n"
        f"cleaning spirit,{FIVE_GALLONS},{FIVE_GALLONS},sealed,Second cabinet,2\n"
        f"cleaning spirit,{FIVE_GALLONS},{FIVE_GALLONS},sealed,First cabinet,6\n"
    )
    api = shop.api(Role.FINISHER)
    body = api.post("/api/stock-lists", json={"csv": csv}).json()
    taken = store.post(f"/api/stock-lists/{body['id']}/take", api)
    assert taken.status_code == 201, taken.text
    said = [one["sentence"] for one in taken.json()["findings"] if one["code"] == "over-the-limit"]
    assert len(said) == 1 and said[0].startswith("Lines 2, 4: "), said
    assert "65 gal counted, 60 by this row" in said[0]
    (duty,) = duties(store)
    assert f"list {body['id']}" in duty.sentence and "First cabinet" in duty.sentence
    assert store.row("osha-cabinet-cat123", "First cabinet")["counted"] == 65


def test_a_list_within_its_limits_owes_nothing(shop: Shop) -> None:
    store = Store(shop)
    csv = (
        "material,amount,capacity,opened,place,count\n"
        f"cleaning spirit,{FIVE_GALLONS},{FIVE_GALLONS},sealed,First cabinet,11\n"
    )
    api = shop.api(Role.FINISHER)
    body = api.post("/api/stock-lists", json={"csv": csv}).json()
    taken = store.post(f"/api/stock-lists/{body['id']}/take", api).json()
    assert not duties(store) and "over-the-limit" not in {one["code"] for one in taken["findings"]}
    near = [one["sentence"] for one in taken["findings"] if one["code"] == "near-the-limit"]
    assert near and near[0].startswith("Line 2: "), taken["findings"]
