"""What a jar takes over from what went into it, as records: dates, lots, hazards, the self-heating mark."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

from service.actions.post_movement import EventFacts, record_event, touch
from service.actions.settle import Act
from service.core.ageing import judge, open_doubts
from service.core.container_life import ContainerLife
from service.core.containers import EventKind, Standing
from service.core.findings import warn
from service.core.life_facts import CheckOutcome, ConditionCheck, LifeFacts
from service.core.materials import SelfHeating
from service.records.ageing_queries import CARRIED, TOLD_BEFORE, checks_of, life_of
from service.records.material_queries import counts_keeper_only, counts_self_heating
from service.records.stock_queries import Held


def life_source(act: Act, held: Held, left_at: datetime | None = None) -> ContainerLife:
    """A container's life with everything it inherited itself, as a source of what is put together.

    ``left_at``: when it was taken out, by default when the act happened. What passed on the source after that
    says nothing of what had left it, on the same day too. Self-heating follows what counts for this very
    container: not known counts as yes and stays "not known".
    """
    box, material = held.container, held.material
    hazards = box.inherited_hazards if box.inherited_hazards is not None else material.hazards
    facts = as_it_left(life_of(act.session, box, material), left_at or act.happened_at)
    ageing = judge(facts, act.day)
    mark = box.inherited_self_heating
    if mark in (None, SelfHeating.NO):
        heats = counts_self_heating(act.session, material, box)
        unknown = material.self_heating is SelfHeating.NOT_KNOWN
        mark = (SelfHeating.NOT_KNOWN if unknown else SelfHeating.YES) if heats else SelfHeating.NO
    assert mark is not None
    return ContainerLife(
        facts=facts,
        self_heating=mark,
        hazards=None if hazards is None else frozenset(str(h) for h in hazards),
        lots=tuple(part.strip() for part in box.lot.split(";") if part.strip()),
        keeper_only=counts_keeper_only(act.session, material, box),
        in_date_until=ageing.in_date_until,
        known=ageing.standing is not Standing.NOT_KNOWN,
    )


def as_it_left(facts: LifeFacts, left_at: datetime) -> LifeFacts:
    """A life without what passed on it after something had left it."""
    kept = tuple(
        one for one in facts.checks
        if one.outcome is not CheckOutcome.PASSED or (one.at is not None and one.at <= left_at)
    )  # fmt: skip
    return replace(facts, checks=kept)


def take_over(act: Act, held: Held, life: ContainerLife, whence: str) -> None:
    """Write an inherited life onto a container that has been filled; carried checks become its events."""
    box, facts = held.container, life.facts
    box.packed_on, box.received_on = facts.packed_on, facts.received_on
    box.opened_on, box.opened_by, box.ever_opened = facts.opened_on, facts.opened_by, True
    box.started_by, box.printed_date = facts.started_by, facts.printed_date
    box.inherited_until, box.inherited_gap = facts.inherited_until, facts.inherited_gap
    box.inherited_self_heating = life.self_heating
    box.inherited_hazards = None if life.hazards is None else sorted(life.hazards)
    box.inherited_keeper_only = life.keeper_only
    lots = "; ".join(life.lots)
    if len(lots) > 120:
        act.note(warn("lots-cut", "So many lots went in that not all of them fit on the container."))
    box.lot = lots[:120]
    known = {_same(check) for check in checks_of(act.session, held.container_id)}
    for check in facts.checks:
        if _same(check) not in known:
            _carry(act, held, check, whence)
    _doubt_again(act, held, facts.checks, whence)
    touch(act, held)


def _same(check: ConditionCheck) -> tuple[date, CheckOutcome, str]:
    """A check that is carried over is told and written down anew: by these it is the same."""
    return check.on, check.outcome, check.found


def _carry(act: Act, held: Held, check: ConditionCheck, whence: str) -> None:
    note = f"{TOLD_BEFORE if check.told else CARRIED}{whence}"
    facts = EventFacts(check.on, check.outcome, found=check.found or None, note=note)
    record_event(act, held, EventKind.CHECKED, facts)


def _doubt_again(act: Act, held: Held, carried: tuple[ConditionCheck, ...], whence: str) -> None:
    """What is doubted where it came from is doubted here too, though an equal one was lifted here before."""
    here = {one.found for one in open_doubts(checks_of(act.session, held.container_id))}
    for doubt in open_doubts(carried):
        if doubt.found not in here:
            _carry(act, held, doubt, whence)
