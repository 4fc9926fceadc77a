"""When a keeper may let one draw or batch through, and how long that holds."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service.core.access import Actor, Role
from service.core.findings import Verdict
from service.core.rag_judgement import LoadJudgement, RagLoad, judge
from service.core.rag_override import (
    REASON_MAX,
    REASON_MIN,
    Override,
    OverrideFor,
    may_override,
    override_holds,
)
from service.core.rags import (
    RagEntry,
)
from tests.core.rag_story import at, canned, judged, told

KEEPER = Actor(9, "R. Keeper", Role.KEEPER)
ASKED = Override(OverrideFor.DRAW, "K7Q F2B, 20 ml", "The class is half way through a coat.", at(500))
LATE_CAN = (canned(30),)


def asked(
    override: Override = ASKED,
    actor: Actor = KEEPER,
    now: float = 450,
    job_ends: float = 500,
    loads: list[LoadJudgement] | None = None,
    keepers: tuple[int, ...] = (9, 3),
) -> Verdict:
    loads = [judged(now, *LATE_CAN)] if loads is None else loads
    return may_override(
        actor=actor,
        override=override,
        job_ends=at(job_ends),
        judgements=loads,
        active_keepers=keepers,
        now=at(now),
    )


def test_a_keeper_may_let_one_draw_through() -> None:
    assert not asked().findings
    assert not asked(replace(ASKED, kind=OverrideFor.BATCH)).findings


@pytest.mark.parametrize("role", [Role.READER, Role.STUDENT, Role.FINISHER])
def test_nobody_else_may(role: Role) -> None:
    assert asked(actor=replace(KEEPER, role=role)).codes == {"override-keeper-only"}


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"name": "  "}, "override-name-one"),
        ({"reason": "busy"}, "override-reason"),
        ({"reason": "x" * (REASON_MIN - 1)}, "override-reason"),
        ({"reason": " \n" * 50}, "override-reason"),
        ({"reason": "1" * 40}, "override-reason"),
        ({"reason": "a" * 20}, "override-reason"),
        ({"reason": "asdf asdf asdf asdf"}, "override-reason"),
        ({"reason": "the can is full " * (REASON_MAX // 10)}, "override-reason"),
        ({"until": at(501)}, "override-too-long"),
        ({"until": at(450)}, "override-past"),
    ],
)
def test_bounds_of_an_override(changed: dict[str, object], code: str) -> None:
    assert asked(replace(ASKED, **changed)).codes == {code}  # type: ignore[arg-type]


def test_not_when_the_job_is_over() -> None:
    assert "override-job-over" in asked(job_ends=450).codes


def test_not_while_any_load_is_loose_past_its_time() -> None:
    loads = [judged(450, *LATE_CAN), judged(450)]
    assert asked(loads=loads).codes == {"override-loose"}


def test_loose_past_remove_by_counts_even_when_a_grace_runs_longer() -> None:
    odd = RagLoad("Load 8", "Ines Vale", at(480), at(420), owed_by_id=3)
    assert "override-loose" in asked(loads=[judge(odd, told(), at(450))]).codes


def test_not_by_the_keeper_who_owes_it_unless_there_is_no_other() -> None:
    owing = replace(KEEPER, person_id=3)
    assert asked(actor=owing).codes == {"override-own-load"}
    assert not asked(actor=owing, keepers=(3,)).findings


def test_not_in_advance() -> None:
    assert "override-not-needed" in asked(now=100, loads=[judged(100, *LATE_CAN)]).codes


def test_an_override_holds_for_that_one_only_and_lapses() -> None:
    def holds(
        now: float = 460,
        kind: OverrideFor = OverrideFor.DRAW,
        name: str = ASKED.name,
        job_ends: float = 500,
        loads: tuple[RagEntry, ...] = LATE_CAN,
    ) -> bool:
        return override_holds(
            ASKED, kind=kind, name=name, job_ends=at(job_ends), now=at(now), judgements=[judged(now, *loads)]
        )

    assert holds() and holds(500)
    assert not holds(501) and not holds(job_ends=455) and not holds(kind=OverrideFor.BATCH)
    assert not holds(name="another") and not holds(loads=())
