"""A keeper sets how long something keeps: history, whose word, and the dates of every container concerned."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest
from sqlalchemy import event
from sqlmodel import Session, col, select

from service.actions.arrivals import ReceiveAsked
from service.actions.begin_shop import begin_shop
from service.actions.receive_stock import receive
from service.actions.set_policy import PolicyAsked, set_policy
from service.core.access import Role
from service.core.ageing_policies import PolicyEnd
from service.core.containers import Standing
from service.core.findings import Invalid, NotAllowed, NotFound, Stale
from service.core.materials import Form, MaterialKind
from service.records.engine import Database
from service.records.materials import AgeingPolicyRow, Material
from service.records.policy_queries import Subject, history
from service.records.shop import Change
from service.records.stock import Container
from tests.builders import Cast, cast

_numbers = itertools.count()
JAPAN = Subject(kind=MaterialKind.COLOUR_IN_JAPAN)


def once() -> str:
    return f"policy-{next(_numbers):06}"


def chance() -> str:
    return f"chance {next(_numbers)}"


def asked(subject: Subject = JAPAN, **said: object) -> PolicyAsked:
    whole = PolicyAsked(
        once=once(), subject=subject, end=PolicyEnd.RETEST, reason="The cans gel sooner here.",
        sealed_months=18, opened_months=6, hard_months=36, extends_months=3, grade="memory",
    )
    return replace(whole, **said)  # type: ignore[arg-type]


def material(session: Session, now: datetime, name: str, kind: MaterialKind, key: str | None = None) -> int:
    row = Material(name=name, kind=kind, form=Form.PASTE, known_key=key, created_at=now)
    session.add(row)
    session.flush()
    assert row.id is not None
    return row.id


def take_in(session: Session, people: Cast, now: datetime, material_id: int, packed: date | None) -> str:
    said = ReceiveAsked(once(), material_id, amount="100 g", packed_on=packed)
    answer = receive(session, people.actor(Role.FINISHER), now, said, chance)
    code: str = answer.result["containers"][0]["code"]
    return code


def box(session: Session, code: str) -> Container:
    return session.exec(
        select(Container).where(col(Container.code) == code).execution_options(populate_existing=True)
    ).one()


@pytest.fixture
def people(database: Database, now: datetime) -> Cast:
    with database.writing() as session:
        made = cast(session)
        begin_shop(session, now)
    return made


def test_a_kinds_policy_settles_every_container_of_the_kind(
    database: Database, people: Cast, now: datetime
) -> None:
    keeper = people.actor(Role.KEEPER)
    with database.writing() as session:
        umber = material(session, now, "Raw umber in japan", MaterialKind.COLOUR_IN_JAPAN)
        oil = material(session, now, "Raw umber in oil", MaterialKind.COLOUR_IN_OIL)
        old = take_in(session, people, now, umber, date(2024, 8, 12))
        new = take_in(session, people, now, umber, date(2026, 1, 12))
        other = take_in(session, people, now, oil, date(2024, 8, 12))
    with database.reading() as session:
        # 24 months sealed is what came with the program.
        assert box(session, old).in_date_until == date(2026, 8, 12)
        untouched = box(session, other).in_date_until
    with database.writing() as session:
        answer = set_policy(session, keeper, now, asked())
    assert answer.result["containers"] == 2
    assert answer.result["moved"] == {"past": 1}
    with database.reading() as session:
        assert box(session, old).in_date_until == date(2026, 2, 12)
        assert box(session, old).standing is Standing.PAST
        assert box(session, old).next_alert_on is None
        assert box(session, new).in_date_until == date(2027, 7, 12)
        # 80 per cent of 18 months: the first day on which it changes by itself.
        assert box(session, new).next_alert_on == date(2026, 1, 12) + timedelta(days=437)
        assert box(session, other).in_date_until == untouched


def test_history_stays_and_the_change_is_written_down(
    database: Database, people: Cast, now: datetime
) -> None:
    keeper = people.actor(Role.KEEPER)
    with database.writing() as session:
        set_policy(session, keeper, now, asked())
        later = asked(sealed_months=12, reason="Two cans gelled.")
        set_policy(session, keeper, now + timedelta(days=1), later)
    with database.reading() as session:
        rows = history(session, JAPAN)
        assert [row.sealed_months for row in rows] == [12, 18, 24]
        assert [row.reason for row in rows[:2]] == ["Two cans gelled.", "The cans gel sooner here."]
        assert rows[0].set_by == people.keeper.id
        changes = session.exec(select(Change).where(col(Change.about_kind) == "ageing policy")).all()
        assert [(c.reason, c.person_id) for c in changes] == [
            ("The cans gel sooner here.", people.keeper.id), ("Two cans gelled.", people.keeper.id)
        ]
        assert "sealed 24 months" in (changes[0].before or "")
        assert "sealed 18 months" in (changes[0].after or "")


def test_one_material_has_its_own_and_does_not_touch_its_kind(
    database: Database, people: Cast, now: datetime
) -> None:
    with database.writing() as session:
        one = material(session, now, "Lamp black in japan", MaterialKind.COLOUR_IN_JAPAN)
        two = material(session, now, "Raw umber in japan", MaterialKind.COLOUR_IN_JAPAN)
        own = take_in(session, people, now, one, date(2026, 1, 12))
        other = take_in(session, people, now, two, date(2026, 1, 12))
        subject = Subject(material_id=one)
        set_policy(session, people.actor(Role.KEEPER), now, asked(subject, sealed_months=12))
        assert box(session, own).in_date_until == date(2027, 1, 12)
        assert box(session, other).in_date_until == date(2028, 1, 12)
        # The kind's policy changes afterwards: the material's own still counts.
        set_policy(session, people.actor(Role.KEEPER), now, asked())
        assert box(session, own).in_date_until == date(2027, 1, 12)
        assert box(session, other).in_date_until == date(2027, 7, 12)


def test_a_key_of_the_knowledge_tables(database: Database, people: Cast, now: datetime) -> None:
    with database.writing() as session:
        tung = material(session, now, "Tung oil", MaterialKind.BINDER, "tung")
        code = take_in(session, people, now, tung, date(2026, 1, 12))
        assert box(session, code).in_date_until == date(2029, 1, 12)
        set_policy(session, people.actor(Role.KEEPER), now, asked(Subject(key="tung"), sealed_months=24))
        assert box(session, code).in_date_until == date(2028, 1, 12)
        with pytest.raises(NotFound):
            set_policy(session, people.actor(Role.KEEPER), now, asked(Subject(key="no-such-oil")))


def test_without_a_policy_a_container_is_not_known_until_one_is_set(
    database: Database, people: Cast, now: datetime
) -> None:
    with database.writing() as session:
        dye = material(session, now, "Walnut dye", MaterialKind.DYE)
        code = take_in(session, people, now, dye, date(2026, 1, 12))
        assert box(session, code).standing is Standing.NOT_KNOWN
        subject = Subject(kind=MaterialKind.DYE)
        answer = set_policy(session, people.actor(Role.KEEPER), now, asked(subject))
        assert answer.result["moved"] == {"in-date": 1}
        assert box(session, code).standing is Standing.IN_DATE


@pytest.mark.parametrize("role", [Role.READER, Role.STUDENT, Role.FINISHER])
def test_only_a_keeper(database: Database, people: Cast, now: datetime, role: Role) -> None:
    with database.writing() as session, pytest.raises(NotAllowed):
        set_policy(session, people.actor(role), now, asked())


@pytest.mark.parametrize(
    ("field", "said"),
    [
        ("reason", {"reason": "  "}),
        ("grade", {"grade": ""}),
        ("grade", {"grade": "X"}),
        ("source", {"house_policy": False, "grade": "memory", "source": "a book"}),
        ("source", {"house_policy": False, "grade": "H", "source": " "}),
        ("end", {"end": PolicyEnd.INDEFINITE}),
        ("end", {"end": PolicyEnd.PARTS, "sealed_months": None, "opened_months": None, "hard_months": None,
                 "extends_months": None}),
        ("extends_months", {"end": PolicyEnd.EXPIRY}),
        ("hard_months", {"hard_months": 17}),
        ("opened_days", {"opened_days": 10}),
        ("sealed_months", {"sealed_months": 0}),
        ("sealed_months", {"sealed_months": 1201}),
        ("max_extensions", {"max_extensions": 101}),
    ],
)  # fmt: skip
def test_what_contradicts_is_told_at_its_field(
    database: Database, people: Cast, now: datetime, field: str, said: dict[str, object]
) -> None:
    with pytest.raises(Invalid) as caught, database.writing() as session:
        set_policy(session, people.actor(Role.KEEPER), now, asked(**said))
    assert field in caught.value.errors
    with database.reading() as session:
        assert len(history(session, JAPAN)) == 1


def test_the_same_form_twice_is_one_policy(database: Database, people: Cast, now: datetime) -> None:
    said = asked()
    with database.writing() as session:
        first = set_policy(session, people.actor(Role.KEEPER), now, said)
        again = set_policy(session, people.actor(Role.KEEPER), now, said)
    assert again.repeated
    assert again.result == first.result
    with database.reading() as session:
        assert len(history(session, JAPAN)) == 2


def test_a_policy_set_meanwhile_is_stale(database: Database, people: Cast, now: datetime) -> None:
    keeper = people.actor(Role.KEEPER)
    with database.writing() as session:
        seen = history(session, JAPAN)[0].id
        set_policy(session, keeper, now, asked(seen_id=seen))
    with pytest.raises(Stale), database.writing() as session:
        set_policy(session, keeper, now, asked(seen_id=seen))


def test_a_check_then_a_shorter_hard_stop(database: Database, people: Cast, now: datetime) -> None:
    """A date that a check moved is worked out anew under the new policy, never kept."""
    from service.actions.check_condition import CheckAsked, check_condition
    from service.actions.container_events import OpenAsked, open_container
    from service.core.life_facts import CheckOutcome

    with database.writing() as session:
        umber = material(session, now, "Raw umber in japan", MaterialKind.COLOUR_IN_JAPAN)
        code = take_in(session, people, now, umber, date(2024, 3, 1))
        open_container(session, people.actor(Role.FINISHER), now, OpenAsked(once=once(), code=code))
        check = CheckAsked(once=once(), code=code, outcome=CheckOutcome.PASSED)
        check_condition(session, people.actor(Role.FINISHER), now, check)
        assert box(session, code).in_date_until == date(2026, 9, 12)
        said = asked(sealed_months=24, hard_months=25, extends_months=6)
        set_policy(session, people.actor(Role.KEEPER), now, said)
        assert box(session, code).in_date_until == date(2026, 4, 1)


def test_rows_are_never_rewritten(database: Database, people: Cast, now: datetime) -> None:
    with database.writing() as session:
        before = {row.id: row.model_dump() for row in session.exec(select(AgeingPolicyRow)).all()}
        set_policy(session, people.actor(Role.KEEPER), now, asked())
        after = {row.id: row.model_dump() for row in session.exec(select(AgeingPolicyRow)).all()}
    assert {number: after[number] for number in before} == before
    assert len(after) == len(before) + 1


def test_only_cans_whose_dates_move_are_written(database: Database, people: Cast, now: datetime) -> None:
    """Counted at the driver: a can whose printed date ends first, and another kind, cost no write."""
    written: list[object] = []

    def count(_c: object, _cur: object, statement: str, values: object, _ctx: object, many: bool) -> None:
        if statement.lower().startswith("update container "):
            written.extend(values if many and isinstance(values, list) else [values])

    with database.writing() as session:
        umber = material(session, now, "Raw umber in japan", MaterialKind.COLOUR_IN_JAPAN)
        oil = material(session, now, "Raw umber in oil", MaterialKind.COLOUR_IN_OIL)
        moves = take_in(session, people, now, umber, date(2025, 9, 1))
        stays, other = (take_in(session, people, now, m, date(2025, 9, 1)) for m in (umber, oil))
        held = box(session, stays)
        held.printed_date = date(2025, 12, 1)
        session.flush()
        set_policy(session, people.actor(Role.KEEPER), now, asked())
        seen = box(session, moves)
        ends = {code: box(session, code).in_date_until for code in (moves, stays, other)}
        event.listen(database.writer, "before_cursor_execute", count)
        try:
            set_policy(session, people.actor(Role.KEEPER), now, asked(sealed_months=20))
        finally:
            event.remove(database.writer, "before_cursor_execute", count)
        after = seen.in_date_until
        assert after is not None and ends[moves] is not None and after > ends[moves]
        assert {code: box(session, code).in_date_until for code in (stays, other)} == {
            code: ends[code] for code in (stays, other)
        }
    assert len(written) == 1


def test_the_same_again_is_no_change(database: Database, people: Cast, now: datetime) -> None:
    keeper = people.actor(Role.KEEPER)
    with database.writing() as session:
        set_policy(session, keeper, now, asked())
    with database.writing() as session, pytest.raises(Invalid, match="stand already"):
        set_policy(session, keeper, now, asked(reason="Setting it once more for luck"))


def test_changed_figures_do_not_keep_the_word_of_a_published_source(
    database: Database, people: Cast, now: datetime
) -> None:
    keeper = people.actor(Role.KEEPER)
    word = {"source": "A published table", "grade": "I", "house_policy": False}
    with database.writing() as session:
        set_policy(session, keeper, now, asked(**word))
    with database.writing() as session, pytest.raises(Invalid, match="not the figures of A published") as no:
        set_policy(session, keeper, now, asked(sealed_months=30, **word))
    assert set(no.value.errors) == {"source"}
    with database.writing() as session:
        set_policy(session, keeper, now, asked(sealed_months=12, house_policy=True, source="our own"))


@pytest.mark.parametrize("reason", ["-1", "\U0001f642", "ok", "because", ""])
def test_a_policy_is_set_for_a_reason_that_is_a_sentence(
    database: Database, people: Cast, now: datetime, reason: str
) -> None:
    with database.writing() as session, pytest.raises(Invalid) as no:
        set_policy(session, people.actor(Role.KEEPER), now, asked(reason=reason))
    assert "reason" in no.value.errors
