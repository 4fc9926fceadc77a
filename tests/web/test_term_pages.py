"""`/term` and what hangs on it through the client, without script, on both databases."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from service.app import create_app
from service.core.access import Role
from service.records.engine import Database
from service.records.orders import LineState, OrderLineRow
from service.records.plans import DateState, PlannedDate
from tests.builders import FAST_HASHER, cast
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import once
from tests.web.conftest import Clock, Shop, shop_settings
from tests.web.test_jar_pages import plain

TERM = {
    "name": "Spring 2026", "first_day": "2 Feb 2026", "last_day": "3 Jul 2026",
    "weekdays": ["0", "1", "2", "3", "4"], "country": "de", "part": "sn", "breaks": "yes",
    "free": "8 May 2026, works day", "extra": "14 Mar 2026", "version": "0",
}  # fmt: skip
JOB = {
    "name": "Second year, staining", "heads": "10", "each": "0.1 times", "spare_percent": "10",
    "first": "16 Mar 2026", "repeat": "weekly", "every": "1", "last": "27 Apr 2026", "on_free": "leave-out",
}  # fmt: skip


@pytest.fixture
def shop(database: Database, tmp_path: Path) -> Iterator[Shop]:
    """The shop of these tests, on each database."""
    with database.writing() as session:
        people = cast(session)
    clock = Clock()
    made = Shop(
        create_app(shop_settings(tmp_path, database), database, clock, hasher=FAST_HASHER), database, clock,
        people,
    )  # fmt: skip
    yield made
    for client in made.clients:
        client.close()


@pytest.fixture
def mix(shop: Shop) -> MixShop:
    return make_mix_shop(shop.database, shop.cast)


@pytest.fixture
def client(shop: Shop, mix: MixShop) -> TestClient:
    return shop.signed_in(Role.FINISHER)


def new_term(client: TestClient, **more: Any) -> str:
    done = client.post("/term/new", data=TERM | {"once": once()} | more)
    assert done.status_code == 303, plain(done.text)
    return str(done.headers["location"])


def new_job(client: TestClient, mix: MixShop, term: str, **more: Any) -> str:
    said = JOB | {"once": once(), "recipe_id": str(mix.recipe)} | more
    done = client.post(f"{term}/jobs/new", data=said)
    assert done.status_code == 303, plain(done.text)
    return str(done.headers["location"])


def new_pack(client: TestClient, material: int, **said: str) -> None:
    done = client.post(f"/materials/{material}/packs", data={"once": once()} | said)
    assert done.status_code == 303, plain(done.text)


def test_from_a_term_to_what_is_missing(client: TestClient, mix: MixShop) -> None:
    mix.can("spirit", 1_000_000)
    term = new_term(client)
    job = new_job(client, mix, term)
    page = plain(client.get(job).text)
    # Mondays from 16 March to 27 April without Easter Monday and the school holidays of Saxony.
    assert "Mon 16 Mar 2026" in page and "Mon 6 Apr 2026" not in page
    assert "6 April 2026 is no school day (Easter Monday" in page
    assert "330 ml" in page and "1.1 times" in page
    whole = plain(client.get(term).text)
    each = "10 people, 0.1 times each + 10 %"
    for words in ("Second year, staining", each, "raw umber", "lack something", "Term"):
        assert words in whole, words
    material = plain(client.get(f"{term}/materials/{mix.ids['spirit']}").text)
    assert "this opens it" not in material and "330 ml from" in material and "on the shelf today" in material


def test_order_and_receive_tick_the_line_off(client: TestClient, mix: MixShop, shop: Shop) -> None:
    term = new_term(client)
    new_job(client, mix, term, repeat="once", first="20 Apr 2026", heads="20")
    spirit = mix.ids["spirit"]
    said = {"supplier": "Kilnwood Supplies", "lead_days": "5", "price": "8.50"}
    new_pack(client, spirit, amount="1 l", **said)
    new_pack(client, spirit, amount="250 ml", supplier="kilnwood supplies", lead_days="5", price="3")
    listed = plain(client.get(f"{term}/orders").text)
    for words in (
        "3 × 250 ml", "Kilnwood Supplies lead time 5 working days", "2 Apr 2026", "Write down its packs",
        "at least", "not known: The flash point of", "No pack size of boiled oil", "no suggestion.",
    ):  # fmt: skip
        assert words in listed, (words, listed)
    form = client.get(f"{term}/orders/new?supplier=1")
    fields = dict(re.findall(r'name="([a-z_0-9]+)"[^>]*?value="([^"]*)"', form.text))
    assert plain(fields["expected_0"]) == "17 Apr 2026", "as the list says: here by"
    placed = client.post(f"{term}/orders/new", data=fields)
    assert placed.status_code == 303, plain(placed.text)
    order = placed.headers["location"]
    rest = plain(client.get(f"{term}/orders").text).split("Beside each")[0]
    assert "spirit" not in rest.split("Of whom")[1]
    page = client.get(order)
    assert "on its way" in page.text and "3 × 250 ml" in plain(page.text)
    came = client.get(f"/receive/{spirit}?order_line=1&count=2&lot=L-77")
    assert 'name="order_line" value="1"' in came.text and 'value="250 ml"' in came.text
    told = {
        "order_line": "1", "once": "came-1", "count": "2", "amount": "250 ml", "lot": "L-77",
        "supplier": "Kilnwood Supplies", "price": "3.00", "step": "state", "opened": "sealed",
    }  # fmt: skip
    for _ in range(2):
        assert client.post(f"/receive/{spirit}", data=told).status_code == 303
    with shop.database.reading() as session:
        line = session.exec(select(OrderLineRow)).one()
        assert (line.received_count, line.received_amount, line.state) == (2, 500_000, LineState.OPEN)
    took = client.post(f"/receive/{spirit}", data=told | {"once": "came-2", "count": "1"})
    assert took.status_code == 303
    assert f'href="{order}"' in client.get(took.headers["location"]).text, "a way back to the order"
    assert "received" in client.get(order).text and "take it in" not in client.get(order).text
    for count in ("abc", "-3", "1.5", "", "0"):
        odd = client.get(f"/receive/{spirit}?order_line=1&count={count}")
        assert "Enter how many came: a whole number from 1." in odd.text
    again = client.post(f"/receive/{spirit}", data=told | {"once": "came-3", "count": "1"})
    assert again.status_code == 422 and "not on its way" in again.text
    assert client.get(f"/receive/{mix.ids['boiled oil']}?order_line=1").status_code == 404


def test_the_list_as_a_table_is_guarded_and_says_what_is_not_known(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    from service.records.materials import Material

    with shop.database.writing() as session:
        row = session.get_one(Material, mix.ids["spirit"])
        row.name = "=1+1"
        session.add(row)
    term = new_term(client)
    new_job(client, mix, term)
    new_pack(client, mix.ids["boiled oil"], amount="1 l")
    answer = client.get(f"{term}/orders.csv")
    assert answer.headers["content-disposition"] == 'attachment; filename="order-list.csv"'
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    by_name = {row["material"]: row for row in rows}
    assert set(by_name) == {"'=1+1", "boiled oil", "raw umber"}
    assert by_name["'=1+1"]["pack"] == "not known" and by_name["boiled oil"]["order by"] == "not known"
    assert by_name["boiled oil"]["storage limits"].startswith("not known: The flash point of boiled oil")


def test_what_is_missing_is_not_known_in_the_table_as_on_the_page(client: TestClient, mix: MixShop) -> None:
    term = new_term(client)
    new_job(client, mix, term, each="60 ml")
    assert "0 ml" not in plain(client.get(f"{term}/orders").text)
    answer = client.get(f"{term}/orders.csv")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert {row["missing"] for row in rows} == {"not known"} and len(rows) == 3


def test_a_day_is_dropped_taken_up_added_and_stands_for_a_batch(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    for name in ("raw umber", "boiled oil", "spirit"):
        mix.can(name, 2_000_000)
    term = new_term(client)
    job = new_job(client, mix, term, last="23 Mar 2026")
    dropped = client.post("/term/dates/1/drop", data={"once": once(), "version": "1"})
    assert dropped.status_code == 303
    assert "Take it up again" in client.get(job).text
    assert client.post("/term/dates/1/drop", data={"once": once(), "version": "1"}).status_code == 409
    assert client.post("/term/dates/1/take-up", data={"once": once(), "version": "2"}).status_code == 303
    more = client.post(f"{job}/days", data={"once": once(), "day": "17 Mar 2026"})
    assert more.status_code == 303
    twice = client.post(f"{job}/days", data={"once": once(), "day": "17 Mar 2026"})
    assert twice.status_code == 422 and "stands in this job already" in twice.text
    check = client.post("/term/dates/1/check", data={"once": once()})
    assert check.status_code == 303 and check.headers["location"].startswith("/checks/")
    aside = client.post(f"{check.headers['location']}/set-aside", data={"once": once()})
    assert aside.headers["location"] == "/bench/1"
    assert "batch 1" in plain(client.get(job).text)
    with shop.database.reading() as session:
        assert session.get_one(PlannedDate, 1).state is DateState.STARTED
    own = mix.set_aside(mix.keep("0.5 times"))
    link = {"once": once(), "batch_id": str(own), "version": "1"}
    assert client.post("/term/dates/2/batch", data=link).status_code == 303
    wrong = client.post("/term/dates/3/batch", data=link | {"once": once()})
    assert wrong.status_code == 422 and "stands for another date" in wrong.text
    released = client.post("/bench/1/release", data={"once": once()})
    assert released.status_code == 303
    # What came to nothing is to be made again, and nobody has to think of it.
    assert "Take it up again" not in client.get(job).text
    with shop.database.reading() as session:
        assert session.get_one(PlannedDate, 1).state is DateState.PLANNED
    assert client.post(f"{job}/drop", data={"once": once()}).status_code == 303


def test_what_dies_unused_names_the_job_that_could_take_it(client: TestClient, mix: MixShop) -> None:
    code = mix.can("spirit", 500_000, printed_date=date(2026, 4, 10), is_open=False)
    term = new_term(client)
    new_job(client, mix, term, repeat="once", first="20 Apr 2026")
    page = plain(client.get(f"{term}/waste").text)
    assert f"{code[:3]} {code[3:]}" in page and "10 Apr 2026" in page
    assert "Second year, staining on Mon 20 Apr 2026: 330 ml" in page
    assert "Where a planned job could take it, bring that job forward." in page


def test_what_no_job_takes_is_not_told_to_be_brought_forward(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    mix.can("spirit", 500_000, printed_date=date(2026, 4, 22), is_open=False)
    term = new_term(client)
    new_job(client, mix, term, repeat="once", first="20 Apr 2026")
    page = plain(client.get(f"{term}/waste").text)
    assert "no planned job is known to take it" in page and "bring" not in page
    plan = shop.api(Role.FINISHER).get(f"/api/terms/{term.rsplit('/', 1)[1]}/plan").json()
    (dies,) = plan["dying"]
    assert (dies["rescue"], dies["takers"]) == ("no-job", [])


def test_what_is_typed_stays_and_the_field_is_named(client: TestClient, mix: MixShop) -> None:
    term = new_term(client)
    for said, words in (
        ({"each": "60"}, "60 of what?"), ({"heads": "0"}, "Enter for how many people"),
        ({"first": "1 Aug 2026"}, "The term runs from"), ({"each": "2 pints"}, "the US pint of"),
        ({"recipe_id": ""}, "Choose the recipe."), ({"heads": "many"}, "For how many people: enter a"),
        ({"spare_percent": "12.5"}, "Spare: enter a whole"),
    ):  # fmt: skip
        answer = client.post(f"{term}/jobs/new", data=JOB | {"once": once(), "recipe_id": "1"} | said)
        assert answer.status_code == 422 and words in plain(answer.text), (said, plain(answer.text)[:800])
        assert "Second year, staining" in answer.text
    for said, words in (
        ({"last_day": "1 Jan 2026"}, "before its first"), ({"country": "xx"}, "not known here"),
        ({"part": "zz"}, "no such part"), ({"weekdays": []}, "at least one weekday"),
        ({"free": "Easter"}, "write the days like"), ({"extra": "soon"}, "write one day on each line"),
        ({"name": ""}, "Give the term a name."),
    ):  # fmt: skip
        answer = client.post("/term/new", data=TERM | {"once": once()} | said)
        assert answer.status_code == 422 and words in plain(answer.text), (said, plain(answer.text)[:800])
    for said, words in (
        ({"amount": "about 1 l"}, "exactly"), ({"amount": "1 l", "price": "-1"}, "cost"),
        ({"amount": "1 l", "lead_days": "400"}, "from 0 to 365"),
        ({"amount": "1 l", "price": "1.005"}, "can be"),
    ):  # fmt: skip
        answer = client.post(f"/materials/{mix.ids['spirit']}/packs", data={"once": once()} | said)
        assert answer.status_code == 422 and words in plain(answer.text), (said, plain(answer.text)[:800])


def test_students_read_and_readers_see_nothing(client: TestClient, mix: MixShop, shop: Shop) -> None:
    term = new_term(client)
    job = new_job(client, mix, term)
    for role in (Role.STUDENT, Role.READER):
        reader = shop.signed_in(role)
        pages = (term, job, f"{term}/orders", f"{term}/waste", "/term", "/orders", "/materials/1/packs")
        for address in pages:
            answer = reader.get(address)
            assert answer.status_code == (200 if role is Role.STUDENT else 403)
            assert "<form method=\"post\" action=\"/term" not in answer.text
        for address in ("/term/new", f"{term}/jobs/new", "/term/dates/1/drop", "/materials/1/packs"):
            assert reader.post(address, data={"once": once()}).status_code == 403


def test_a_term_is_changed_and_keeps_what_was_planned(client: TestClient, mix: MixShop) -> None:
    term = new_term(client)
    job = new_job(client, mix, term)
    form = client.get(f"{term}/edit")
    assert "8 May 2026, works day" in plain(form.text) and 'value="DE"' in form.text
    said = TERM | {"once": once(), "version": "1", "free": "16 Mar 2026, excursion"}
    assert client.post(f"{term}/edit", data=said).status_code == 303
    assert "No school day: excursion" in plain(client.get(job).text)
    assert client.post(f"{term}/edit", data=said | {"once": once()}).status_code == 409
