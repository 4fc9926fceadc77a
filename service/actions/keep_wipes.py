"""Containers of solvent wipes kept apart: begun with label and start date, ended by a laundry or a disposal.

One duty stands for each container from its first wipe to its hand-over, due at the end of its last day; both
ends stand in the rag log. No new clock is made for oily rags that lie in the same can.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from service.actions.look_at_cans import rags_in_place
from service.actions.rag_duty import record_violation
from service.actions.settle import Act, Sent, Settled, settle
from service.actions.write_rag_log import write_rag_log
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, NotFound, Refused, Severity, Verdict, stop
from service.core.materials import Unknown
from service.core.months import add_days, say_date
from service.core.wipes import (
    DAYS,
    LABEL,
    WAY_WORDS,
    WIPES_BEGUN,
    WIPES_SENT,
    WipesFacts,
    WipesWay,
    due_at,
    last_day,
    may_begin,
    may_leave,
    standing_of,
)
from service.records.duties import WIPES, Duty, open_wipes
from service.records.places import Place, PlaceKind
from service.records.rag_queries import active_keepers

CONTAINERS = frozenset({PlaceKind.RAG_CAN, PlaceKind.WASTE_DRUM, PlaceKind.OUTSIDE_DRUM})


@dataclass(frozen=True)
class BeginAsked:
    """A container in which solvent wipes are kept apart from now on, or have been since ``started_on``."""

    once: str
    place_id: int
    started_on: date
    labelled: Unknown
    sound: Unknown
    note: str = ""


@dataclass(frozen=True)
class LeaveAsked:
    """That a container of wipes left: to whom, and how it is known that no free liquid was in it."""

    once: str
    duty_id: int
    way: WipesWay
    named: str
    address: str
    no_liquid: str
    trichloroethylene: Unknown = Unknown.NOT_KNOWN
    happened_at: datetime | None = None
    late_reason: str = ""


@dataclass(frozen=True)
class WipesShown:
    """One container that stands, judged on a day."""

    duty: Duty
    place: Place
    started_on: date
    last: date
    verdict: Verdict


def begin_wipes(session: Session, actor: Actor, now: datetime, asked: BeginAsked) -> Settled:
    """Write down the start date of a container of wipes; answers ``wipes`` (its number) and ``last_day``.

    Raises:
        NotAllowed: a student or reader.
        Invalid: no such can or drum.
        Refused: not labelled, not closed and sound, a day to come, or one is kept in it already.
    """
    require(actor, Permission.CONTAIN_RAGS)
    body = {
        "place": asked.place_id, "started_on": asked.started_on.isoformat(),
        "labelled": asked.labelled.value, "sound": asked.sound.value, "note": asked.note,
    }  # fmt: skip
    return settle(session, actor, Sent(asked.once, "begin-wipes", body), now, lambda act: _begin(act, asked))


def _begin(act: Act, asked: BeginAsked) -> dict[str, Any]:
    # Locked, so that two who begin the same can see each other.
    place = act.session.get(Place, asked.place_id, with_for_update=True, populate_existing=True)
    if place is None or not place.active or place.kind not in CONTAINERS:
        words = "Choose a can or drum of the list."
        raise Invalid(words, {"place": words})
    facts = WipesFacts(place.name, asked.started_on, asked.labelled, asked.sound)
    verdict = may_begin(facts, act.day)
    if verdict.blocking:
        raise Refused(verdict)
    if open_wipes(act.session, place.id):
        words = f"Wipes are kept in {place.name} already, from an earlier day. That day goes on counting."
        raise Refused(Verdict.of([stop("wipes-begun", words, about=place.name)]))
    last = last_day(asked.started_on)
    keepers = active_keepers(act.session)
    mine = act.actor.person_id in keepers or not keepers
    duty = Duty(
        kind=WIPES,
        sentence=f"{place.name}, labelled “{LABEL}”, begun on {say_date(asked.started_on)}: it must leave by "
        f"{say_date(last)} ({DAYS} days).",
        owed_by=act.actor.person_id if mine else keepers[0],
        due_at=due_at(asked.started_on, act.zone),
        about_kind="place",
        about_id=place.id,
        created_at=act.recorded_at,
    )
    act.session.add(duty)
    act.session.flush()
    _log(act, WIPES_BEGUN, duty, {
        "place": place.id, "what": duty.sentence, "started_on": asked.started_on, "last_day": last,
        "label": LABEL, "note": asked.note.strip(),
    })  # fmt: skip
    act.note(*_judged(act.session, duty, place, act.zone, act.happened_at).verdict)
    return {"wipes": duty.id, "place": place.id, "last_day": last.isoformat()}


def send_wipes(session: Session, actor: Actor, now: datetime, asked: LeaveAsked) -> Settled:
    """The container was handed over; its 180 days end. After its last day a violation stands beside it.

    Raises:
        NotAllowed: not a keeper.
        NotFound: no such container stands.
        Refused: who took it or how it is free of liquid is not said; trichloroethylene thrown away.
    """
    require(actor, Permission.WASTE_HAND_OVER)
    body = {
        "wipes": asked.duty_id, "way": asked.way.value, "named": asked.named, "address": asked.address,
        "no_liquid": asked.no_liquid, "trichloroethylene": asked.trichloroethylene.value,
        "happened_at": asked.happened_at.isoformat() if asked.happened_at else None,
    }  # fmt: skip
    sent = Sent(asked.once, "send-wipes", body, asked.happened_at, late_reason=asked.late_reason)
    return settle(session, actor, sent, now, lambda act: _send(act, asked))


def _send(act: Act, asked: LeaveAsked) -> dict[str, Any]:
    duty = act.session.get(Duty, asked.duty_id, with_for_update=True, populate_existing=True)
    if duty is None or duty.kind != WIPES:
        raise NotFound(f"There is no container of wipes number {asked.duty_id}.")
    if duty.done_at is not None:
        raise Refused(Verdict.of([stop("wipes-gone", "This container of wipes was handed over already.")]))
    place = act.session.get_one(Place, duty.about_id)
    seen = _judged(act.session, duty, place, act.zone, act.happened_at)
    verdict = may_leave(asked.way, asked.named, asked.address, asked.no_liquid, asked.trichloroethylene)
    if act.day < seen.started_on:
        words = f"{place.name} was begun on {say_date(seen.started_on)}. Give the time it left, after that."
        verdict = Verdict.of([*verdict, stop("wipes-before-start", words)])
    if rags_in_place(act.session, place, act.recorded_at):
        words = f"Oily rags of a load lie in {place.name} too. Record first who took those."
        verdict = Verdict.of([*verdict, stop("wipes-with-oily-load", words, about=place.name)])
    if verdict.blocking:
        raise Refused(verdict)
    said = f"{place.name} went to {WAY_WORDS[asked.way]}: {asked.named.strip()}, {asked.address.strip()}"
    _log(act, WIPES_SENT, duty, {
        "place": place.id, "what": said, "way": asked.way, "named": asked.named.strip(),
        "address": asked.address.strip(), "no_liquid": asked.no_liquid.strip(), "last_day": seen.last,
        "late_reason": act.posting.late_reason if act.posting.late else "",
    })  # fmt: skip
    for finding in seen.verdict:
        if finding.severity is Severity.STOP:
            record_violation(act, finding, place.name, said=f"{said}. {finding.sentence}")
            act.note(finding)
    duty.done_at, duty.done_by, duty.answer = act.recorded_at, act.actor.person_id, said[:2000]
    act.session.add(duty)
    act.session.flush()
    return {"wipes": duty.id, "sentence": f"{said}."}


def _log(act: Act, kind: str, duty: Duty, data: dict[str, object]) -> None:
    write_rag_log(
        act.session,
        kind=kind,
        load_id=None,
        person_id=act.actor.person_id,
        posting_id=act.posting_id,
        happened_at=act.happened_at,
        recorded_at=act.recorded_at,
        data={"wipes": duty.id, **data},
    )


def started_on(duty: Duty, zone: ZoneInfo) -> date:
    """The start date behind a duty: it is due at the end of the 180th day after it."""
    # A moment before the due instant is still the last day on the wall.
    last = datetime.fromtimestamp(duty.due_at.timestamp() - 1, zone).date()
    return add_days(last, -DAYS)


def _judged(session: Session, duty: Duty, place: Place, zone: ZoneInfo, now: datetime) -> WipesShown:
    since, today = started_on(duty, zone), now.astimezone(zone).date()
    oily = bool(rags_in_place(session, place, now))
    facts = WipesFacts(place.name, since, Unknown.YES, Unknown.YES, oily)
    return WipesShown(duty, place, since, last_day(since), standing_of(facts, today))


def wipes_standing(session: Session, zone: ZoneInfo, now: datetime) -> list[WipesShown]:
    """Every container of wipes that has not left, the one due first at the top."""
    return [
        _judged(session, duty, session.get_one(Place, duty.about_id), zone, now)
        for duty in open_wipes(session)
    ]


def wipes_gone(session: Session, limit: int = 30) -> list[Duty]:
    """Containers of wipes that were handed over, the last one first."""
    query = select(Duty).where(col(Duty.kind) == WIPES, col(Duty.done_at).is_not(None))
    return list(session.exec(query.order_by(col(Duty.done_at).desc()).limit(limit)).all())
