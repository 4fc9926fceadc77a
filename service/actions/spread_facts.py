"""When the facts of a material get worse, the jars that hold some of it get worse with it.

A jar takes over the marks of what went in on the day it is filled. If it turns out later that something in it
is self-heating, keeper-only or lasts less long, every mix made with it and every jar poured from it follows,
through any number of batches. Better marks spread to nothing: nobody looked at the jar. A longer life spreads
only by reckoning the jar anew from all that went in (`actions.settle_jars_anew`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cache, partial

from sqlmodel import Session, col, select

from service.actions.inherit_life import as_it_left, life_source
from service.actions.note_change import note_change
from service.actions.post_movement import touch
from service.actions.settle import Act
from service.actions.settle_jars_anew import settle_jars_anew
from service.core.ageing import judge
from service.core.container_life import ContainerLife, joined
from service.core.containers import Standing
from service.core.findings import warn
from service.core.ledger import MovementKind
from service.core.materials import SelfHeating
from service.core.months import earliest
from service.core.shelf_codes import show_code
from service.records.flow_queries import went_into
from service.records.stock import Container, Movement
from service.records.stock_queries import Held, hold


def spread(act: Act, material_ids: Iterable[int], *, dates: bool) -> list[str]:
    """Bring every jar that holds some of these materials up to what they are now; the codes of those changed.

    Args:
        dates: how long they last has changed, so that the ends count as well as the marks.
    """
    first = _that_went_on(act.session, material_ids)
    waiting = list(first)
    filled_from = cache(partial(_filled_from, act.session))
    changed: set[str] = set()
    # A jar only ever gets worse, and there are few ways to: this comes to an end, rings of pouring included.
    while waiting:
        number = waiting.pop(0)
        targets = filled_from(number)
        if not targets:
            continue
        held = hold(act.session, {number, *targets})
        source = life_source(act, held[number])
        for target, mixed in targets.items():
            life = _as_source(held[number], source, mixed, dates)
            if mixed and dates:
                life = _as_it_went_in(act, life, number, target)
            if _worsen(act, held[target], life, mixed=mixed):
                changed.add(held[target].container.code)
                waiting.append(target)
    codes = sorted(changed)
    if codes:
        named = ", ".join(show_code(code) for code in codes[:10]) + (" and more" if len(codes) > 10 else "")
        act.note(warn("jars-follow", f"What was made or poured with it follows: {named}."))
    if dates:
        settle_jars_anew(act, first, filled_from)
    return codes


def _that_went_on(session: Session, material_ids: Iterable[int]) -> list[int]:
    """The containers of these materials of which something went into a batch or another container."""
    went_on = col(Movement.batch_id).is_not(None) | col(Movement.other_container_id).is_not(None)
    rows = session.exec(
        select(Movement.container_id)
        .join(Container, col(Container.id) == col(Movement.container_id))
        .where(
            col(Container.material_id).in_(list(material_ids)),
            col(Movement.kind).in_([MovementKind.DRAW, MovementKind.DECANT_OUT]),
            went_on,
        )
        .distinct()
    ).all()
    return sorted(rows)


def _filled_from(session: Session, container_id: int) -> dict[int, bool]:
    """The containers something of this one went into; True = by way of a batch, False = poured over."""
    rows = session.exec(
        select(Movement).where(
            col(Movement.container_id) == container_id,
            col(Movement.kind).in_([MovementKind.DRAW, MovementKind.DECANT_OUT]),
        )
    ).all()
    undone = set(
        session.exec(
            select(Movement.reverses_id).where(
                col(Movement.container_id) == container_id, col(Movement.reverses_id).is_not(None)
            )
        ).all()
    )
    standing = [row for row in rows if row.id not in undone]
    found: dict[int, bool] = {}
    for row in standing:
        if row.kind is MovementKind.DECANT_OUT and row.other_container_id not in (None, container_id):
            found.setdefault(row.other_container_id or 0, False)
    batches = {row.batch_id for row in standing if row.batch_id is not None}
    jars = session.exec(
        select(Movement.container_id).where(
            col(Movement.batch_id).in_(sorted(batches)), col(Movement.kind) == MovementKind.MADE
        )
    ).all()
    return found | {jar: True for jar in jars if jar != container_id}


def _as_source(held: Held, life: ContainerLife, mixed: bool, dates: bool) -> ContainerLife:
    """What counts of a source: what was poured over keeps its material, so only what it inherited does."""
    if not dates:
        life = replace(life, in_date_until=None, known=True)
    return life if mixed else _own_marks(held.container, life)


def _as_it_went_in(act: Act, life: ContainerLife, source: int, jar: int) -> ContainerLife:
    """The life of what is in a jar: what passed on its source since says nothing of what had left it."""
    left = [flow.at for flow in went_into(act.session, [source]) if flow.target == jar and flow.batch]
    if not left:
        return life
    facts = as_it_left(life.facts, min(left))
    if facts.checks == life.facts.checks:
        return life
    then = judge(facts, act.day)
    return replace(
        life,
        in_date_until=earliest(life.in_date_until, then.in_date_until),
        known=life.known and then.standing is not Standing.NOT_KNOWN,
    )


def _own_marks(box: Container, life: ContainerLife) -> ContainerLife:
    """The life with the marks that stand on the container itself; those of its material are not its own."""
    mark = box.inherited_self_heating or SelfHeating.NO
    return replace(life, self_heating=mark, keeper_only=box.inherited_keeper_only)


def _worsen(act: Act, held: Held, source: ContainerLife, *, mixed: bool) -> bool:
    """Let a jar take over what is worse in one of its sources; whether anything changed."""
    box = held.container
    before = _own_marks(box, life_source(act, held))
    after = joined(before, source, mixed=mixed)
    if mixed:
        _mix_follows(act, held, after)
    if after == before:
        return False
    if after.self_heating is not before.self_heating:
        box.inherited_self_heating = after.self_heating
    if after.hazards != before.hazards:
        box.inherited_hazards = None if after.hazards is None else sorted(after.hazards)
    box.inherited_keeper_only = after.keeper_only
    box.inherited_until, box.inherited_gap = after.facts.inherited_until, after.facts.inherited_gap
    touch(act, held)
    return True


def _mix_follows(act: Act, held: Held, after: ContainerLife) -> None:
    """The material of the jars is never milder than a jar of it; as when a batch is finished."""
    mix = held.material
    if after.self_heating is SelfHeating.NO or mix.self_heating is SelfHeating.YES:
        return
    note_change(
        act.session, act.actor, act.recorded_at, ("material", mix.id), "self heating",
        mix.self_heating, SelfHeating.YES, "something that goes into it is self-heating",
    )  # fmt: skip
    mix.self_heating, mix.self_heating_reason = SelfHeating.YES, ""
    mix.version += 1
    act.session.add(mix)
