"""What planning and moving say of a day, where a finding of the plan leads, and a level that is not sure."""

from __future__ import annotations

import re

from fastapi.testclient import TestClient

from service.core.access import Role
from service.core.pot_waste import PotWentTo
from tests.actions.test_made_for_days import end
from tests.actions.test_plan_unsettled import begin
from tests.actions.test_term_plan_stored import Planned
from tests.mixing_shop import MixShop
from tests.store_builders import once
from tests.web.conftest import Shop
from tests.web.test_jar_pages import plain
from tests.web.test_term_api import post
from tests.web.test_term_pages import TERM, client, mix, new_job, new_term, shop

__all__ = ["client", "mix", "shop"]


def codes(answer: dict[str, list[dict[str, str]]]) -> set[str]:
    return {one["code"] for one in answer["findings"]}


def test_a_day_that_is_gone_is_planned_with_a_warning(client: TestClient, mix: MixShop, shop: Shop) -> None:
    """Today is 12 March."""
    job = new_job(client, mix, new_term(client), repeat="once", last="")
    gone = "11 March 2026 is gone already: nothing is counted for it."
    move = {"once": once(), "version": "1", "to": "11 Mar 2026"}
    assert client.post("/term/dates/1/move", data=move).status_code == 303
    assert gone in plain(client.get(job).text)
    api = shop.api(Role.FINISHER)
    back = post(api, "/api/planned-dates/1/move", version=2, day="2026-03-12")
    assert "day-is-gone" not in codes(back), "today is not gone"
    assert "day-is-gone" in codes(post(api, "/api/planned-dates/1/move", version=3, day="2026-03-10"))
    post(api, "/api/planned-dates/1/drop", version=4)
    assert "day-is-gone" in codes(post(api, "/api/planned-dates/1/take-up", version=5))
    assert "day-is-gone" in codes(post(api, "/api/planned-jobs/1/dates", day="2026-03-09"))
    said = {"name": "class", "recipe": mix.recipe, "heads": 2, "each": "0.1 times", "repeat": "weekly"}
    done = post(api, "/api/terms/1/jobs", **said, first="2026-02-24", last="2026-03-17")
    (words,) = [one["sentence"] for one in done["findings"] if one["code"] == "day-is-gone"]
    assert words.startswith("24 February 2026, 3 March 2026 and 10 March 2026 are gone already: ")


def test_that_no_country_is_chosen_is_said_of_rows_and_plans_alone(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    term = new_term(client, country="", part="")
    new_job(client, mix, term, repeat="once", last="")
    api = shop.api(Role.FINISHER)
    assert codes(post(api, "/api/planned-dates/1/move", version=1, day="2026-03-18")) == set()
    assert codes(post(api, "/api/planned-jobs/1/dates", day="2026-03-19")) == set()
    saturday = post(api, "/api/planned-jobs/1/dates", day="2026-03-21")
    assert codes(saturday) == {"on-free-day"}
    said = {"name": "row", "recipe": mix.recipe, "heads": 2, "each": "0.1 times", "repeat": "weekly"}
    assert "no-country" in codes(post(api, "/api/terms/1/jobs", **said, first="2026-03-16"))
    assert "no-country" in codes(api.get("/api/terms/1/plan").json())


def test_findings_lead_to_the_day_the_job_and_the_material(client: TestClient, mix: MixShop) -> None:
    term = new_term(client)
    job = new_job(client, mix, term, name="Late lesson", repeat="once", first="30 Jun 2026", last="")
    fields = {"once": once(), "version": "1", "last_day": "26 Jun 2026"}
    assert client.post(f"{term}/edit", data=TERM | fields).status_code == 303
    page = client.get(term).text
    assert f'href="{job}#day-1">To the job Late lesson<' in page
    assert 'id="day-1"' in client.get(job).text
    orders = client.get(f"{term}/orders").text
    spirit = f"{term}/materials/{mix.ids['spirit']}"
    packs = f"/materials/{mix.ids['spirit']}/packs"
    assert f'href="{packs}">Packs of spirit<' in orders, "no pack size of it is known"
    open_ended = mix.write(("spirit", "to suit"), name="Thin it")
    new_job(client, mix, term, name="Thinning", recipe_id=str(open_ended), repeat="once", each="1 times",
            first="20 Apr 2026", last="")  # fmt: skip
    assert f'href="{spirit}">spirit over the term<' in client.get(term).text, "how much is not known"
    assert f'href="{spirit}">spirit over' not in client.get(spirit).text, "the page itself"


def test_two_jobs_of_one_name_lead_to_none_of_them(client: TestClient, mix: MixShop) -> None:
    term = new_term(client)
    for _ in range(2):
        new_job(client, mix, term, name="Late lesson", repeat="once", first="30 Jun 2026", last="")
    fields = {"once": once(), "version": "1", "last_day": "26 Jun 2026"}
    assert client.post(f"{term}/edit", data=TERM | fields).status_code == 303
    page = client.get(term).text
    assert "no school days" in page and "To the job Late lesson" not in page


def test_a_level_that_nobody_knows_is_drawn_as_not_sure(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    mix.can("spirit", 1_000_000)
    term = new_term(client)
    new_job(client, mix, term, repeat="once", first="16 Mar 2026", last="")
    where = f"{term}/materials/{mix.ids['spirit']}"
    known = client.get(where).text
    assert "pic-level" in known and "pic-unsure" not in known and "at most" not in plain(known)
    assert "at the end 670 ml" in plain(known)
    open_ended = mix.write(("spirit", "to suit"), name="Thin it")
    new_job(client, mix, term, name="Thinning", recipe_id=str(open_ended), repeat="once", each="1 times",
            first="20 Apr 2026", last="")  # fmt: skip
    later = client.get(where).text
    assert "pic-level" in later and "pic-unsure" in later and "not sure: there may be less" in plain(later)
    assert "at the end not known, at most 670 ml" in plain(later) and "Today 1000 ml" in plain(later)
    assert "From 20 Apr 2026 on the line is not sure: some job takes an amount nobody knows" in plain(later)
    move = {"once": once(), "version": "1", "to": "11 Mar 2026"}
    assert client.post("/term/dates/1/move", data=move).status_code == 303
    gone = client.get(where).text
    assert "pic-level" not in gone and "pic-unsure" in gone
    assert 'href="/term/jobs/1#day-1">To that day<' in gone
    words = plain(gone)
    assert "Today not known, at most 1000 ml" in words and "nobody said whether it was made" in words
    (line,) = re.findall(r'pic-unsure" d="(M8\.?0? [^"]+)"', gone)
    assert line.endswith("H352")


def test_a_day_of_which_a_part_was_made_says_so_and_its_rest_can_be_dropped(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    """600 ml are planned for 16 March; a jar of 100 ml is there and the rest of the pot went to waste."""
    mix.can("spirit", 600_000)
    term = new_term(client)
    wash = mix.write(("spirit", "600 ml"), name="Wash", makes="600 ml")
    job = new_job(
        client, mix, term, repeat="once", last="", recipe_id=str(wash), heads="10", each="60 ml",
        spare_percent="0",
    )  # fmt: skip
    planned = Planned(mix, 1)
    batch = begin(planned, 1)
    assert "Drop the rest" not in client.get(job).text
    end(planned, batch, jars=("100 ml",), went_to=PotWentTo.WASTE_DRUM)
    page = plain(client.get(job).text)
    assert re.search("batch 1 ?, finished", page) and "the rest: missing" in page
    assert "Its batch did not make all of it" in page and "500 ml of spirit is missing" in page
    told = f"batch {batch} is finished, and of 600 ml that the day asks for 100 ml is there"
    whole = client.get(term).text
    assert told in plain(whole)
    assert "made-less" in codes(shop.api(Role.FINISHER).get("/api/terms/1/plan").json())
    assert re.search(r'href="/term/jobs/1#day-1"', whole), "it leads to its day"
    version = re.search(r'dates/1/drop".*?name="version" value="(\d+)"', client.get(job).text, re.DOTALL)
    assert version is not None and "Drop the rest of this day" in page
    data = {"once": once(), "version": version[1]}
    assert client.post("/term/dates/1/drop", data=data).status_code == 303
    page = plain(client.get(job).text)
    assert re.search("dropped but for what was made: batch 1 ?, finished", page) and "is missing" not in page
    assert told not in plain(client.get(term).text)
