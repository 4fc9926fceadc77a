"""Pouring from one container into another of the same material: a new jar never starts a new life."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlmodel import Session

from service.actions.container_act import (
    ContainerAsked,
    Opening,
    check_opening_day,
    note_first_opening,
    settle_container_act,
    told,
)
from service.actions.follow_pourings import follow_pourings
from service.actions.gate import Taking, take
from service.actions.give_codes import fresh_code
from service.actions.inherit_life import life_source, take_over
from service.actions.lose_stock import amount_or_all
from service.actions.met_in_pot import judge_poured
from service.actions.post_movement import Line, name_of, post
from service.actions.rag_duty import refuse_or_record
from service.actions.read_amount import ReadAmount, fix_basis, read_amount, settled_basis
from service.actions.run_job import job_for_draw
from service.actions.settle import Act, Settled
from service.actions.stands_in import place_for_stock
from service.actions.store_gate import Change, judge_change, refuse_or_owe, store_before
from service.core.access import Actor, Permission, require
from service.core.ageing import may_use
from service.core.container_life import inherit
from service.core.containers import AmountKnown, Condition, ContainerState
from service.core.findings import Invalid, Verdict
from service.core.ledger import MovementKind, OtherSide, fold
from service.core.materials import Basis
from service.core.quantities import show_amount
from service.core.shelf_codes import show_code
from service.records.ageing_queries import standing_of
from service.records.jobs import Job
from service.records.material_queries import counts_self_heating
from service.records.stock import Container
from service.records.stock_queries import Held, container_by_code, hold, lines_of

Chance = Callable[[], str]


@dataclass(frozen=True, kw_only=True)
class DecantAsked(ContainerAsked):
    """Pouring over.

    Args:
        amount: what leaves the container as written; empty = all of it.
        into: the code of an open container of the same material; empty = a new container.
        capacity, place_id, tare_mg: of a new container.
        lost: what was lost on the way, out of the amount; needs ``lost_note``.
    """

    amount: str = ""
    into: str = ""
    capacity: str = ""
    place_id: int | None = None
    lost: str = ""
    lost_note: str = ""
    looked: bool = False
    more_than_book: bool = False
    opened_on: date | None = None
    opening_not_known: bool = False
    job_id: int | None = None


def decant(session: Session, actor: Actor, now: datetime, asked: DecantAsked, chance: Chance) -> Settled:
    """Pour from one container into another. Both sides are booked together and name each other.

    Args:
        chance: gives a fresh unguessable text; a new container's code is made of it.

    Raises:
        Refused: what stops a draw, or the other container is past, sealed, empty or gone; or what is poured
            would stand over a storage limit. What has happened is recorded, and owes a move.
        Invalid: another material, the same container, more lost than poured.
    """
    require(actor, Permission.DECANT)
    return settle_container_act(
        session, actor, now, asked, "decant", lambda act, held: _decant(act, held, asked, chance)
    )


def _decant(act: Act, source: Held, asked: DecantAsked, chance: Chance) -> dict[str, Any]:
    target = _other(act, source, asked)
    read, lost = _amounts(act, source, asked)
    stood = store_before(act.session, {source.container_id})
    heats = counts_self_heating(act.session, source.material, source.container)
    job = job_for_draw(act, asked.job_id, needed=heats and lost is not None)
    check_opening_day(act, asked.opened_on)
    note_first_opening(act, source, Opening(asked.opened_on, asked.opening_not_known), job)
    if target is not None:
        _judge_target(act, target)
        judge_poured(act, source, target)
    there = [life_source(act, target)] if target is not None else []
    fresh = target is None
    if target is None:
        target = _new_container(act, source, asked, chance)
    arrived = None if read.known is AmountKnown.NOT_KNOWN else read.high - (lost.high if lost else 0)
    out = _pour_out(act, source, target, read, arrived, asked, job)
    if lost is not None:
        _lose(act, source, target, lost, asked, job)
    if arrived is None:
        _nothing_left(act, source)
    # Only now: where more was poured than the book says, the looks before it say nothing any more.
    poured = life_source(act, source)
    carried = inherit([poured, *there], poured.facts.policy, same_material=True, poured_on=act.day)
    incoming = post(act, target, _line_in(source, read, arrived), job=job)
    take_over(act, target, carried, name_of(source))
    if act.posting.late and not fresh:
        follow_pourings(act, target, act.happened_at)
    if stood is not None:
        new = frozenset({target.container_id}) if fresh else frozenset[int]()
        change = Change(new, filled=frozenset({target.container_id}) - new, before=stood)
        refuse_or_owe(act, judge_change(act.session, change), [target.container], source.material.name)
    return {
        "movement": out,
        "movement_in": incoming.id,
        "into": told(target),
        "new_container": fresh,
        "poured": arrived,
        "poured_words": show_amount(arrived, source.basis),
        "lost_words": show_amount(lost.high, source.basis) if lost else "",
    }


def _other(act: Act, source: Held, asked: DecantAsked) -> Held | None:
    if not asked.into.strip():
        return None
    other = container_by_code(act.session, asked.into)
    if other.id == source.container_id:
        raise Invalid("That is the same container.", {"into": "Choose another container than this one."})
    assert other.id is not None
    target = hold(act.session, [source.container_id, other.id])[other.id]
    if target.container.material_id != source.container.material_id:
        sentence = f"{show_code(other.code)} holds {target.material.name}. Two materials make a batch."
        raise Invalid(sentence, {"into": sentence})
    return target


def _amounts(act: Act, source: Held, asked: DecantAsked) -> tuple[ReadAmount, ReadAmount | None]:
    book = fold(lines_of(act.session, source.container_id))
    lost = None
    if asked.lost.strip():
        lost = read_amount(act.session, act.actor, source.material, asked.lost, "lost")
        if lost.high > 0 and not asked.lost_note.strip():
            sentence = "Say in a few words how it was lost on the way."
            raise Invalid(sentence, {"lost_note": sentence})
        lost = lost if lost.high > 0 else None
    if not asked.amount.strip() and book.amount is None:
        if lost is not None:
            sentence = "How much was poured is not known, so enter the amount, or leave the loss out."
            raise Invalid(sentence, {"amount": sentence})
        basis = settled_basis(source.material)
        fix_basis(act.session, source.material, basis)
        words = "all of it, an unknown amount"
        return ReadAmount(basis, 0, 0, words, "", None, "", AmountKnown.NOT_KNOWN, ()), None
    read = amount_or_all(act, source, asked.amount)
    if lost is not None and lost.high >= read.high:
        sentence = "More was lost than poured. Book it as a loss instead."
        raise Invalid(sentence, {"lost": sentence})
    return read, lost


def _judge_target(act: Act, target: Held) -> None:
    ageing = standing_of(act.session, target.container, target.material, act.judged_on)
    stops = [f for f in may_use(ageing, MovementKind.DECANT_IN) if f.severity.value in ("stop", "warn")]
    refuse_or_record(act, Verdict.of(stops), name_of(target))


def _new_container(act: Act, source: Held, asked: DecantAsked, chance: Chance) -> Held:
    place_for_stock(act.session, asked.place_id)
    old = source.container
    box = Container(
        code=fresh_code(act.session, chance),
        material_id=old.material_id,
        place_id=asked.place_id if asked.place_id is not None else old.place_id,
        state=ContainerState.OPEN,
        condition=Condition.SOUND,
        capacity_written=asked.capacity.strip()[:60],
        capacity_ul=_capacity(act, source, asked.capacity),
        supplier=old.supplier,
        sheet_came=old.sheet_came,
        ever_opened=True,
        made_by_batch_id=old.made_by_batch_id,
        note=f"Decanted from {show_code(old.code)}.",
        created_at=act.recorded_at,
    )
    act.session.add(box)
    act.session.flush()
    return Held(box, source.material)


def _capacity(act: Act, source: Held, text: str) -> int | None:
    """What the new container holds, in microlitres; None when not written, or written as a weight."""
    if not text.strip():
        return None
    read = read_amount(act.session, act.actor, source.material, text, "capacity")
    if read.high <= 0:
        raise Invalid("Enter what it holds.", {"capacity": "Enter what it holds, such as 500 ml."})
    return read.high if read.basis is Basis.VOLUME else None


def _pour_out(
    act: Act,
    source: Held,
    target: Held,
    read: ReadAmount,
    arrived: int | None,
    asked: DecantAsked,
    job: Job | None,
) -> int | None:
    line = Line(
        MovementKind.DECANT_OUT,
        None if arrived is None else -arrived,
        OtherSide.CONTAINER,
        known=read.known,
        written=read.written,
        written_unit=read.unit_key,
        density_used=read.density_used,
        how=read.how,
        other_text=name_of(target),
        other_container_id=target.container_id,
    )
    taking = Taking(job=job, looked=asked.looked, makes_rags=False, more_than_book=asked.more_than_book)
    return take(act, source, line, taking).id


def _lose(
    act: Act, source: Held, target: Held, lost: ReadAmount, asked: DecantAsked, job: Job | None
) -> None:
    """What ran past the funnel was wiped up: rags of the job."""
    line = Line(
        MovementKind.LOSS,
        -lost.high,
        OtherSide.LOSS,
        known=lost.known,
        written=lost.written,
        written_unit=lost.unit_key,
        density_used=lost.density_used,
        how=lost.how,
        other_text=f"lost on the way into {show_code(target.container.code)}",
        reason=asked.lost_note,
    )
    take(act, source, line, Taking(job=job, more_than_book=asked.more_than_book))


def _nothing_left(act: Act, source: Held) -> None:
    reason = "All of it was poured over; nobody knew how much it was."
    kind, sure = MovementKind.COUNT_DIFFERENCE, AmountKnown.MEASURED
    post(act, source, Line(kind, None, OtherSide.COUNT, sure, counted=0, reason=reason))


def _line_in(source: Held, read: ReadAmount, arrived: int | None) -> Line:
    return Line(
        MovementKind.DECANT_IN,
        arrived,
        OtherSide.CONTAINER,
        known=read.known,
        written=read.written,
        written_unit=read.unit_key,
        density_used=read.density_used,
        how=read.how,
        other_text=name_of(source),
        other_container_id=source.container_id,
    )
