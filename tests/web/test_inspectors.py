"""A keeper lets an inspector in for some days; after the last one nothing opens for them."""

from __future__ import annotations

import html
import re
from datetime import UTC, date, datetime, timedelta

import pytest
from fastapi.testclient import TestClient
from sqlmodel import col, select

from service.core.access import Role
from service.records.people import LinkPurpose, Person, SignInLink, WebSession
from service.web.route_table import ROWS
from tests.mixing_shop import make_mix_shop
from tests.web.conftest import Shop
from tests.web.sign_in_steps import enter, printed, set_person

LAST = "2026-03-15"


def invited(shop: Shop, last: str = LAST, name: str = "Hanne Lund, fire authority") -> str:
    """The path of an address that a keeper made."""
    answer = shop.signed_in(Role.KEEPER).post("/inspectors", data={"name": name, "last": last})
    assert answer.status_code == 200
    return the_address(answer.text)


def the_address(page: str) -> str:
    shown = re.search(r'<p class="code">(.*?)</p>', page, re.DOTALL)
    assert shown
    whole = html.unescape(shown[1].replace("<wbr>", ""))
    assert whole.startswith("http://testserver/inspector/")
    return whole.removeprefix("http://testserver")


def plain(page: str) -> str:
    """The page with spaces where it has spaces that do not break."""
    return page.replace("\u00a0", " ")


def signed_in_by(shop: Shop, path: str) -> TestClient:
    client = shop.client()
    answer = client.post(path)
    assert (answer.status_code, answer.headers["location"]) == (303, "/inspection-pack")
    return client


def test_the_address_leads_to_the_pack_once(shop: Shop) -> None:
    path = invited(shop)
    client = shop.client()
    assert "Hanne Lund" in client.get(path).text
    assert client.get(path).status_code == 200  # a look uses nothing up
    inspector = signed_in_by(shop, path)
    assert "Inspection pack of 12 March 2026" in inspector.get("/inspection-pack").text
    assert shop.client().post(path).status_code == 404
    assert shop.client().get(path).status_code == 404


def test_a_week_is_offered_and_31_days_are_the_most(shop: Shop) -> None:
    keeper = shop.signed_in(Role.KEEPER)
    assert 'value="19 Mar 2026"' in plain(keeper.get("/inspectors").text)
    assert keeper.post("/inspectors", data={"name": "Hanne", "last": "2026-04-12"}).status_code == 200
    late = keeper.post("/inspectors", data={"name": "Hanne", "last": "2026-04-13"})
    assert late.status_code == 422 and "within 31 days" in late.text and 'value="2026-04-13"' in late.text
    over = keeper.post("/inspectors", data={"name": "Hanne", "last": "2026-03-11"})
    assert over.status_code == 422 and "not over yet" in over.text
    assert "Enter the last day" in keeper.post("/inspectors", data={"name": "Hanne"}).text
    with shop.database.reading() as session:
        assert len(session.exec(select(Person).where(col(Person.name) == "Hanne")).all()) == 1


@pytest.mark.parametrize("role", [Role.READER, Role.STUDENT, Role.FINISHER])
def test_only_a_keeper_lets_somebody_in(shop: Shop, role: Role) -> None:
    answer = shop.signed_in(role).post("/inspectors", data={"name": "Hanne", "last": LAST})
    assert answer.status_code == 403
    with shop.database.reading() as session:
        assert session.exec(select(SignInLink)).all() == []


def test_another_address_ends_the_former_one(shop: Shop) -> None:
    first = invited(shop)
    with shop.database.reading() as session:
        reader = session.exec(select(Person).where(col(Person.name).startswith("Hanne"))).one()
    keeper = shop.signed_in(Role.KEEPER)
    second = the_address(keeper.post(f"/inspectors/{reader.id}/address").text)
    assert shop.client().post(first).status_code == 404
    signed_in_by(shop, second)
    assert keeper.post(f"/inspectors/{shop.cast.finisher.id}/address").status_code == 422
    assert keeper.post("/inspectors/999/address").status_code == 404


def test_after_the_last_day_pages_addresses_and_tokens_say_that_it_has_ended(shop: Shop) -> None:
    path, unused = invited(shop), invited(shop, name="Jon Berg")
    inspector = signed_in_by(shop, path)
    token = shop.api(Role.READER)
    assert token.get("/api/inspection-pack").status_code == 200
    set_person_of_token(shop, LAST)
    shop.clock.now = datetime(2026, 3, 15, 22, 59, tzinfo=UTC)  # a minute before midnight in Berlin
    keep_signed_in(shop)
    assert inspector.get("/inspection-pack").status_code == 200
    shop.clock.now = datetime(2026, 3, 15, 23, 0, tzinfo=UTC)
    keep_signed_in(shop)
    for row in ROWS:
        if row.method == "GET" and isinstance(row.needs, tuple) and not row.path.startswith("/api"):
            answer = inspector.get(re.sub(r"\{[^}]+\}", "1", row.path))
            assert answer.status_code == 303 and answer.headers["location"].startswith("/sign-in"), row.path
    told = plain(inspector.get("/sign-in?next=/inspection-pack").text)
    assert "Your access to these books ended with 15 Mar 2026" in told
    assert "used or is too old" in shop.client().get(unused).text
    assert shop.client().post(unused).status_code == 404
    ended = token.get("/api/inspection-pack")
    assert ended.status_code == 401 and "ended" in ended.json()["detail"]


def set_person_of_token(shop: Shop, last: str) -> None:
    with shop.database.writing() as session:
        for row in session.exec(select(Person).where(col(Person.is_script))).all():
            row.expires_on = datetime.fromisoformat(last).date()
            session.add(row)


def keep_signed_in(shop: Shop) -> None:
    """Sessions that were used a moment ago: what ends them is the last day alone."""
    with shop.database.writing() as session:
        for row in session.exec(select(WebSession)).all():
            row.last_seen_at = shop.clock()
            session.add(row)


def test_an_inspector_writes_nothing(shop: Shop) -> None:
    """Every unsafe route of people who work is shut but what touches no stock and the head of the log."""
    inspector = signed_in_by(shop, invited(shop))
    open_to_them = set()
    for row in ROWS:
        if row.method == "POST" and isinstance(row.needs, tuple) and not row.path.startswith("/api"):
            answer = inspector.post(re.sub(r"\{[^}]+\}", "1", row.path), data={})
            if answer.status_code != 403:
                open_to_them.add(row.path)
    assert open_to_them == {"/rags/day-sheet", "/hazards/mix", "/air"}


def test_no_other_address_opens_this_door(shop: Shop) -> None:
    token = printed(shop).rsplit("/", 1)[1]
    assert shop.client().post(f"/inspector/{token}").status_code == 404
    with shop.database.reading() as session:
        (link,) = session.exec(select(SignInLink)).all()
    assert link.purpose is LinkPurpose.SIGN_IN and link.used_at is None  # and it is not spent by trying


def test_a_reader_who_signs_in_comes_to_the_pack(shop: Shop) -> None:
    def sign_in(name: str, **more: str) -> str:
        answer = enter(shop.client(), name, f"the password of {name}", **more)
        assert answer.status_code == 303
        return str(answer.headers["location"])

    assert sign_in("ines") == "/inspection-pack"
    assert sign_in("ines", next="/rags") == "/rags"
    assert sign_in("piet") == "/"
    set_person(shop, shop.cast.reader, expires_on=date(2026, 3, 11))
    over = enter(shop.client(), "ines", "the password of ines")
    assert over.status_code == 422


def test_a_keeper_ends_the_access_of_a_reader_now(shop: Shop) -> None:
    path, unused = invited(shop), invited(shop, name="Jon Berg")
    inspector = signed_in_by(shop, path)
    with shop.database.reading() as session:
        found = {one.name[:5]: one.id for one in session.exec(select(Person)).all()}
    keeper = shop.signed_in(Role.KEEPER)
    assert "End the access of Jon Berg now" in keeper.get("/inspectors").text
    for name in ("Hanne", "Jon B"):
        assert keeper.post(f"/inspectors/{found[name]}/end").status_code == 303
    assert inspector.get("/inspection-pack").status_code in (303, 401, 403)
    assert shop.client().post(unused).status_code == 404
    assert "Jon Berg</a>, until" not in keeper.get("/inspectors").text
    assert keeper.post(f"/inspectors/{found['Hanne']}/end").status_code == 422, "they may not look any more"
    assert keeper.post(f"/inspectors/{shop.cast.finisher.id}/end").status_code == 422
    assert keeper.post("/inspectors/999/end").status_code == 404
    assert shop.signed_in(Role.FINISHER).post(f"/inspectors/{found['Hanne']}/end").status_code == 403


def test_inviting_the_same_twice_says_so(shop: Shop) -> None:
    invited(shop)
    keeper = shop.signed_in(Role.KEEPER)
    again = keeper.post("/inspectors", data={"name": "hanne  LUND, fire authority", "last": LAST})
    assert again.status_code == 422
    assert "may look until 15 March 2026 already" in plain(again.text)
    with shop.database.reading() as session:
        assert len([one for one in session.exec(select(Person)).all() if one.name.startswith("Hanne")]) == 1


def test_an_inspector_sees_the_pack_and_what_it_rests_on_and_no_recipes_or_plans(shop: Shop) -> None:
    inspector = signed_in_by(shop, invited(shop))
    for path in ("/inspection-pack", "/inspection-pack.zip", "/storage", "/waste/drums", "/records"):
        assert inspector.get(path).status_code == 200, path
    for path in ("/recipes", "/bench", "/samples", "/term", "/orders", "/suppliers"):
        assert inspector.get(path).status_code == 403, path


def test_an_inspector_sees_classes_and_label_of_a_mix_and_not_what_is_in_it(shop: Shop) -> None:
    mix = make_mix_shop(shop.database, shop.cast)
    keeper, inspector = shop.signed_in(Role.KEEPER), signed_in_by(shop, invited(shop))
    here = f"/recipes/{mix.recipe}/hazards"
    whole, told = plain(keeper.get(here).text), plain(inspector.get(here).text)
    for words in ("What is in the mix", "What it is made of", "Try other amounts", "300 ml"):
        assert words in whole, words
        assert words not in told, words
    assert "What is marked calculated" in told and f'/recipes/{mix.recipe}"' not in told
    for path in ("/hazards/mix", "/air"):
        assert "300 ml" in plain(keeper.get(f"{path}?recipe={mix.recipe}").text)
        assert "300 ml" not in plain(inspector.get(f"{path}?recipe={mix.recipe}").text)


def test_an_inspector_sees_the_jobs_and_no_way_to_close_one(shop: Shop) -> None:
    make_mix_shop(shop.database, shop.cast)
    shop.clock.now += timedelta(hours=20)
    keeper, inspector = shop.signed_in(Role.KEEPER), signed_in_by(shop, invited(shop))
    assert "/jobs/1/close" in keeper.get("/jobs").text
    page = inspector.get("/jobs").text
    assert "past its end" in page and "/close" not in page and "/jobs/new" not in page
    assert "/bench/" not in inspector.get("/jobs/1").text
