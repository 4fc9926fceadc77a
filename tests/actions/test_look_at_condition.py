"""What a look can tell and what it cannot: sealed tins, dead tins, doubts, peroxides, jars poured from a tin.

Figures of peroxide formers: Cornell University, Appendix J (list B: unopened 18 months, opened 12), severe
class opened 3 months; Iowa State University scraps at 100 ppm. The rest is house policy.
"""

from __future__ import annotations

import itertools
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from service.actions.check_condition import CheckAsked, check_condition
from service.actions.container_events import MoveAsked, OpenAsked, move, open_container
from service.actions.decant import DecantAsked, decant
from service.actions.draw_stock import DrawAsked, draw
from service.actions.list_alerts import list_alerts
from service.actions.lose_stock import DiscardAsked, discard
from service.actions.settle import Settled
from service.core.access import Role
from service.core.alert_pages import page_of
from service.core.conditions import Found, found_in_words
from service.core.containers import Standing
from service.core.findings import Invalid, Refused
from service.core.ledger import Destination
from service.core.life_facts import CheckOutcome
from service.core.materials import Basis, Form, MaterialKind
from service.records.ageing_queries import standing_of
from service.records.engine import Database
from service.records.materials import AgeingPolicyRow, Material
from service.records.places import PlaceKind
from service.records.stock_queries import material_of
from tests.builders import NOW, TODAY, Cast, cast
from tests.store_builders import container, oil, once, place, received

RETEST = {"end": "retest", "sealed_months": 24, "opened_months": 12, "extends_months": 6, "hard_months": 60}
_number = itertools.count(1)


@pytest.fixture
def people(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


def tin(database: Database, people: Cast, **facts: Any) -> str:
    with database.writing() as session:
        return received(session, people.actor(Role.KEEPER), oil(session, policy=RETEST), 1_000_000, **facts)


def solvent(database: Database, people: Cast, name: str, months: int = 60, **facts: Any) -> str:
    """A can of a solvent of which only the name is known; its kind keeps ``months``."""
    said = {"cas": facts.pop("cas", ""), "known_key": facts.pop("known_key", None)}
    with database.writing() as session:
        stuff = Material(
            name=name, kind=MaterialKind.SOLVENT, form=Form.LIQUID, basis=Basis.VOLUME, created_at=NOW,
            **said,
        )  # fmt: skip
        session.add(stuff)
        lives = {"sealed_months": months, "opened_months": months, "extends_months": 24}
        session.add(AgeingPolicyRow(kind=MaterialKind.SOLVENT, end="retest", set_at=NOW, **lives))
        session.flush()
        return received(session, people.actor(Role.KEEPER), stuff, 1_000_000, **facts)


def look(
    database: Database, people: Cast, code: str, found: Found | None = None, now: datetime = NOW, **said: Any
) -> Settled:
    with database.writing() as session:
        asked = CheckAsked(once=once(), code=code, found=found, **said)
        return check_condition(session, people.actor(Role.FINISHER), now, asked)


def how(database: Database, code: str) -> Standing:
    with database.reading() as session:
        return container(session, code).standing


def test_nobody_sees_through_a_lid_that_it_is_sound(database: Database, people: Cast) -> None:
    code = tin(database, people, is_open=False, packed_on=TODAY - timedelta(days=800))
    assert how(database, code) is Standing.PAST
    for said in ({"found": Found.SOUND}, {"outcome": CheckOutcome.PASSED}):
        with pytest.raises(Invalid, match="sealed by the book"):
            look(database, people, code, **said)
    assert how(database, code) is Standing.PAST
    with database.writing() as session:
        open_container(session, people.actor(Role.FINISHER), NOW, OpenAsked(once=once(), code=code))
    done = look(database, people, code, Found.SOUND).result
    assert done["standing"] != "past"


def test_a_printed_date_is_moved_by_no_look(database: Database, people: Cast) -> None:
    code = tin(database, people, printed_date=TODAY - timedelta(days=10))
    done = look(database, people, code, Found.SOUND)
    assert done.result["standing"] == "past"
    assert "stays-past" in {f["code"] for f in done.result["findings"]}


def test_a_doubt_is_lifted_by_a_trial_and_not_by_a_glance(database: Database, people: Cast) -> None:
    code = tin(database, people)
    look(database, people, code, Found.SLOW)
    for note in ("", "fine", "ok ok ok"):
        with pytest.raises(Invalid, match="what you tried") as no:
            look(database, people, code, Found.SOUND, note=note)
        assert set(no.value.errors) == {"note"}
    look(database, people, code, Found.SOUND, note="A board brushed on Monday was hard by Tuesday noon")
    assert how(database, code) is Standing.IN_DATE


def test_a_doubted_tin_asks_for_a_look_before_each_draw(database: Database, people: Cast) -> None:
    code = tin(database, people)
    look(database, people, code, Found.THICKENED)
    for role in (Role.FINISHER, Role.KEEPER):
        with database.writing() as session, pytest.raises(Refused, match="found: thickened"):
            draw(session, people.actor(role), NOW, DrawAsked(once=once(), code=code, amount="5 ml"))
    with database.writing() as session:
        asked = DrawAsked(once=once(), code=code, amount="5 ml", looked=True)
        draw(session, people.actor(Role.FINISHER), NOW, asked)
    with database.writing() as session, pytest.raises(Refused, match="found: thickened"):
        draw(session, people.actor(Role.FINISHER), NOW, DrawAsked(once=once(), code=code, amount="5 ml"))


@pytest.mark.parametrize(
    ("name", "more", "months"),
    [
        ("diethyl ether", {}, 12), ("THF", {}, 12), ("old can", {"cas": "109-99-9"}, 12),
        ("butyl glycol", {"known_key": "butoxyethanol_2"}, 12), ("PM", {"cas": "107-98-2"}, 12),
        ("Isopropyl alcohol", {}, 12),
        ("IPA", {}, 12), ("propan-2-ol", {}, 12), ("Hexone", {}, 12),
        ("Isopropanol technical", {"cas": "64-17-5"}, 12), ("EGBE", {}, 12), ("x", {"cas": "646-06-0"}, 12),
        ("isopropyl ether", {}, 3), ("Dioxane", {}, 12),
    ],
)  # fmt: skip
def test_a_peroxide_former_is_kept_no_longer_whatever_the_policy_says(
    database: Database, people: Cast, name: str, more: dict[str, Any], months: int
) -> None:
    packed, opened = date(2026, 1, 10), date(2026, 2, 10)
    code = solvent(database, people, name, 600, packed_on=packed, opened_on=opened, **more)
    with database.reading() as session:
        until = container(session, code).in_date_until
    assert until == (date(2026, 5, 10) if months == 3 else date(2027, 2, 10))
    sealed = solvent(database, people, f"{name} ", 600, packed_on=packed, is_open=False, **more)
    with database.reading() as session:
        assert container(session, sealed).in_date_until == date(2027, 7, 10)
    look(database, people, code, peroxide_mg_l=Decimal(5))
    with database.reading() as session:
        assert container(session, code).in_date_until == until
    with pytest.raises(Invalid, match="a peroxide strip tells it"):
        look(database, people, code, Found.SOUND)


@pytest.mark.parametrize("name", ["Petroleum ether", "White spirit", "Turpentine", "Ethyl acetate"])
def test_what_forms_no_peroxides_goes_by_its_policy(database: Database, people: Cast, name: str) -> None:
    code = solvent(database, people, name, 60, packed_on=date(2026, 1, 10), opened_on=date(2026, 1, 10))
    with database.reading() as session:
        assert container(session, code).in_date_until == date(2031, 1, 10)


@pytest.mark.parametrize(
    ("name", "said", "stops"),
    [("THF", "may-hold-peroxides", False), ("isopropyl ether", "peroxides", True)],
)
def test_a_former_of_no_known_opening_is_not_known_and_nobody_is_told_to_open_it(
    database: Database, people: Cast, name: str, said: str, stops: bool
) -> None:
    """Common practice: of unknown age it is left alone, and licensed people take it."""
    code = solvent(database, people, name, opened_on=None)
    assert how(database, code) is Standing.NOT_KNOWN
    with database.reading() as session:
        box = container(session, code)
        verdict = standing_of(session, box, material_of(session, box), TODAY).verdict
        assert said in verdict.codes and verdict.blocking is stops
        assert not any("before you use it" in one.sentence for one in verdict)
        told = list_alerts(session, NOW)
        alert = next(one for one in told if one.about == code)
    assert page_of(alert) == f"/containers/{code}"
    assert "look before use" not in f"{alert.sentence} {alert.what_to_do}"


def test_a_can_over_the_limit_is_neither_opened_nor_carried_about(database: Database, people: Cast) -> None:
    code = solvent(database, people, "THF", packed_on=TODAY, opened_on=TODAY)
    look(database, people, code, peroxide_mg_l=Decimal(500))
    assert how(database, code) is Standing.PAST
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        shelf = place(session, "Shelf", PlaceKind.SHELF).id
    with database.writing() as session, pytest.raises(Refused) as no:
        open_container(session, finisher, NOW, OpenAsked(once=once(), code=code))
    assert "peroxides" in no.value.verdict.codes and "licensed people" in no.value.sentence
    with database.writing() as session, pytest.raises(Refused, match="licensed people"):
        move(session, finisher, NOW, MoveAsked(once=once(), code=code, place_id=shelf))
    with database.writing() as session, pytest.raises(Refused, match="licensed people"):
        draw(session, finisher, NOW, DrawAsked(once=once(), code=code, amount="5 ml", looked=True))


@pytest.mark.parametrize(
    "other",
    [{"found": Found.FAILED}, {"found": Found.DIRTY}, {"found": Found.PEROXIDE_OVER},
     {"outcome": CheckOutcome.FAILED}],
)  # fmt: skip
def test_a_strip_swallows_no_other_finding(database: Database, people: Cast, other: dict[str, Any]) -> None:
    code = solvent(database, people, "THF", packed_on=TODAY, opened_on=TODAY)
    with pytest.raises(Invalid, match="two findings") as no:
        look(database, people, code, peroxide_mg_l=Decimal(5), **other)
    assert set(no.value.errors) == {"found", "peroxide_mg_l"}


def test_a_can_over_the_limit_goes_into_no_drum_of_the_shop(database: Database, people: Cast) -> None:
    code = solvent(database, people, "IPA")
    look(database, people, code, peroxide_mg_l=Decimal(100))
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        drum = place(session, "Thinner drum", PlaceKind.WASTE_DRUM).id
    with database.writing() as session, pytest.raises(Refused, match="licensed people"):
        asked = DiscardAsked(once=once(), code=code, destination=Destination.WASTE_DRUM, place_id=drum)
        discard(session, finisher, NOW, asked)
    with database.writing() as session:
        discard(session, finisher, NOW, DiscardAsked(once=once(), code=code, destination=Destination.HAULER))


def test_peroxides_end_the_jar_poured_before_too(database: Database, people: Cast) -> None:
    code = solvent(database, people, "IPA")
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        asked = DecantAsked(once=once(), code=code, amount="100 ml")
        jar = decant(session, finisher, NOW, asked, lambda: f"jar {next(_number)}").result["into"]["code"]
    look(database, people, code, peroxide_mg_l=Decimal(150), now=NOW + timedelta(minutes=3))
    assert how(database, jar) is Standing.PAST
    with database.writing() as session, pytest.raises(Refused, match="licensed people"):
        draw(session, finisher, NOW + timedelta(minutes=4), DrawAsked(once=once(), code=jar, amount="1 ml"))


def test_a_look_lifts_only_what_was_found_before_it(database: Database, people: Cast) -> None:
    code = tin(database, people)
    late = "It was only written down now, on the way home"
    trial = "A board brushed on Monday was hard by Tuesday noon"
    look(database, people, code, Found.THICKENED, happened_at=NOW - timedelta(minutes=30), late_reason=late)
    with pytest.raises(Invalid, match="earlier than what was found") as no:
        look(
            database, people, code, Found.SOUND, note=trial, happened_at=NOW - timedelta(minutes=40),
            late_reason=late,
        )  # fmt: skip
    assert set(no.value.errors) == {"happened_at"}
    look(database, people, code, Found.SOUND, note=trial)
    assert how(database, code) is Standing.IN_DATE


def test_a_glance_of_a_later_day_lifts_no_doubt_that_is_written_down_late(
    database: Database, people: Cast
) -> None:
    code = tin(database, people)
    look(database, people, code, Found.SOUND, now=NOW + timedelta(days=1))
    look(
        database, people, code, Found.THICKENED, now=NOW + timedelta(days=1, minutes=5),
        happened_at=NOW + timedelta(minutes=1), late_reason="It was only written down a day later",
    )  # fmt: skip
    assert how(database, code) is Standing.LOOK_FIRST
    with database.reading() as session:
        box = container(session, code)
        [doubt] = standing_of(session, box, material_of(session, box), TODAY + timedelta(days=1)).doubts
    assert found_in_words(doubt).startswith("A check, written down late and counted from ")


def test_nobody_looked_before_it_was_here(database: Database, people: Cast) -> None:
    code = tin(database, people, packed_on=TODAY - timedelta(days=40), received_on=TODAY - timedelta(days=20))
    early = NOW - timedelta(days=25)
    with pytest.raises(Invalid, match="was not here before") as no:
        look(database, people, code, Found.SOUND, happened_at=early, late_reason="I forgot to write it down")
    assert set(no.value.errors) == {"happened_at"}


@pytest.mark.parametrize(("before", "standing"), [(True, Standing.LOOK_FIRST), (False, Standing.PAST)])
def test_what_is_found_in_a_tin_is_told_of_the_jar_poured_from_it(
    database: Database, people: Cast, before: bool, standing: Standing
) -> None:
    code, finisher = tin(database, people), people.actor(Role.FINISHER)
    with database.writing() as session:
        asked = DecantAsked(once=once(), code=code, amount="100 ml")
        jar = decant(session, finisher, NOW, asked, lambda: f"jar {next(_number)}").result["into"]["code"]
    assert how(database, jar) is Standing.IN_DATE
    at = NOW + timedelta(minutes=5) if before else NOW - timedelta(minutes=5)
    done = look(
        database, people, code, Found.RANCID, now=NOW + timedelta(minutes=6), happened_at=at,
        late_reason="It was smelled before anybody wrote it down",
    )  # fmt: skip
    assert how(database, code) is Standing.PAST and how(database, jar) is standing
    assert "jars-too" in {f["code"] for f in done.result["findings"]}


@pytest.mark.parametrize(
    ("name", "cas", "until"),
    [
        ("Turpentine", "", date(2027, 2, 10)), ("Spirits from the cellar", "8006-64-2", date(2027, 2, 10)),
        ("Turpentine substitute", "", date(2031, 2, 10)), ("White spirit, 5 l can", "", date(2031, 2, 10)),
        ("Turpentine, gum, 5 l", "", date(2027, 2, 10)), ("d-Limonene", "", date(2027, 2, 10)),
        ("Orange terpenes, tech.", "", date(2027, 2, 10)), ("Balsamterpentinöl", "", date(2027, 2, 10)),
        ("sec-Butyl alcohol", "", date(2027, 2, 10)), ("Isopropylalkohol", "", date(2027, 2, 10)),
        ("ethylene glycol dimethyl ether", "", date(2027, 2, 10)),
        ("butyl vinyl ether, stabilised", "", date(2027, 2, 10)),
    ],
)  # fmt: skip
def test_what_was_typed_by_hand_ages_as_the_published_thing_it_means(
    database: Database, people: Cast, name: str, cas: str, until: date
) -> None:
    """Turpentine is kept 12 months once opened by the program's own policy (house policy), a solvent 60."""
    with database.writing() as session:
        lives = {"sealed_months": 24, "opened_months": 12}
        session.add(AgeingPolicyRow(key="turpentine", end="expiry", set_at=NOW, **lives))
    opened = date(2026, 2, 10)
    code = solvent(database, people, name, packed_on=opened, opened_on=opened, cas=cas)
    with database.reading() as session:
        assert container(session, code).in_date_until == until


@pytest.mark.parametrize(
    "name", ["Unknown solvent", "Mystery thinner", "Thinner", "Solvent 7", "Cleaner 50-00-0", "Allyl alcohol"]
)
def test_what_nobody_knows_is_not_in_date_by_its_kind(database: Database, people: Cast, name: str) -> None:
    code = solvent(database, people, name, packed_on=TODAY, received_on=TODAY)
    assert how(database, code) is Standing.NOT_KNOWN


def test_a_strip_over_the_limit_is_believed_of_a_mix_too(database: Database, people: Cast) -> None:
    code = tin(database, people)
    look(database, people, code, peroxide_mg_l=Decimal(300))
    assert how(database, code) is Standing.PAST
    with pytest.raises(Invalid, match="does not show this"):
        look(database, people, code, peroxide_mg_l=Decimal(5))


def test_a_pass_of_the_morning_does_not_answer_the_doubt_of_the_noon(
    database: Database, people: Cast
) -> None:
    code = tin(database, people)
    look(database, people, code, Found.SOUND)
    look(database, people, code, Found.SLOW, now=NOW + timedelta(minutes=5))
    with database.writing() as session, pytest.raises(Refused, match="too slow to dry"):
        asked = DrawAsked(once=once(), code=code, amount="5 ml")
        draw(session, people.actor(Role.FINISHER), NOW + timedelta(minutes=6), asked)
