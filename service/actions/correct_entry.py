"""Taking an entry back: a movement that names the one it reverses, who, when and why. Nothing is erased."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from service.actions.came_back import came_back
from service.actions.container_act import told
from service.actions.drum_of_movement import left_with_a_drum
from service.actions.duties_of_gone import owe_again
from service.actions.found_more import WatchedLooks
from service.actions.look_again import OUT
from service.actions.order_arrivals import tick_back
from service.actions.post_movement import Line, Written, name_of, post
from service.actions.rag_duty import draw_ref
from service.actions.same_stuff import ask_what_was_found_meanwhile
from service.actions.settle import Act, Sent, Settled, settle, the_shop
from service.actions.tell_of_condition import tell_what_comes_back
from service.actions.write_rag_log import write_rag_log
from service.core.access import Actor, Permission, may, require
from service.core.containers import ContainerState
from service.core.findings import NotFound, Refused, Verdict, note, stop
from service.core.ledger import MOVEMENT_WORDS, MovementKind, OtherSide
from service.core.quantities import show_amount
from service.core.reversals import SOON, may_be_reversed, may_reverse
from service.core.shop_days import shop_day
from service.records.mixing import Addition, Batch, BatchState
from service.records.stock import Movement
from service.records.stock_queries import Held, hold, lines_of


@dataclass(frozen=True)
class ReverseAsked:
    """An entry to take back, and why."""

    once: str
    movement_id: int
    reason: str


def reverse(session: Session, actor: Actor, now: datetime, asked: ReverseAsked) -> Settled:
    """Reverse an entry, together with what was booked with it on the same containers.

    A decant is taken back on both sides; a draw with the count that went before it. The rag load of a draw
    stays: what was wiped cannot be taken back by a pen.

    Raises:
        NotFound: there is no such entry, or not for this person.
        Refused: not this person's to reverse, reversed already, counted since, or more was taken since; or
            it left the shop with a drum of waste; or what was drawn came back.
    """
    require(actor, Permission.REVERSE_OWN_SOON)
    sent = Sent(asked.once, "reverse", {"movement": asked.movement_id, "reason": asked.reason})
    return settle(session, actor, sent, now, lambda act: _reverse(act, asked))


def _reverse(act: Act, asked: ReverseAsked) -> dict[str, Any]:
    pot = in_a_pot(act.session, _group(act.session, the_movement(act.session, act.actor, asked.movement_id)))
    if pot.blocking:
        raise Refused(pot)
    return reverse_within(act, asked)


def the_movement(session: Session, actor: Actor, movement_id: int) -> Movement:
    """One line of the ledger; who may not see the ledger finds only what they wrote themselves.

    Raises:
        NotFound: there is none with this number, or it is not theirs to see.
    """
    movement = session.get(Movement, movement_id)
    sees_all = may(actor.role, Permission.SEE_LOGS)
    if movement is None or not (sees_all or movement.person_id == actor.person_id):
        raise NotFound(f"There is no entry number {movement_id} in the ledger.")
    return movement


def judge_reversal(session: Session, actor: Actor, now: datetime, movement: Movement, reason: str) -> Verdict:
    """Whether this person may take this entry back now, and whether the book itself allows it."""
    shop = the_shop(session)
    same_day = shop_day(movement.recorded_at, shop.time_zone) == shop_day(now, shop.time_zone)
    verdict = may_reverse(
        actor.role,
        own=movement.person_id == actor.person_id,
        age=now - movement.recorded_at,
        same_day=same_day,
        reason=reason,
    )
    group = _group(session, movement)
    lines = lines_of(session, group[0].container_id)
    verdict = verdict + may_be_reversed(group[0].id or 0, lines) + in_a_jar(session, group)
    return verdict + in_a_pot(session, group) + left_with_a_drum(session, group) + came_back(session, group)


def in_a_pot(session: Session, group: Sequence[Movement]) -> Verdict:
    """A stop where what was drawn is an addition of a running batch: its bench asks whether it went in."""
    found = session.exec(
        select(Addition)
        .join(Batch, col(Batch.id) == col(Addition.batch_id))
        .where(
            col(Addition.movement_id).in_([one.id for one in group if one.kind is MovementKind.DRAW]),
            col(Batch.state) == BatchState.RUNNING,
        )
        .order_by(col(Addition.id))
    ).first()
    if found is None:
        return Verdict()
    words = (
        f"It is addition {found.id} of batch {found.batch_id}, which is running. Take it back on the bench "
        "page of that batch: what was in the pot counts on."
    )
    return Verdict.of([stop("in-a-pot", words)])


def in_a_jar(session: Session, group: Sequence[Movement]) -> Verdict:
    """A stop where what was drawn is in the jars of a finished batch: it would be in the book twice, and the
    jar would not know any more what is in it.
    """
    batches = {one.batch_id for one in group if one.kind is MovementKind.DRAW and one.batch_id is not None}
    made = session.exec(
        select(Movement).where(
            col(Movement.batch_id).in_(sorted(batches)), col(Movement.kind) == MovementKind.MADE
        )
    ).all()
    undone = select(Movement.reverses_id).where(col(Movement.reverses_id).in_([one.id for one in made]))
    gone = set(session.exec(undone).all())
    standing = {one.batch_id for one in made if one.id not in gone}
    return Verdict.of(
        stop(
            "in-a-jar",
            f"What was drawn is in the jars of batch {number}. Reverse the jars first, or count what is "
            "there.",
        )
        for number in sorted(n for n in standing if n is not None)
    )


def is_fresh(actor: Actor, movement: Movement, now: datetime) -> bool:
    """Whether the button says "take back" with a reason of its own: an own entry of the last two minutes."""
    return movement.person_id == actor.person_id and now - movement.recorded_at <= SOON


def reverse_within(act: Act, asked: ReverseAsked) -> dict[str, Any]:
    """The same as a part of another act, whose key and time it takes.

    Raises:
        NotFound, Refused: as `reverse`.
    """
    movement = the_movement(act.session, act.actor, asked.movement_id)
    shop = act.shop
    verdict = may_reverse(
        act.actor.role,
        own=movement.person_id == act.actor.person_id,
        age=act.recorded_at - movement.recorded_at,
        same_day=shop_day(movement.recorded_at, shop.time_zone) == shop_day(act.recorded_at, shop.time_zone),
        reason=asked.reason,
    )
    if verdict.blocking:
        raise Refused(verdict)
    group = _group(act.session, movement)
    elsewhere = in_a_jar(act.session, group) + left_with_a_drum(act.session, group)
    elsewhere += came_back(act.session, group)
    if elsewhere.blocking:
        raise Refused(elsewhere)
    held = hold(act.session, {one.container_id for one in group})
    _not_gone(act, group, held)
    looks = [WatchedLooks(act, one) for one in held.values()]
    reversals = [_take_back(act, held[one.container_id], one, asked.reason) for one in group]
    for one in looks:
        one.tell(OUT)
    _tell_findings(act, group, held)
    main = held[movement.container_id]
    return {
        "reversals": [one.id for one in reversals],
        "reversed": [one.id for one in group],
        "container": told(main),
        "others": [told(h) for number, h in held.items() if number != movement.container_id],
        "words": f"{MOVEMENT_WORDS[movement.kind]} {_size(main, movement)}",
    }


def _tell_findings(act: Act, group: Sequence[Movement], held: dict[int, Held]) -> None:
    """What was found in a jar stands with what it was poured from: that comes back to it."""
    for row in group:
        source = held.get(row.other_container_id or 0)
        if row.kind is MovementKind.DECANT_IN and source is not None:
            tell_what_comes_back(act, held[row.container_id], source)
        elif row.kind is MovementKind.DISCARD:
            ask_what_was_found_meanwhile(act, held[row.container_id], row.recorded_at)
            owe_again(act, held[row.container_id], row.recorded_at)


def _size(held: Held, movement: Movement) -> str:
    basis = held.material.basis
    if movement.change is None or basis is None:
        return "an unknown amount"
    return show_amount(abs(movement.change), basis)


def _group(session: Session, movement: Movement) -> Sequence[Movement]:
    """What is taken back together, the newest first: the lines of the same posting on the same containers."""
    boxes = {movement.container_id}
    if movement.kind in (MovementKind.DECANT_OUT, MovementKind.DECANT_IN):
        boxes |= {movement.other_container_id or movement.container_id}
    rows = session.exec(
        select(Movement).where(
            col(Movement.posting_id) == movement.posting_id, col(Movement.container_id).in_(sorted(boxes))
        )
    ).all()
    if any(row.kind in (MovementKind.DECANT_OUT, MovementKind.DECANT_IN) for row in rows):
        wider = {row.other_container_id for row in rows if row.other_container_id} | boxes
        rows = session.exec(
            select(Movement).where(
                col(Movement.posting_id) == movement.posting_id, col(Movement.container_id).in_(sorted(wider))
            )
        ).all()
    ids = [row.id for row in rows]
    undone = set(session.exec(select(Movement.reverses_id).where(col(Movement.reverses_id).in_(ids))).all())
    if movement.id in undone:
        return [movement]  # judged and refused by the caller
    standing = [r for r in rows if r.id not in undone and r.kind is not MovementKind.REVERSAL]
    return sorted(standing, key=lambda r: -(r.id or 0)) or [movement]


def _not_gone(act: Act, group: Sequence[Movement], held: dict[int, Held]) -> None:
    """What is gone comes back only by taking back the discard that took it."""
    for number, one in held.items():
        if one.container.state is not ContainerState.GONE:
            continue
        lines = [m for m in group if m.container_id == number]
        if any(m.kind is MovementKind.DISCARD for m in lines):
            continue
        sentence = f"{name_of(one)} is gone. Reverse the discard that took it away first."
        raise Refused(Verdict.of([stop("state-gone", sentence)]))


def _take_back(act: Act, held: Held, movement: Movement, reason: str) -> Written:
    assert movement.id is not None
    verdict = may_be_reversed(movement.id, lines_of(act.session, held.container_id))
    if verdict.blocking:
        raise Refused(verdict)
    line = Line(
        MovementKind.REVERSAL,
        -(movement.change or 0),
        OtherSide.MOVEMENT,
        known=movement.known,
        other_text=f"{MOVEMENT_WORDS[movement.kind]}, entry {movement.id}",
        reverses_id=movement.id,
        other_container_id=movement.other_container_id,
        batch_id=movement.batch_id,
        reason=reason,
    )
    reversal = post(act, held, line)
    tick_back(act.session, act.actor, act.recorded_at, movement)
    if movement.rag_load_id is not None or (movement.self_heating and (movement.change or 0) < 0):
        _keep_the_load(act, held, movement, reversal, reason)
    return reversal


def _keep_the_load(act: Act, held: Held, movement: Movement, reversal: Written, reason: str) -> None:
    write_rag_log(
        act.session,
        kind="correction",
        load_id=movement.rag_load_id,
        person_id=act.actor.person_id,
        posting_id=act.posting_id,
        happened_at=act.happened_at,
        recorded_at=act.recorded_at,
        data={
            "ref": draw_ref(movement.id or 0),
            "movement": movement.id,
            "reversal": reversal.id,
            "what": name_of(held),
            "reason": reason,
        },
    )
    if movement.rag_load_id is not None:
        sentence = (
            f"Rag load {movement.rag_load_id} stays. If none were made, record that with the rags of the job."
        )
        act.note(note("load-stays", sentence))
