"""Is there enough, from where, and what must be read first (design 5.1; issue item 7 names the cases)."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.access import Role
from service.core.containers import AmountKnown, Condition, ContainerState, Standing
from service.core.findings import Severity, Verdict, stop
from service.core.materials import Basis
from service.core.recipe import Need
from service.core.shelf_codes import make_code
from service.core.stock_check import Allocation, Candidate, StockCheck, check

TODAY = date(2026, 3, 2)
OIL = Need(1, "boiled oil", Basis.VOLUME, 400, 500, "ml")
CODES = sorted(make_code(n * 7919) for n in range(40))


def can(number: int, amount: int | None, **more: Any) -> Candidate:
    base = Candidate(
        number, CODES[number], 1, amount, standing=Standing.IN_DATE, state=ContainerState.OPEN,
        in_date_until=date(2026, 12, 1),
    )  # fmt: skip
    return replace(base, **more)


def run(*cans: Candidate, need: Need = OIL, role: Role = Role.FINISHER, **more: Any) -> StockCheck:
    return check([need], cans, actor_role=role, today=TODAY, **more)


def taken(answer: StockCheck) -> list[tuple[int, int]]:
    return [(a.container_id, a.amount) for a in answer.allocations]


def severities(answer: StockCheck, code: str) -> list[Severity]:
    return [f.severity for f in answer.verdict if f.code == code]


def test_two_open_cans_of_which_one_is_not_known() -> None:
    doubtful = can(0, 900, standing=Standing.NOT_KNOWN, standing_reason="opening day unknown")
    answer = run(doubtful, can(1, 600))
    assert taken(answer) == [(1, 500)] and answer.verdict.complete
    both = run(doubtful, can(1, 300))
    assert taken(both) == [(1, 300), (0, 200)]
    assert severities(both, "not-known") == [Severity.UNKNOWN] and not both.verdict.blocking


def test_a_not_known_one_that_was_looked_at_today_is_a_warning() -> None:
    answer = run(can(0, 900, standing=Standing.NOT_KNOWN, looked_today=True))
    assert answer.verdict.complete and answer.verdict.codes == {"not-known-looked"}


@pytest.mark.parametrize("over", [
    {"standing": Standing.PAST}, {"in_date_until": date(2026, 3, 1)},  # a stored standing that is out of date
])  # fmt: skip
def test_a_past_one_is_named_and_left_out(over: dict[str, Any]) -> None:
    answer = run(can(0, 900, **over), can(1, 200))
    assert taken(answer) == [(1, 200)] and answer.shortages[0].missing == 300
    assert severities(answer, "past") == [Severity.WARN] and answer.verdict.blocking
    assert next(f for f in answer.verdict if f.code == "past").about == CODES[0]


def test_the_last_day_is_still_used() -> None:
    assert taken(run(can(0, 900, in_date_until=TODAY))) == [(0, 500)]


def test_what_is_promised_to_another_batch_is_not_counted() -> None:
    answer = run(can(0, 900, promised=600))
    assert taken(answer) == [(0, 300)] and answer.shortages[0].missing == 200
    assert taken(run(can(0, 900, promised=1000))) == []


def test_a_need_split_over_three() -> None:
    answer = run(can(0, 200), can(1, 200), can(2, 200))
    assert taken(answer) == [(0, 200), (1, 200), (2, 100)] and not answer.shortages


def test_one_need_named_twice_does_not_count_a_can_twice() -> None:
    answer = check([OIL, OIL], [can(0, 700)], actor_role=Role.KEEPER, today=TODAY)
    assert sum(a.amount for a in answer.allocations) == 700 and answer.shortages[0].missing == 300


@pytest.mark.parametrize(("role", "stopped"), [
    (Role.READER, True), (Role.STUDENT, True), (Role.FINISHER, False), (Role.KEEPER, False),
])  # fmt: skip
def test_keeper_only_material(role: Role, stopped: bool) -> None:
    answer = run(can(0, 900, keeper_only=True), role=role)
    assert answer.verdict.blocking is stopped
    assert (severities(answer, "keeper-only") == [Severity.STOP]) is stopped
    assert run(can(0, 900, keeper_only=True), role=role, may_use_keeper_only=False).verdict.blocking


def test_an_amount_that_is_not_known_is_never_enough() -> None:
    for blank in (can(0, None), can(0, 900, amount_known=AmountKnown.NOT_KNOWN)):
        answer = run(blank)
        assert taken(answer) == [] and answer.shortages[0].missing == 500
        assert severities(answer, "amount-not-known") == [Severity.UNKNOWN]
        assert severities(run(blank, can(1, 500)), "amount-not-known") == [Severity.NOTE]


@pytest.mark.parametrize("never", [
    {"state": ContainerState.EMPTY}, {"state": ContainerState.GONE}, {"condition": Condition.LEAKING},
])  # fmt: skip
def test_leaking_empty_and_gone_ones_never_count(never: dict[str, Any]) -> None:
    assert taken(run(can(0, 900, **never))) == []


def test_order_opened_then_soonest_to_go_then_code() -> None:
    cans = [
        can(5, 10, state=ContainerState.SEALED, in_date_until=date(2026, 4, 1)),
        can(4, 10, in_date_until=None),
        can(3, 10, in_date_until=date(2026, 6, 1)),
        can(2, 10, in_date_until=date(2026, 6, 1)),
        can(1, 10, in_date_until=date(2026, 5, 1)),
        can(0, 10, standing=Standing.NOT_KNOWN, in_date_until=None),
    ]
    assert [a.container_id for a in run(*cans).allocations] == [1, 2, 3, 4, 5, 0]
    assert run(*cans).fingerprint == run(*reversed(cans)).fingerprint


def test_what_something_was_found_in_is_taken_only_where_nothing_else_is_enough() -> None:
    doubted = can(0, 900, standing=Standing.LOOK_FIRST, doubted="a check found: thickened")
    sealed = can(1, 450, state=ContainerState.SEALED)
    unknown = can(2, 300, standing=Standing.NOT_KNOWN, in_date_until=None)
    answer = run(doubted, sealed, unknown)
    assert taken(answer) == [(1, 450), (2, 50)] and not severities(answer, "doubted")
    answer = run(doubted, sealed)
    assert taken(answer) == [(1, 450), (0, 50)] and severities(answer, "doubted") == [Severity.WARN]
    assert answer.allocations[1].why == "last: something was found in it"
    # What was set aside stays, so that a start reads what was found since (core/check_again.py).
    before = (Allocation(0, doubted.code, 1, 500),)
    assert taken(run(doubted, sealed, unknown, prefer=before)) == [(0, 500)]


def test_what_is_read_first() -> None:
    answer = run(
        can(
            0,
            900,
            standing=Standing.LOOK_FIRST,
            amount_known=AmountKnown.ESTIMATED,
            condition=Condition.DAMAGED,
        )
    )
    assert (
        answer.verdict.codes == {"look-first", "amount-estimated", "damaged"} and not answer.verdict.blocking
    )


def test_rags_and_open_ends_are_part_of_the_answer() -> None:
    rags = Verdict.of([stop("rags-overdue", "Rags of the morning class are overdue.")])
    answer = run(can(0, 900), rag_findings=rags, starts_rag_duty=True)
    assert answer.verdict.codes == {"rags-overdue", "rag-duty-starts"} and answer.verdict.blocking
    to_suit = Need(1, "boiled oil", None, None, None)
    assert run(can(0, 900), need=to_suit).verdict.codes == {"no-upper-amount"}
    assert taken(run(can(0, 900), need=to_suit)) == []


def test_a_shortage_keeps_the_unit_of_the_bench() -> None:
    short = run().shortages[0]
    assert (short.unit_written, short.needed, short.missing, short.basis) == ("ml", 500, 500, Basis.VOLUME)


def test_allocations_of_before_are_kept_where_they_hold() -> None:
    before = run(can(1, 300), can(2, 300))
    newcomer = can(0, 900, in_date_until=date(2026, 3, 9))
    assert taken(run(newcomer, can(1, 300), can(2, 300))) == [(0, 500)]
    again = run(newcomer, can(1, 300), can(2, 300), prefer=before.allocations)
    assert again.allocations == before.allocations and again.fingerprint == before.fingerprint
    less = run(newcomer, can(1, 100), can(2, 300), prefer=before.allocations)
    assert sum(a.amount for a in less.allocations) == 500


def test_the_fingerprint_sees_decisions_and_not_wording_or_places() -> None:
    base = run(can(0, 900))
    assert len(base.fingerprint) == 64
    assert run(can(0, 900, place="shelf 3", standing_reason="x")).fingerprint == base.fingerprint
    assert run(can(0, 800)).fingerprint == base.fingerprint  # still the same 500 out of the same can
    for other in (
        run(can(1, 900)),
        run(can(0, 400)),
        run(can(0, 900, standing=Standing.LOOK_FIRST)),
        run(can(0, 900), need=replace(OIL, high=499)),
        run(can(0, 900), starts_rag_duty=True),
    ):
        assert other.fingerprint != base.fingerprint


needs_drawn = st.lists(
    st.builds(
        Need, st.integers(1, 3), st.just("m"), st.just(Basis.MASS), st.just(0),
        st.one_of(st.none(), st.integers(0, 600)),
    ),
    max_size=4,
)  # fmt: skip
fields = st.fixed_dictionaries({
    "material_id": st.integers(1, 3),
    "amount": st.one_of(st.none(), st.integers(0, 400)),
    "amount_known": st.sampled_from(AmountKnown),
    "promised": st.integers(0, 300),
    "standing": st.sampled_from(Standing),
    "state": st.sampled_from(ContainerState),
    "in_date_until": st.one_of(st.none(), st.dates(date(2026, 1, 1), date(2026, 12, 31))),
    "condition": st.sampled_from(Condition),
})  # fmt: skip


@given(
    needs_drawn, st.lists(fields, max_size=12), st.lists(st.tuples(st.integers(0, 11), st.integers(1, 400)))
)
@settings(max_examples=400)
def test_books_balance_whatever_stands_there(
    needs: list[Need], stock: list[dict[str, Any]], earlier: list[tuple[int, int]]
) -> None:
    cans = [replace(can(n, 0), **one) for n, one in enumerate(stock)]
    prefer = [Allocation(n, CODES[n], cans[n].material_id, a) for n, a in earlier if n < len(cans)]
    answer = check(needs, cans, actor_role=Role.KEEPER, today=TODAY, prefer=prefer)
    out: Counter[int] = Counter()
    by_material: Counter[int] = Counter()
    for a in answer.allocations:
        out[a.container_id] += a.amount
        by_material[a.material_id] += a.amount
        assert a.amount > 0
    for c in cans:
        assert out[c.container_id] <= max(0, (c.amount or 0) - c.promised)
        assert out[c.container_id] <= answer.usable.get(c.container_id, 0)
        if out[c.container_id]:
            assert c.standing is not Standing.PAST and c.condition is not Condition.LEAKING
            assert c.state in (ContainerState.OPEN, ContainerState.SEALED)
            assert c.amount_known is not AmountKnown.NOT_KNOWN
            assert c.in_date_until is None or c.in_date_until >= TODAY
    for material in {n.material_id for n in needs}:
        wanted = sum(n.high or 0 for n in needs if n.material_id == material)
        missing = sum(s.missing for s in answer.shortages if s.material_id == material)
        assert by_material[material] + missing == wanted
    assert answer.verdict.blocking == bool(answer.shortages)


@given(st.lists(fields, min_size=1, max_size=8), st.data())
def test_one_more_unknown_never_finds_more(stock: list[dict[str, Any]], data: st.DataObject) -> None:
    cans = [replace(can(n, 0), **{**one, "material_id": 1}) for n, one in enumerate(stock)]
    at = data.draw(st.integers(0, len(cans) - 1))
    name = data.draw(st.sampled_from(["amount", "standing"]))
    blank: Any = None if name == "amount" else Standing.NOT_KNOWN
    less = list(cans)
    if not (name == "standing" and cans[at].standing is Standing.PAST):
        less[at] = replace(cans[at], **{name: blank})
    before, after = run(*cans), run(*less)
    missing = [sum(s.missing for s in one.shortages) for one in (before, after)]
    assert missing[1] >= missing[0]
