"""Storage limits of the store through pages and calls: facts said, deliveries over a limit, moves, duties."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from service.core.access import Role
from service.core.materials import Basis, Form, MaterialKind
from service.records.duties import Duty
from service.records.knowledge_storage import storage_tables
from service.records.shop import Change
from service.records.stock import Container
from tests.store_builders import material
from tests.web.conftest import Shop

WHY = "The lorry was here and nobody could take it back today"


class Store:
    """A building with a store room, two cabinets, a hall, and cleaning spirit, described over the calls."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.keeper, self.finisher = shop.api(Role.KEEPER), shop.api(Role.FINISHER)
        self.building = self.place("Works", "building")
        self.room = self.place("Store room", "room", self.building)
        self.hall = self.place("Hall", "room", self.building)
        self.first = self.place("First cabinet", "cabinet", self.room)
        self.second = self.place("Second cabinet", "cabinet", self.hall)
        self.say(f"/api/places/{self.building}/storage", sprinklered="no")
        for room in (self.room, self.hall):
            self.say(f"/api/places/{room}/storage", storey=1)
        for cabinet in (self.first, self.second):
            self.say(f"/api/places/{cabinet}/storage", approved="yes")
        with shop.database.writing() as session:
            made = material(
                session, "cleaning spirit", basis=Basis.VOLUME, form=Form.LIQUID, kind=MaterialKind.SOLVENT
            )
            assert made.id is not None
            self.spirit = made.id
        self.say(
            f"/api/materials/{self.spirit}/storage", source="sheet, section 9",
            flash_point={"value": 28, "unit": "F"}, boiling_point={"value": 176, "unit": "F"},
        )  # fmt: skip

    def post(self, path: str, client: TestClient | None = None, **body: Any) -> Any:
        return (client or self.keeper).post(path, json={"once": uuid.uuid4().hex} | body)

    def say(self, path: str, **body: Any) -> dict[str, Any]:
        answer = self.post(path, **body)
        assert answer.status_code == 201, answer.text
        return dict(answer.json())

    def place(self, name: str, kind: str, parent: int | None = None) -> int:
        return int(self.say("/api/places", name=name, kind=kind, parent=parent)["id"])

    def receive(self, count: int, place: int | None, client: TestClient | None = None, **more: Any) -> Any:
        body = {
            "material": self.spirit, "count": count, "amount": "5 gal us", "capacity": "5 gal us",
            "vessel": "metal", "place": place,
        }  # fmt: skip
        with_unit = body | {"amount": "18.927059 l", "capacity": "18.927059 l"}
        return self.post("/api/containers", client, **with_unit | more)

    def look(self) -> dict[str, Any]:
        answer = self.keeper.get("/api/storage")
        assert answer.status_code == 200, answer.text
        return dict(answer.json())

    def row(self, key: str, where: str) -> dict[str, Any]:
        found = [
            row for area in self.look()["areas"] for row in area["limits"]
            if row["row"] == key and where in row["where"]
        ]  # fmt: skip
        assert len(found) == 1, found
        return dict(found[0])


@pytest.fixture
def store(shop: Shop) -> Store:
    return Store(shop)


def duties(store: Store) -> list[Duty]:
    with store.shop.database.reading() as session:
        return list(session.exec(select(Duty).where(Duty.kind == "move-container")))


def test_a_full_cabinet_takes_no_more_but_from_a_keeper_with_a_reason(store: Store) -> None:
    assert store.receive(12, store.first, store.finisher).status_code == 201
    row = store.row("osha-cabinet-cat123", "First cabinet")
    assert (row["counted"], row["limit"], row["met"], row["near"]) == (60, 60, True, True)
    for client, code in ((store.finisher, "keeper-takes-it-in"), (store.keeper, "reason-takes-it-in")):
        refused = store.receive(1, store.first, client, **({"over_reason": WHY} if code[0] == "k" else {}))
        assert refused.status_code == 409
        said = {one["code"]: one["sentence"] for one in refused.json()["findings"]}
        assert code in said and "over-the-limit" in said
        assert "Second cabinet, Hall, Works" in said["room-elsewhere"]
    assert store.row("osha-cabinet-cat123", "First cabinet")["counted"] == 60 and not duties(store)
    short = store.receive(1, store.first, over_reason="so")
    assert short.status_code == 422 and "over_reason" in short.json()["errors"]
    taken = store.receive(1, store.first, over_reason=f"{WHY}.")
    assert taken.status_code == 201, taken.text
    assert store.row("osha-cabinet-cat123", "First cabinet")["met"] is False
    (duty,) = duties(store)
    assert f"{WHY}. " in duty.sentence and duty.done_at is None
    moves = store.look()["moves"]
    assert moves and all("Second cabinet, Hall, Works" in one["to"] for one in moves)


def test_the_duty_ends_when_the_place_is_within_its_limit(store: Store) -> None:
    assert store.receive(12, store.first).status_code == 201
    code = store.receive(1, store.first, over_reason=WHY).json()["containers"][0]["code"]
    (duty,) = duties(store)
    client = store.shop.signed_in(Role.KEEPER)
    form = {"once": uuid.uuid4().hex, "answer": "It stands elsewhere now"}
    assert client.post(f"/duties/{duty.id}/done", data=form).status_code == 409
    assert store.post(f"/api/containers/{code}/moves", place=store.second).status_code == 201
    assert client.post(f"/duties/{duty.id}/done", data=form | {"once": uuid.uuid4().hex}).status_code == 303
    assert duties(store)[0].done_at is not None


def test_a_move_over_a_limit_is_refused_before_and_recorded_after(store: Store) -> None:
    assert store.receive(12, store.first).status_code == 201
    code = store.receive(1, store.second).json()["containers"][0]["code"]
    refused = store.post(f"/api/containers/{code}/moves", store.finisher, place=store.first)
    assert refused.status_code == 409
    assert "over-the-limit" in {one["code"] for one in refused.json()["findings"]}
    with store.shop.database.reading() as session:
        box = session.exec(select(Container).where(Container.code == code)).one()
        assert box.place_id == store.second
    done = store.post(
        f"/api/containers/{code}/moves", store.finisher, place=store.first, already_done=True,
        late_reason="It was put there before anybody looked",
    )  # fmt: skip
    assert done.status_code == 201, done.text
    assert len(duties(store)) == 1


def test_what_stood_there_already_is_recorded_and_owes_a_move(store: Store) -> None:
    assert store.receive(13, store.first, store.finisher, origin="stock-take").status_code == 201
    assert len(duties(store)) == 1


def test_what_nobody_knows_of_a_liquid_counts_in_the_strictest_row_and_is_named(store: Store) -> None:
    with store.shop.database.writing() as session:
        made = material(session, "thinner", basis=Basis.VOLUME, form=Form.LIQUID, kind=MaterialKind.SOLVENT)
        number = made.id
    refused = store.post(
        "/api/containers", material=number, count=1, amount="200 l", capacity="200 l", place=store.hall
    )
    assert refused.status_code == 409
    said = {one["code"]: one for one in refused.json()["findings"]}
    assert "flash-not-known" in said and "written down" in said["flash-not-known"]["sentence"]
    facts = {"flash_point": {"value": 250, "unit": "F"}, "source": "sheet"}
    assert store.say(f"/api/materials/{number}/storage", **facts)["version"] == 1
    taken = store.post(
        "/api/containers", material=number, count=1, amount="200 l", capacity="200 l", place=store.hall
    )
    assert taken.status_code == 201, taken.text


def test_facts_are_kept_with_before_and_after_and_read_again(store: Store) -> None:
    told = store.keeper.get(f"/api/materials/{store.spirit}/storage").json()
    assert told["flash_point"] == {"value": 28, "unit": "F"} and told["version"] == 1
    stale = store.post(f"/api/materials/{store.spirit}/storage", version=0, source="x")
    assert stale.status_code == 409
    area = {"value": 20, "unit": "m2"}
    body = {"version": 1, "storey": -1, "floor_area": area, "ambient_max": {"value": 95, "unit": "F"}}
    assert store.say(f"/api/places/{store.room}/storage", **body)["version"] == 2
    place = store.keeper.get(f"/api/places/{store.room}/storage").json()
    assert place["storey"] == -1 and place["floor_area"] == area and place["ambient_max"]["unit"] == "F"
    with store.shop.database.reading() as session:
        fields = {one.field for one in session.exec(select(Change)) if one.about_id == store.room}
    assert {"storage storey", "storage floor area", "storage ambient max"} <= fields


@pytest.mark.parametrize(
    ("path", "body", "field"),
    [
        ("places/{room}", {"storey": 0}, "storey"), ("places/{room}", {"storey": 201}, "storey"),
        ("places/{room}", {"floor_area": {"value": 0, "unit": "ft2"}}, "floor_area"),
        ("places/{room}", {"ambient_max": {"value": 300, "unit": "F"}}, "ambient_max"),
        ("materials/{spirit}", {"flash_point": {"value": 10, "unit": "C"}}, "source"),
        ("materials/{spirit}", {"category": "very bad", "source": "x"}, "category"),
        ("materials/{spirit}", {"groups": ["salt"], "source": "x"}, "groups"),
        ("materials/{spirit}", {"boiling_point": {"value": 1001, "unit": "C"}, "source": "x"},
         "boiling_point"),
    ],
)  # fmt: skip
def test_odd_facts_are_named(store: Store, path: str, body: dict[str, Any], field: str) -> None:
    filled = path.format(room=store.room, spirit=store.spirit)
    answer = store.post(f"/api/{filled}/storage", version=1, **body)
    assert answer.status_code == 422, answer.text
    assert any(field in name for name in answer.json()["errors"])


def test_only_a_keeper_says_the_facts_and_a_finisher_what_a_can_is_made_of(store: Store) -> None:
    code = store.receive(1, store.first).json()["containers"][0]["code"]
    for path in (f"/api/places/{store.room}/storage", f"/api/materials/{store.spirit}/storage"):
        assert store.post(path, store.finisher, version=1).status_code == 403
    rules = {"version": 1, "rule_sets": ["hse-dsear"]}
    assert store.post("/api/storage/rules", store.finisher, **rules).status_code == 403
    said = store.post(f"/api/containers/{code}/vessel", store.finisher, vessel="glass")
    assert said.status_code == 201 and said.json()["vessel"] == "glass"
    rows = {one["row"]: one["met"] for area in store.look()["areas"] for one in area["limits"]}
    assert rows["osha-h12-glass-cat2"] is False
    assert store.post(f"/api/containers/{code}/vessel", vessel="wood").status_code == 422


def test_the_tables_that_hold_are_chosen_and_all_are_shown(store: Store) -> None:
    assert store.receive(3, store.room).status_code == 201
    before = store.look()
    assert before["rule_sets"] == ["osha-1910.106", "ifc-2018"] and before["chosen"] is False
    version = store.keeper.get("/api/storage/rules").json()["version"]
    chosen = store.say("/api/storage/rules", version=version, rule_sets=["hse-dsear", "ifc-2018"])
    assert chosen["rule_sets"] == ["ifc-2018", "hse-dsear"]
    after = store.look()
    assert after["chosen"] is True and {"ifc-2018", "hse-dsear"} == set(after["rule_sets"])
    assert {row["rule_set"] for area in after["areas"] for row in area["limits"]} == {"ifc-2018", "hse-dsear"}
    assert after["complete"] is False, "the highest temperature of the room is not known"


def test_the_pages_say_it_in_words(store: Store) -> None:
    assert store.receive(12, store.first).status_code == 201
    keeper = store.shop.signed_in(Role.KEEPER)
    page = keeper.get("/storage").text
    assert "near its limit" in page and "First cabinet" in page and "fire code official" in page
    assert "level passed by" in page and "above this level" in page and "The building: " in page
    assert "1 of 4 control areas" in page and "4 control areas of" not in page
    assert "category 2" in page and "Class IB" in page
    keys = {row.key for row in storage_tables().rows}
    assert not [key for key in keys if key in page], "a row is shown by its words"
    assert "Storage limits around First cabinet" in keeper.get(f"/storage/{store.first}").text
    assert store.shop.signed_in(Role.READER).get("/storage").status_code == 200
    assert store.shop.signed_in(Role.STUDENT).get("/storage").status_code == 403
    for path in (f"/places/{store.room}/storage", f"/materials/{store.spirit}/storage", "/storage/rules"):
        assert keeper.get(path).status_code == 200
    told = keeper.get(f"/materials/{store.spirit}/storage").text
    assert "oxidiser, class 2" in told and ">oxidizer-2<" not in told
    form = {"once": uuid.uuid4().hex, "version": "1", "storey": "ground"}
    wrong = keeper.post(f"/places/{store.room}/storage", data=form)
    assert wrong.status_code == 422 and "ground" in wrong.text
    kept = keeper.post(f"/places/{store.room}/storage", data=form | {"storey": "2", "floor_unit": "m2"})
    assert kept.status_code == 303
    assert store.row("ifc-maq-ib-ic-storage", "Store room")["limit"] == 180, "75 % of twice 120 gal"


def test_the_last_question_of_a_delivery_offers_the_reason_to_a_keeper_alone(store: Store) -> None:
    assert store.receive(12, store.first).status_code == 201
    form = {
        "once": uuid.uuid4().hex, "step": "state", "count": "1", "amount": "18.9 l", "capacity": "19 l",
        "place_id": str(store.first), "opened": "sealed", "condition": "sound", "sheet_came": "no",
        "vessel": "metal",
    }  # fmt: skip
    told = store.shop.signed_in(Role.FINISHER).post(f"/receive/{store.spirit}", data=form)
    assert told.status_code == 409
    assert 'name="over_reason"' not in told.text and "A keeper can take it in" in told.text
    keeper = store.shop.signed_in(Role.KEEPER)
    asked = keeper.post(f"/receive/{store.spirit}", data=form)
    assert asked.status_code == 409 and 'name="over_reason"' in asked.text
    taken = keeper.post(f"/receive/{store.spirit}", data=form | {"over_reason": WHY})
    assert taken.status_code == 303
    assert len(duties(store)) == 1


def test_what_stands_nobody_knows_where_is_named_once_with_the_page_where_it_is_told(shop: Shop) -> None:
    store = Store(shop)
    store.receive(1, store.first)
    client = shop.signed_in(Role.KEEPER)
    assert "Nobody knows where this stands. It may" not in client.get("/storage").text
    code = store.receive(1, None).json()["containers"][0]["code"]
    page = client.get("/storage").text
    assert page.count("Nobody knows where this stands. It may") == 1
    assert f'<a href="/C/{code}">Move it to where it stands</a>' in page
    assert client.get(f"/C/{code}", follow_redirects=True).status_code == 200
