"""What somebody saw in a tin and told: it makes every rule stricter or leaves it, never milder."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlmodel import Session, col, select

from service.actions.answer_duty import answer_duty
from service.actions.check_condition import CheckAsked, check_condition
from service.actions.decant import DecantAsked, decant
from service.actions.draw_stock import DrawAsked, draw
from service.actions.list_alerts import list_alerts
from service.actions.lose_stock import DiscardAsked, discard
from service.actions.settle import Settled
from service.actions.tell_keeper import TellAsked, tell_keeper
from service.core.access import Role
from service.core.ageing import judge
from service.core.ageing_policies import AgeingPolicy, PolicyEnd
from service.core.alerts import AlertKind
from service.core.conditions import TOLD, Found
from service.core.containers import ContainerState, Standing
from service.core.digest import SWITCHABLE, Choice, Hearer, share_out
from service.core.findings import Invalid, NotAllowed, NotFound, Refused
from service.core.ledger import Destination
from service.core.life_facts import CheckOutcome, ConditionCheck, LifeFacts
from service.core.months import add_days
from service.records.ageing_queries import standing_of
from service.records.duties import TOLD_BY_SOMEBODY, Duty
from service.records.engine import Database
from service.records.jobs import JobPerson
from service.records.stock import Container, ContainerEvent
from service.records.stock_queries import material_of
from tests.builders import TODAY
from tests.rag_shop import RagShop, add_container, make_shop, material_id, once


@pytest.fixture
def shop(database: Database) -> RagShop:
    """A shop with a running job that the student is in."""
    made = make_shop(database)
    with database.writing() as session:
        wanted = made.job, made.people.student.id
        if session.get(JobPerson, wanted) is None:
            session.add(JobPerson(job_id=made.job, person_id=made.people.student.id or 0, added_at=made.now))
    return made


def tell(shop: RagShop, role: Role = Role.STUDENT, **said: Any) -> Settled:
    with shop.database.writing() as session:
        asked = TellAsked(**{"once": once(), "code": shop.oil, "job_id": shop.job} | said)
        return tell_keeper(session, shop.actor(role), shop.now, asked)


def duties(session: Session) -> list[Duty]:
    found = select(Duty).where(col(Duty.kind) == TOLD_BY_SOMEBODY).order_by(col(Duty.id))
    return list(session.exec(found).all())


def box(session: Session, code: str) -> Container:
    return session.exec(select(Container).where(col(Container.code) == code)).one()


def test_a_student_tells_and_a_keeper_owes_a_look_and_no_date_moves(shop: RagShop) -> None:
    with shop.database.reading() as session:
        row = box(session, shop.oil)
        before = standing_of(session, row, material_of(session, row), TODAY)
    done = tell(shop, found=Found.THICKENED, words="It drags and draws threads")
    assert done.result["outcome"] == "doubted" and "owes a look" in done.result["what_to_do"]
    with shop.database.reading() as session:
        after, (duty,) = box(session, shop.oil), duties(session)
        event = session.exec(select(ContainerEvent).order_by(col(ContainerEvent.id).desc())).first()
        assert event is not None and (event.outcome, event.found) == ("doubted", "thickened")
        assert (event.person_id, event.job_id, event.note) == (
            shop.people.student.id, shop.job, "It drags and draws threads",
        )  # fmt: skip
        assert before.standing is Standing.IN_DATE and after.standing is Standing.LOOK_FIRST
        assert after.in_date_until == before.in_date_until and after.balance == row.balance
        assert duty.owed_by == shop.people.keeper.id and "thickened. “It drags" in duty.sentence
        assert duty.due_at.isoformat() == "2026-03-12T23:00:00+00:00"
        told = [one for one in list_alerts(session, shop.now, 0) if one.ref == f"duty {duty.id}"]
        assert [(one.kind, one.people) for one in told] == [(AlertKind.DUTY, (shop.people.keeper.id,))]
        late = list_alerts(session, shop.now + timedelta(days=1), 0)
        assert AlertKind.DUTY_OVERDUE in {one.kind for one in late if one.ref == f"duty {duty.id}"}


def test_what_was_told_is_not_called_a_check_and_no_keeper_can_leave_it_out(shop: RagShop) -> None:
    tell(shop, found=Found.RANCID)
    off = Choice(wanted=False, off=frozenset(SWITCHABLE))
    with shop.database.reading() as session:
        row = box(session, shop.oil)
        (finding,) = (f for f in standing_of(session, row, material_of(session, row), TODAY).verdict
                      if f.code == "look-first")  # fmt: skip
        assert finding.sentence.startswith("On 12 March 2026 somebody saw and told: rancid.")
        assert "was not a check" in finding.sentence and not finding.source
        found = list_alerts(session, shop.now, 0)
    assert not any("A check on" in one.sentence for one in found)
    hearers = [Hearer(one.id, True, off) for one in (shop.people.keeper,)]
    (share,) = share_out(hearers, found)
    (told,) = (one for one in share.told if one.kind is AlertKind.DUTY and "rancid" in one.sentence.lower())
    assert told.promised


def test_it_is_looked_at_before_each_use_until_a_check_with_a_sentence(shop: RagShop) -> None:
    tell(shop, words="There are lumps in it")
    shop.pass_by(minutes=5)
    with pytest.raises(Refused, match="something odd"), shop.database.writing() as session:
        draw(session, shop.actor(Role.FINISHER), shop.now,
             DrawAsked(once=once(), code=shop.oil, amount="10 ml", job_id=shop.job))  # fmt: skip
    checked = {"once": once(), "code": shop.oil, "found": Found.SOUND, "job_id": shop.job}
    with pytest.raises(Invalid, match="A look does not undo that"), shop.database.writing() as session:
        check_condition(session, shop.actor(Role.KEEPER), shop.now, CheckAsked(**checked))
    with shop.database.writing() as session:
        said = CheckAsked(**checked, note="Stirred it well and nothing was left on the strainer")
        check_condition(session, shop.actor(Role.KEEPER), shop.now, said)
        (duty,) = duties(session)
        assert duty.done_at is not None and duty.done_by == shop.people.keeper.id
        draw(session, shop.actor(Role.FINISHER), shop.now,
             DrawAsked(once=once(), code=shop.oil, amount="10 ml", job_id=shop.job))  # fmt: skip


def test_one_duty_answers_all_tellings_and_an_older_look_none(shop: RagShop) -> None:
    tell(shop, words="It smells foul", role=Role.FINISHER, job_id=None)
    tell(shop, found=Found.GELLED)
    with shop.database.writing() as session:
        (duty,) = duties(session)
        number = duty.id or 0
        early = {"happened_at": shop.now - timedelta(minutes=10)}
        asked = CheckAsked(once=once(), code=shop.oil, found=Found.THICKENED, **early)
        check_condition(session, shop.actor(Role.KEEPER), shop.now, asked)
        assert duties(session)[0].done_at is None, "that look was before it was told"
    with pytest.raises(Refused, match="Look at it"), shop.database.writing() as session:
        answer_duty(session, shop.actor(Role.KEEPER), shop.now, number, "Seen, all is well", once())
    with shop.database.writing() as session:
        keeper = shop.actor(Role.KEEPER)
        shop.pass_by(minutes=1)
        gone = DiscardAsked(once=once(), code=shop.oil, destination=Destination.HAULER, job_id=shop.job)
        discard(session, keeper, shop.now, gone)
        (gone_with_it,) = duties(session)
        assert gone_with_it.done_at is not None and "thrown away" in gone_with_it.answer
    with pytest.raises(Refused, match="done already"), shop.database.writing() as session:
        answer_duty(session, shop.actor(Role.KEEPER), shop.now, number, "It went to the hauler", once())


def test_what_was_seen_from_outside_of_a_sealed_one_is_answered_and_stays_doubted(shop: RagShop) -> None:
    number = material_id(shop, shop.oil)
    with shop.database.writing() as session:
        code = add_container(session, shop.people, number)
        row = box(session, code)
        row.state, row.opened_on, row.ever_opened = ContainerState.SEALED, None, False
    for found in (Found.GELLED, Found.SKIN):
        with pytest.raises(Invalid, match="not seen through a lid"):
            tell(shop, code=code, found=found)
    tell(shop, code=code, words="The lid bulges")
    with shop.database.writing() as session:
        (duty,) = duties(session)
        answer_duty(session, shop.actor(Role.KEEPER), shop.now, duty.id or 0, "Set apart and vented", once())
        row = box(session, code)
        ageing = standing_of(session, row, material_of(session, row), TODAY)
        assert ageing.doubt is not None and ageing.standing is not Standing.IN_DATE


def test_a_skin_that_was_seen_is_not_one_that_was_cut(shop: RagShop) -> None:
    done = tell(shop, found=Found.SKIN)
    assert done.result["found"] == "a-skin-on-it"
    with shop.database.reading() as session:
        assert "a skin on it. Look at it" in duties(session)[0].sentence


def test_the_jars_poured_from_it_are_doubted_too_and_a_student_is_told_of_none(shop: RagShop) -> None:
    with shop.database.writing() as session:
        asked = DecantAsked(once=once(), code=shop.oil, amount="100 ml", capacity="125 ml")
        made = decant(session, shop.actor(Role.FINISHER), shop.now, asked, lambda: "x" * 40)
        jar = made.result["into"]["code"]
    shop.pass_by(minutes=1)
    done = tell(shop, found=Found.RANCID)
    assert jar[:3] not in str(done.result)
    with shop.database.reading() as session:
        doubted = session.exec(
            select(ContainerEvent).where(col(ContainerEvent.container_id) == box(session, jar).id)
        ).all()
        assert [one.outcome for one in doubted if one.found == "rancid"] == ["doubted"], "doubted, not ended"


def test_what_such_stuff_is_not_known_to_show_is_told_in_their_own_words(shop: RagShop) -> None:
    done = tell(shop, found=Found.MOULD, words="Grey fur along the rim, and it smells")
    assert done.result["outcome"] == "doubted"


def test_what_was_told_of_a_tin_is_no_check_in_the_jar_poured_from_it_afterwards(shop: RagShop) -> None:
    tell(shop, found=Found.RANCID)
    shop.pass_by(minutes=1)
    with shop.database.writing() as session:
        asked = DecantAsked(once=once(), code=shop.oil, amount="100 ml", capacity="125 ml", looked=True)
        made = decant(session, shop.actor(Role.FINISHER), shop.now, asked, lambda: "y" * 40)
        jar = box(session, made.result["into"]["code"])
        [doubt] = standing_of(session, jar, material_of(session, jar), TODAY).doubts
    assert (doubt.told, doubt.found) == (True, "rancid")


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({}, "found"), ({"words": "x"}, "words"), ({"words": " . ! "}, "words"),
        ({"found": Found.SOUND}, "found"), ({"found": Found.MOULD}, "found"),
        ({"found": Found.PEROXIDE_OVER}, "found"), ({"found": Found.FLAKES}, "found"),
        ({"found": Found.GELLED, "job_id": None}, "job"),
    ],
)  # fmt: skip
def test_what_cannot_be_told(shop: RagShop, said: dict[str, Any], field: str) -> None:
    with pytest.raises(Invalid) as caught:
        tell(shop, **said)
    assert field in caught.value.errors
    with shop.database.reading() as session:
        assert duties(session) == []


def test_only_in_a_running_job_that_one_is_in(shop: RagShop) -> None:
    with pytest.raises(NotFound):
        tell(shop, words="Lumps at the bottom", job_id=9999)
    with pytest.raises(NotAllowed):
        tell(shop, Role.READER, words="Lumps at the bottom")
    with shop.database.writing() as session:
        row = session.get(JobPerson, (shop.job, shop.people.student.id))
        session.delete(row)
    with pytest.raises(NotAllowed, match="not in that job"):
        tell(shop, words="Lumps at the bottom")
    shop.pass_by(hours=12)
    with pytest.raises(Refused, match="not running"):
        tell(shop, Role.FINISHER, words="Lumps at the bottom")


DAYS = st.integers(-900, 60).map(lambda days: add_days(TODAY, days))
CHECK = st.builds(ConditionCheck, on=DAYS, outcome=st.sampled_from(CheckOutcome), found=st.just("mould"))
CHECKS = st.lists(CHECK, max_size=4)
LIVES = st.builds(
    LifeFacts,
    packed_on=st.none() | DAYS,
    received_on=st.none() | DAYS,
    opened_on=st.none() | DAYS,
    opened=st.booleans(),
    printed_date=st.none() | DAYS,
    checks=CHECKS.map(tuple),
    policy=st.none()
    | st.builds(
        AgeingPolicy, end=st.sampled_from(PolicyEnd), sealed_months=st.none() | st.integers(1, 36),
        opened_months=st.none() | st.integers(1, 24), extends_months=st.none() | st.integers(1, 12),
    ),
)  # fmt: skip
HARDER = {Standing.IN_DATE: 0, Standing.LOOK_FIRST: 1, Standing.NOT_KNOWN: 2, Standing.PAST: 3}


@settings(deadline=None)
@given(LIVES, st.sampled_from([TOLD, *(one.value for one in Found)]), DAYS)
def test_what_is_told_never_makes_a_standing_milder_nor_moves_a_date(
    life: LifeFacts, found: str, today: date
) -> None:
    before = judge(life, today)
    passed = [check.on for check in life.checks if check.outcome is CheckOutcome.PASSED]
    told = ConditionCheck(max([today, *passed]), CheckOutcome.DOUBTED, found)
    after = judge(replace(life, checks=(*life.checks, told)), max(today, told.on))
    same = judge(life, max(today, told.on))
    assert HARDER[after.standing] >= max(HARDER[same.standing], HARDER[Standing.LOOK_FIRST])
    assert (after.in_date_until, after.at_latest, after.hard_stop) == (
        same.in_date_until, same.at_latest, same.hard_stop,
    )  # fmt: skip
    assert after.may_be_checked is same.may_be_checked and after.doubt is not None
    assert before.standing is not Standing.PAST or after.standing is Standing.PAST or passed


def test_the_first_keeper_who_tells_owes_it_themselves(shop: RagShop) -> None:
    tell(shop, Role.KEEPER, words="Something swims in it", job_id=None)
    with shop.database.reading() as session:
        assert [one.owed_by for one in duties(session)] == [shop.people.keeper.id]
