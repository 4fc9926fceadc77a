"""A line that was mended after it was taken, and one written twice: asked, never doubled in silence."""

from __future__ import annotations

import pytest
from sqlmodel import Session, select

from service.actions.take_list import say_another
from service.core.access import Actor, Role
from service.core.findings import Refused
from service.core.shelf_codes import show_code
from service.records.engine import Database
from service.records.stock import Container
from tests.builders import TODAY, cast
from tests.list_steps import bring, how_many, look, take
from tests.store_builders import material, oil

HEADER = "material;amount;capacity;packed;received;opened;lot;count;note\n"
FIRST = HEADER + (
    "boiled linseed oil;500 ml;1 l;;2025-06-10;open;G-1;1;\n"
    "boiled linseed oil;900 ml;1 l;;2025-06-10;open;G-3;1;\n"
    "raw umber, dry;250 g;500 g;2024-02-11;;sealed;;1;\n"
    "raw umber, dry;250 g;500 g;;;sealed;;2;\n"
    "raw umber, dry;lots;500 g;;;sealed;;1;\n"
)


def first_list(session: Session) -> Actor:
    actor = cast(session).actor(Role.KEEPER)
    oil(session)
    material(session)
    take(session, actor, bring(session, actor, FIRST), good=True)
    assert how_many(session) == 5
    return actor


@pytest.mark.parametrize(
    ("was", "now", "what"),
    [
        ("900 ml;1 l;;2025-06-10;open;G-3", "300 ml;1 l;;2025-06-10;open;G-3", "the amount differs"),
        ("900 ml;1 l;;2025-06-10;open;G-3", "90 ml;2 l;;2025-06-10;open;G-3",
         "the amount and the capacity differ"),
        ("900 ml;1 l;;2025-06-10;open;G-3", "900 ml;1 l;;2025-06-10;open;G-33", "the lot differs"),
        ("250 g;500 g;2024-02-11;;", "250 g;500 g;2024-02-01;;", "the packed date differs"),
        ("250 g;500 g;;;sealed;;2;", "200 g;500 g;;;sealed;;2;", "the amount differs"),
        ("250 g;500 g;;;sealed;;2;", "20 g;100 g;;;sealed;;2;", "the amount and the capacity differ"),
        ("250 g;500 g;;;sealed;;2;", "250 g;500 g;;;sealed;;2;of the attic",
         "what else the line says differs"),
    ],
)  # fmt: skip
def test_a_line_mended_after_it_was_taken_is_asked_about(
    database: Database, was: str, now: str, what: str
) -> None:
    with database.writing() as session:
        actor = first_list(session)
        assert was in FIRST
        number = bring(session, actor, FIRST.replace(was, now).replace("lots", "1 g"))
        checked = look(session, actor, number)
        mended = next(i for i, text in enumerate(FIRST.splitlines(), start=1) if was in text)
        asked = next(one for one in checked.questions if one.line == mended)
        like = session.exec(select(Container).where(Container.code == asked.code)).one()
        assert asked.sentence == (
            f"Line {mended} looks like {show_code(like.code)}, taken with list 1, but {what}. "
            "Is it another can, or a correction?"
        )
        assert mended in {p.line for p in checked.problems} and len(checked.aside) == 3
        with pytest.raises(Refused):
            take(session, actor, number)
        say_another(session, actor, TODAY, number, {asked.key: True})
        checked = look(session, actor, number)
        assert mended not in {p.line for p in checked.problems}
        say_another(session, actor, TODAY, number, {asked.key: False})
        assert mended in {p.line for p in look(session, actor, number).problems}
        say_another(session, actor, TODAY, number)
        assert look(session, actor, number).whole


def test_other_cans_of_a_material_are_taken_without_a_question(database: Database) -> None:
    with database.writing() as session:
        actor = first_list(session)
        number = bring(session, actor, HEADER + (
            "boiled linseed oil;200 ml;500 ml;;2026-01-02;sealed;H-7;1;\n"
            "raw umber, dry;1 kg;2 kg;2025-01-01;2025-02-01;sealed;U-1;3;\n"
        ))  # fmt: skip
        checked = look(session, actor, number)
        assert checked.whole and checked.questions == () and checked.containers == 4
        take(session, actor, number)


def test_whole_list_that_came_again_is_not_asked_about_line_by_line(database: Database) -> None:
    with database.writing() as session:
        actor = first_list(session)
        text = FIRST.replace("900 ml", "800 ml").replace("raw umber, dry;lots;500 g;;;sealed;;1;\n", "")
        assert not look(session, actor, bring(session, actor, text)).whole
        again = look(session, actor, bring(session, actor, text, again=True))
        assert again.whole and again.containers == 5


def test_a_line_written_twice_is_asked_about_with_both_numbers(database: Database) -> None:
    with database.writing() as session:
        actor = cast(session).actor(Role.KEEPER)
        material(session)
        line = "raw umber, dry;250 g;500 g;;;sealed;L1;2;\n"
        number = bring(session, actor, HEADER + line + line + line.replace("L1", "L2"))
        checked = look(session, actor, number)
        assert [(p.line, p.found) for p in checked.problems] == [(3, "says the same as line 2")]
        assert checked.containers == 4
        assert "Line 3 says the same as line 2." in checked.questions[0].sentence
        take(session, actor, number, good=True)
        # Brought again after the good lines were taken: the second is still a question.
        number = bring(session, actor, HEADER + line + line)
        checked = look(session, actor, number)
        assert [p.line for p in checked.problems] == [3] and [n for n, _ in checked.aside] == [2]
        say_another(session, actor, TODAY, number, {checked.questions[0].key: True})
        take(session, actor, number)
        assert how_many(session) == 6
