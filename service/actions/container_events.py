"""What happens to a container and changes no amount: opened, closed, moved, checked, relabelled, emptied."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from sqlmodel import Session

from service.actions.container_act import (
    ContainerAsked,
    check_opening_day,
    settle_container_act,
)
from service.actions.gate import Taking, gate, peroxide_stops
from service.actions.post_movement import EventFacts, name_of, record_event
from service.actions.rag_duty import blocked_by, refuse_or_record
from service.actions.settle import Act, Settled
from service.actions.stands_in import place_for_stock
from service.actions.store_gate import Change, judge_change, refuse_or_owe
from service.core.access import Actor, Permission, require
from service.core.containers import EventKind
from service.core.findings import Invalid, Refused, Verdict, warn
from service.core.ledger import fold, may_call_empty
from service.core.months import say_date
from service.records.job_queries import the_job
from service.records.material_queries import counts_self_heating
from service.records.places import Place, PlaceKind
from service.records.stock_queries import Held, lines_of, place_chain
from service.records.store_in_use import last_places


@dataclass(frozen=True, kw_only=True)
class OpenAsked(ContainerAsked):
    """An opening. For the first one a day may be given, or that nobody knows it; neither: the day of the act.

    ``found_out``: the day of a first opening that was not known until now.
    """

    opened_on: date | None = None
    not_known: bool = False
    found_out: bool = False
    job_id: int | None = None


def open_container(session: Session, actor: Actor, now: datetime, asked: OpenAsked) -> Settled:
    """Book that the lid is lifted, or the day it first was.

    Raises:
        Refused: it holds something self-heating and rags are overdue; or its state does not allow it.
        Invalid: the day has not come yet, or is later than the day it was already seen open.
    """
    require(actor, Permission.OPEN)
    return settle_container_act(
        session, actor, now, asked, "open", lambda act, held: _open(act, held, asked)
    )


def _open(act: Act, held: Held, asked: OpenAsked) -> dict[str, Any]:
    container = held.container
    job = the_job(act.session, asked.job_id) if asked.job_id is not None else None
    check_opening_day(act, asked.opened_on)
    if asked.found_out:
        return _found_out(act, held, asked)
    refuse_or_record(act, gate(act, held, EventKind.OPENED, Taking(job=job)), name_of(held))
    first = not container.ever_opened
    day = None if first and asked.not_known else (asked.opened_on or act.day)
    if day is not None and (first or asked.opened_on is not None):
        _say_if_before(act, held, day)
    event = record_event(act, held, EventKind.OPENED, EventFacts(day, job=job))
    return {"event": event.id, "first": first, "opened_on": day.isoformat() if day else None}


def _say_if_before(act: Act, held: Held, day: date) -> None:
    """An earlier opening is believed, for it is the stricter one; that it fits no other date is said."""
    box = held.container
    if box.packed_on is not None and day < box.packed_on:
        words = (
            f"By the book it was packed on {say_date(box.packed_on)}, after the day you gave. One of them is "
            "wrong: until it is put right its dates are not known."
        )
        act.note(warn("opened-before-packed", words))
    elif box.received_on is not None and day < box.received_on:
        words = (
            f"It came in on {say_date(box.received_on)}, after the day you gave. The earlier opening counts; "
            "if it came sealed, put the day right."
        )
        act.note(warn("opened-before-it-came", words))


def _found_out(act: Act, held: Held, asked: OpenAsked) -> dict[str, Any]:
    container = held.container
    if not container.ever_opened:
        sentence = "It is sealed by the book. Open it, and say then when it was first opened."
        raise Invalid(sentence, {"opened_on": sentence})
    if asked.opened_on is None:
        sentence = "Enter the day it was first opened."
        raise Invalid(sentence, {"opened_on": sentence})
    latest = container.opened_on or container.opened_by
    if latest is not None and asked.opened_on > latest:
        sentence = "It was open before that day already, by the book. Only an earlier day can be found out."
        raise Invalid(sentence, {"opened_on": sentence})
    _say_if_before(act, held, asked.opened_on)
    facts = EventFacts(asked.opened_on, note="the day of its first opening was found out", found_out=True)
    event = record_event(act, held, EventKind.OPENED, facts)
    return {"event": event.id, "first": True, "opened_on": asked.opened_on.isoformat()}


@dataclass(frozen=True, kw_only=True)
class NotedAsked(ContainerAsked):
    """An event that needs nothing but, perhaps, a note."""

    note: str = ""


def close_container(session: Session, actor: Actor, now: datetime, asked: NotedAsked) -> Settled:
    """Book that the lid is on again. Refused for what is not open."""
    require(actor, Permission.OPEN)
    return _plain_event(session, actor, now, asked, EventKind.CLOSED)


def relabel(session: Session, actor: Actor, now: datetime, asked: NotedAsked) -> Settled:
    """Book that it got a new label with the same code."""
    require(actor, Permission.PRINT_LABELS)
    return _plain_event(session, actor, now, asked, EventKind.RELABELLED)


def vapour_free(session: Session, actor: Actor, now: datetime, asked: NotedAsked) -> Settled:
    """Book that an empty container holds no vapour any more: its storage rules end. Refused unless empty."""
    require(actor, Permission.CHECK)
    return _plain_event(session, actor, now, asked, EventKind.VAPOUR_FREE)


def call_empty(session: Session, actor: Actor, now: datetime, asked: NotedAsked) -> Settled:
    """Book that it is empty; only where the book says nothing is left in it.

    Raises:
        Refused: the book says something is in it; count it as nothing, or book where the rest went.
    """
    require(actor, Permission.CHECK)

    def judge(act: Act, held: Held) -> None:
        verdict = may_call_empty(fold(lines_of(act.session, held.container_id)))
        if verdict.blocking:
            raise Refused(verdict)

    return _plain_event(session, actor, now, asked, EventKind.EMPTIED, judge)


def _plain_event(
    session: Session, actor: Actor, now: datetime, asked: NotedAsked, kind: EventKind, judge: Any = None
) -> Settled:
    def perform(act: Act, held: Held) -> dict[str, Any]:
        if judge is not None:
            judge(act, held)
        event = record_event(act, held, kind, EventFacts(act.day, note=asked.note))
        return {"event": event.id}

    return settle_container_act(session, actor, now, asked, kind.value, perform)


WORK_PLACES: Final = frozenset(
    {PlaceKind.BENCH, PlaceKind.KIT, PlaceKind.VEHICLE, PlaceKind.CUSTOMER_SITE}
)
"""Where material is about to be used: nothing self-heating goes there while rags are overdue."""


@dataclass(frozen=True, kw_only=True)
class MoveAsked(ContainerAsked):
    """A move to a place of the shop, or out of the house with ``handed_to``."""

    place_id: int | None = None
    handed_to: str = ""
    job_id: int | None = None
    note: str = ""


def move(session: Session, actor: Actor, now: datetime, asked: MoveAsked) -> Settled:
    """Book where it stands now.

    Raises:
        Refused: it holds something self-heating, rags are overdue, and it would go where work is done or out
            of the house. To a cabinet, a shelf or outdoors it may go all the same. Or it would bring a place
            over a storage limit; a move that has happened is recorded, and owes another.
        Invalid: no place, or one that takes no containers.
    """
    require(actor, Permission.MOVE)
    return settle_container_act(
        session, actor, now, asked, "move", lambda act, held: _move(act, held, asked)
    )


def _move(act: Act, held: Held, asked: MoveAsked) -> dict[str, Any]:
    place = _place_for(act, held, asked)
    refuse_or_record(act, Verdict.of(peroxide_stops(act, held)), name_of(held))
    job = the_job(act.session, asked.job_id) if asked.job_id is not None else None
    if _to_work(act, place) and counts_self_heating(act.session, held.material, held.container):
        refuse_or_record(act, blocked_by(act.session, act.judged_at), name_of(held))
    words = f"handed to {asked.handed_to.strip()}" if place is None else ""
    facts = EventFacts(
        act.day,
        to_place_id=place.id if place else None,
        job=job,
        note="; ".join(part for part in (words, asked.note.strip()) if part),
    )
    before = held.container.place_id
    if before is None:
        before = last_places(act.session, {held.container_id}).get(held.container_id)
    event = record_event(act, held, EventKind.MOVED, facts)
    if place is not None:
        change = Change(moved_from={held.container_id: before})
        refuse_or_owe(act, judge_change(act.session, change), [held.container], held.material.name)
    return {"event": event.id, "place": place.name if place else None, "handed_to": asked.handed_to or None}


def _place_for(act: Act, held: Held, asked: MoveAsked) -> Place | None:
    if asked.place_id is None:
        if not asked.handed_to.strip():
            sentence = "Say where it goes: a place, or whom it is handed to."
            raise Invalid(sentence, {"place_id": sentence})
        return None
    place = place_for_stock(act.session, asked.place_id)
    assert place is not None
    if place.id == held.container.place_id:
        raise Invalid("It is there already.", {"place_id": f"It is in {place.name} already."})
    return place


def _to_work(act: Act, place: Place | None) -> bool:
    """Handed out, a work place, or something inside one (a shelf in the van)."""
    return place is None or any(one.kind in WORK_PLACES for one in place_chain(act.session, place))
