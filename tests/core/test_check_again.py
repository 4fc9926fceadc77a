"""Stale means: an allocation no longer holds, or a finding appeared or got worse, and nothing else."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from typing import Any

from service.core.access import Role
from service.core.check_again import from_summary, still_holds, summary
from service.core.containers import AmountKnown, Standing
from service.core.findings import Verdict, note, stop, warn
from service.core.materials import Basis
from service.core.recipe import Need
from service.core.shelf_codes import make_code
from service.core.stock_check import Candidate, StockCheck, check
from service.core.use_first import AirStanding

TODAY = date(2026, 3, 2)
NEED = Need(1, "boiled oil", Basis.VOLUME, 400, 500, "ml")
CAN = Candidate(1, make_code(1), 1, 900, standing=Standing.IN_DATE, in_date_until=date(2026, 9, 1))
OTHER = replace(CAN, container_id=2, code=make_code(99))


def run(*cans: Candidate, before: StockCheck | None = None, need: Need = NEED, **more: Any) -> StockCheck:
    prefer = before.allocations if before else ()
    return check([need], cans, actor_role=Role.KEEPER, today=TODAY, prefer=prefer, **more)


def codes(old: StockCheck, new: StockCheck) -> set[str]:
    return set(still_holds(old, new).codes)


def test_nothing_changed_or_only_what_does_not_matter() -> None:
    old = run(CAN)
    soon = replace(OTHER, in_date_until=date(2026, 3, 5), standing=Standing.LOOK_FIRST)
    for cans in (
        (CAN,),
        (CAN, soon),  # a delivery that would be used first
        (replace(CAN, amount=500),),  # less, still enough
        (replace(CAN, promised=400),),  # set aside from the rest
        (replace(CAN, place="bench"),),
        (CAN, replace(OTHER, amount=None)),  # only a note
    ):
        assert codes(old, run(*cans, before=old)) == set(), cans
    assert codes(old, run(CAN, before=old, rag_findings=Verdict.of([note("x", "X.")]))) == set()


def test_an_allocation_that_no_longer_holds() -> None:
    old = run(CAN)
    for cans in (
        (replace(CAN, amount=499), OTHER),
        (replace(CAN, promised=401), OTHER),
        (replace(CAN, amount_known=AmountKnown.NOT_KNOWN), OTHER),
        (OTHER,),
    ):
        assert "allocation-gone" in codes(old, run(*cans, before=old)), cans
    past = run(replace(CAN, standing=Standing.PAST), OTHER, before=old)
    assert codes(old, past) == {"allocation-gone", "finding-new"}


def test_a_finding_that_appeared_or_got_worse() -> None:
    old = run(CAN, rag_findings=Verdict.of([warn("rags-soon", "12 minutes left.", about="load 4")]))
    same = Verdict.of([warn("rags-soon", "3 minutes left.", about="load 4")])
    assert codes(old, run(CAN, before=old, rag_findings=same)) == set()
    worse = Verdict.of([stop("rags-soon", "Over.", about="load 4")])
    assert codes(old, run(CAN, before=old, rag_findings=worse)) == {"finding-worse"}
    other = Verdict.of([*same, warn("rags-soon", "9 minutes left.", about="load 5")])
    assert codes(old, run(CAN, before=old, rag_findings=other)) == {"finding-new"}
    assert codes(old, run(CAN, before=old)) == set()  # a finding that went away
    look = run(replace(CAN, standing=Standing.LOOK_FIRST), before=old)
    assert codes(old, look) == {"finding-new"}
    assert still_holds(old, look).blocking


def test_more_missing_and_other_needs() -> None:
    old = run(replace(CAN, amount=300))
    assert codes(old, run(replace(CAN, amount=299), before=old)) == {"allocation-gone", "more-missing"}
    assert codes(run(CAN), run(CAN, need=replace(NEED, high=501))) == {"needs-changed"}
    assert codes(run(CAN), run(CAN, need=replace(NEED, high=None))) >= {"needs-changed", "finding-new"}


def test_a_check_survives_being_stored() -> None:
    old = run(replace(CAN, amount=300, standing=Standing.LOOK_FIRST), replace(OTHER, amount=None))
    read = from_summary(json.loads(json.dumps(summary(old))))
    assert (
        read == old
        and codes(read, run(replace(CAN, amount=300, standing=Standing.LOOK_FIRST), OTHER)) == set()
    )


def test_more_air_over_it_since_is_no_news_and_an_older_check_has_no_reasons() -> None:
    old = run(CAN)
    often = replace(OTHER, in_date_until=CAN.in_date_until, air=AirStanding(1.0, much=True, openings=20))
    assert codes(old, run(CAN, often, before=old)) == set()
    kept = summary(old)
    for one in kept["allocations"]:
        del one["why"]
    assert codes(from_summary(kept), run(CAN, before=from_summary(kept))) == set()
