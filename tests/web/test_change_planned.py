"""Changing a planned job and moving a day, by page and by call."""

from __future__ import annotations

import re

from fastapi.testclient import TestClient

from service.core.access import Role
from tests.mixing_shop import MixShop
from tests.store_builders import once
from tests.web.conftest import Shop
from tests.web.test_jar_pages import plain
from tests.web.test_order_form import shown
from tests.web.test_term_pages import client, mix, new_job, new_term, shop

__all__ = ["client", "mix", "shop"]


def test_a_job_is_changed_on_its_page(client: TestClient, mix: MixShop) -> None:
    job = new_job(client, mix, new_term(client))
    assert f"{job}/edit" in client.get(job).text
    form = client.get(f"{job}/edit")
    fields = shown(form.text)
    assert (fields["heads"], fields["each"], fields["spare_percent"]) == ("10", "0.1 times", "10")
    said = {
        "once": once(), "version": fields["version"], "name": "Second year", "heads": "11",
        "each": "0.2 times", "spare_percent": "10", "recipe_id": str(mix.recipe), "which": "as-kept",
    }  # fmt: skip
    wrong = client.post(f"{job}/edit", data=said | {"each": "60"})
    assert wrong.status_code == 422 and "60 of what?" in plain(wrong.text) and 'value="11"' in wrong.text
    done = client.post(f"{job}/edit", data=said)
    assert done.status_code == 303 and done.headers["location"] == job
    page = plain(client.get(job).text)
    assert "Second year" in page and "11 people, 0.2 times each" in page and "Changed Second year." in page
    assert client.post(f"{job}/edit", data=said | {"once": once()}).status_code == 409


def test_a_day_is_moved_on_its_page(client: TestClient, mix: MixShop) -> None:
    job = new_job(client, mix, new_term(client), last="23 Mar 2026")
    move = {"once": once(), "version": "1", "to": "23 Mar 2026"}
    taken = client.post("/term/dates/1/move", data=move)
    assert taken.status_code == 422 and "stands in this job already" in plain(taken.text)
    assert 'value="23 Mar 2026"' in taken.text
    outside = client.post("/term/dates/1/move", data=move | {"to": "1 Aug 2026"})
    assert outside.status_code == 422 and "The term runs from" in plain(outside.text)
    assert "Enter the other day." in client.post("/term/dates/1/move", data=move | {"to": ""}).text
    assert client.post("/term/dates/1/move", data=move | {"to": "15 Mar 2026"}).status_code == 303
    page = plain(client.get(job).text)
    assert "Moved it from Mon 16 Mar 2026 to Sun 15 Mar 2026." in page and "No school day" in page
    assert client.post("/term/dates/1/move", data=move | {"once": once()}).status_code == 409


def test_both_by_call(client: TestClient, mix: MixShop, shop: Shop) -> None:
    job = new_job(client, mix, new_term(client), last="23 Mar 2026")
    number = int(re.sub(r"\D", "", job))
    api = shop.api(Role.FINISHER)
    body = {"version": 1, "name": "class", "recipe": mix.recipe, "heads": 12, "each": "0.1 times"}
    changed = api.post(f"/api/planned-jobs/{number}", json=body | {"once": once()})
    assert changed.status_code == 201, changed.text
    assert changed.json()["dates"] == ["2026-03-16", "2026-03-23"] and changed.json()["version"] == 2
    term = api.get("/api/terms/1").json()
    assert (term["jobs"][0]["heads"], term["jobs"][0]["version"]) == (12, 2)
    moved = api.post("/api/planned-dates/1/move", json={"once": once(), "version": 1, "day": "2026-03-17"})
    assert moved.status_code == 201 and moved.json()["on"] == "2026-03-17"
    assert api.post(f"/api/planned-jobs/{number}", json=body | {"once": once()}).status_code == 409
    student = shop.signed_in(Role.STUDENT)
    assert student.post(f"{job}/edit", data={"once": once()}).status_code == 403
    assert student.post("/term/dates/1/move", data={"once": once()}).status_code == 403
    assert f"{job}/edit" not in student.get(job).text


def test_the_days_are_folded_but_the_next_and_what_needs_an_answer(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    job = new_job(client, mix, new_term(client), last="27 Apr 2026")
    page = client.get(job).text
    days = re.findall(r'<details class="more day"( open)?><summary>(.*?)</summary>', page, re.S)
    assert len(days) > 3 and [bool(opened) for opened, _ in days] == [True, *[False] * (len(days) - 1)]
    for _, said in days:
        assert "2026" in said and "missing" in said, "the word for a day stands beside it, folded or not"
    number = max(int(one) for one in re.findall(r'id="day-(\d+)"', page))
    back = client.post(f"/term/dates/{number}/move", data={"once": once(), "version": "1", "to": "x"})
    assert len(re.findall(r'<details class="more day" open>', back.text)) == 2
    client.post("/term/dates/1/drop", data={"once": once(), "version": "1"})
    first = re.findall(r'<details class="more day"( open)?><summary>(.*?)</summary>', client.get(job).text)[0]
    assert first[0] == "" and "dropped" in first[1]
    moved = {"once": once(), "version": "1", "to": "9 Mar 2026"}
    assert client.post("/term/dates/2/move", data=moved).status_code == 303
    days = re.findall(r'<details class="more day"( open)?><summary>(.*?)</summary>', client.get(job).text)
    (gone,) = [opened for opened, said in days if "gone, and not settled" in said]
    assert gone == " open"
