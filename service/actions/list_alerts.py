"""What wants attention now and in the next days: containers, missing facts, duties, rags; worst first.

The list only reads. It finds containers by their stored standing and by the stored day on which that changes
next, and judges anew what is in trouble or whose day has come: a standing that changed overnight is found
without anybody having written it down. `sweep` writes it down and moves the stored day forward; the command
`umberkeep alerts` calls it, and a shop that never does only finds a container by the older of the two marks.
A page that looks never has to wait for the one writer.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from typing import Final
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from service.actions.due_checks import PUT_RIGHT, due_checks
from service.actions.look_at_drums import drums_due
from service.actions.orders_to_place import orders_to_place
from service.actions.settle import the_shop
from service.core.access import Role
from service.core.ageing import NO_POLICY, PEROXIDES, Ageing, judge
from service.core.alerts import (
    SOON_DAYS,
    Alert,
    ContainerFact,
    DutyFact,
    MissingFact,
    Owner,
    alerts,
)
from service.core.conditions import all_found_in_words, found_in_words
from service.core.containers import Standing
from service.core.findings import Finding, Severity
from service.core.material_facts import MaterialFacts, review
from service.core.months import add_days
from service.core.shop_days import due_day
from service.core.warning_words import by_the_clock
from service.records.ageing_queries import lives_of_rows
from service.records.attention_queries import (
    changing_soon,
    count_changing,
    lacking_materials,
    wanting_attention,
)
from service.records.check_queries import FAILED_CHECK
from service.records.duties import TOLD_BY_SOMEBODY, Duty
from service.records.handed_over import handed_words, holder
from service.records.material_queries import facts_of_all
from service.records.owners import Here, owners_of, who_is_here
from service.records.people import Person
from service.records.places import Place
from service.records.rag_queries import JudgedLoad, standing_loads
from service.records.settle_dates import overdue_to_settle, settle_all_dates

MOST_DAYS: Final = 366
MISSING_WORDS: Final = {
    "self-heating-not-known": "whether its rags can heat by themselves",
    "flash-point-not-known": "the flash point",
    "classes-not-known": "the hazard class",
    "sheet-not-known": "the safety data sheet",
    "ageing-policy-not-known": "how long it keeps",
}
"""The missing facts that hold up daily work; the others stand on the material's own page."""
_LEAVE_IT: Final = "Do not open, shake or carry it about before you read its page: it can hold peroxides."
_MARKS: Final = {
    Severity.STOP: "STOP", Severity.UNKNOWN: "NOT KNOWN", Severity.WARN: "LOOK", Severity.NOTE: "SOON"
}


def list_alerts(
    session: Session, now: datetime, days: int = SOON_DAYS, *, soon_at_most: int | None = None,
    reach: Iterable[Finding] = (),
) -> list[Alert]:
    """All alerts of the shop's day and of the next ``days`` days (0 to 366), worst first.

    Args:
        reach: what keeps warnings from reaching people (`manage_channels.reach_findings`).
        soon_at_most: so many of the containers that only change soon, the first of them; they stand last.

    Raises:
        Invalid: the shop has not been set up.
    """
    zone = ZoneInfo(the_shop(session).time_zone)
    today, days = now.astimezone(zone).date(), max(0, min(days, MOST_DAYS))
    here = who_is_here(session, today)
    keepers = keepers_among(here)
    return alerts(
        _containers(session, today, days, (here, keepers), soon_at_most),
        _missing(session, zone, keepers),
        [
            *_duties(session, now, zone),
            *_loads(standing_loads(session, now), zone),
            *due_checks(session, today, (here, keepers)),
            *drums_due(session, today, keepers),
        ],
        today=today,
        days=days,
        reach=reach,
        keepers=keepers,
        orders=orders_to_place(session, today, here, keepers),
    )


def count_soon(session: Session, now: datetime, days: int) -> int:
    """How many containers in date change their standing in the next ``days`` days."""
    today = now.astimezone(ZoneInfo(the_shop(session).time_zone)).date()
    return count_changing(session, today, add_days(today, max(0, min(days, MOST_DAYS))))


def sweep(session: Session, now: datetime) -> int:
    """Write down what has changed its standing by itself; the next day of change moves forward.

    Harmless to repeat and not needed for the list to be right. Returns how many were settled anew.
    """
    today = now.astimezone(ZoneInfo(the_shop(session).time_zone)).date()
    due = overdue_to_settle(session, today)
    settle_all_dates(session, due, today)
    session.flush()
    return len(due)


def lines(
    session: Session, now: datetime, days: int = SOON_DAYS, reach: Iterable[Finding] = ()
) -> list[str]:
    """The alerts as the command prints them, one each: mark, due day, sentence, what to do, who."""
    found = list_alerts(session, now, days, reach=reach)
    if not found:
        return [f"Nothing wants attention in the next {days} days."]
    return [
        f"{_MARKS[one.severity]}\t{one.due.isoformat()}\t{one.sentence} {one.what_to_do}"
        + (f"\t{one.owner}" if one.owner else "")
        for one in found
    ]


def report(session: Session, now: datetime, days: int = SOON_DAYS) -> str:
    """`lines` as one text."""
    return "\n".join(lines(session, now, days))


def keepers_among(here: dict[int, Here]) -> Owner:
    """Who sees to what has no other owner: the keepers, up to three of them by name."""
    keepers = [one for one in here.values() if one.role is Role.KEEPER]
    words = ", ".join(one.name for one in keepers) if 0 < len(keepers) <= 3 else "the keepers"
    return Owner(words, tuple(one.id for one in keepers))


def _containers(
    session: Session, today: date, days: int, who: tuple[dict[int, Here], Owner], most: int | None
) -> list[ContainerFact]:
    here, keepers = who
    boxes = wanting_attention(session, today)
    soon = changing_soon(session, today, add_days(today, days), most)
    places = _places(session, [*(box.place_id for box in boxes), *(one.place_id for one in soon)])
    opened = [*((box.id, box.ever_opened) for box in boxes), *((one.id, one.ever_opened) for one in soon)]
    owners = {box: Owner(one.name, (one.id,)) for box, one in owners_of(session, opened, here).items()}
    nowhere = [*(box.id for box in boxes if not box.place_id), *(one.id for one in soon if not one.place_id)]
    out = handed_words(session, nowhere)
    for number, words in out.items():
        owners[number] = _with_holder(owners.get(number, keepers), holder(words, here.values()))
    found = []
    for box, life in zip(boxes, lives_of_rows(session, boxes), strict=True):
        ageing = judge(life, today)
        reason = ageing.because[0].sentence if ageing.standing is Standing.NOT_KNOWN else ""
        if any(f.code in (PEROXIDES, "may-hold-peroxides") for f in ageing.verdict):
            reason = _LEAVE_IT
        elif ageing.standing is Standing.PAST:
            # A doubt beside the end says nothing that counts any more: it is set apart all the same.
            reason = found_in_words(ageing.ended) if ageing.ended is not None else _why_past(ageing)
        elif ageing.doubts:
            # Of one that is not known this says more than which date is missing.
            reason = all_found_in_words(ageing.doubts)
        where, owner = out.get(box.id, places.get(box.place_id or 0, "")), owners.get(box.id, keepers)
        found.append(
            ContainerFact(
                box.code, box.name, ageing.standing, ageing.in_date_until, ageing.warn_from, reason,
                where, owner.words, owner.people, leave=reason == _LEAVE_IT, doubted=bool(ageing.doubts),
                may_be_checked=ageing.may_be_checked,
                lacks_policy=box.material_id if reason == NO_POLICY else None,
            )
        )
    for one in soon:
        where, owner = out.get(one.id, places.get(one.place_id or 0, "")), owners.get(one.id, keepers)
        found.append(
            ContainerFact(
                one.code, one.name, Standing.IN_DATE, one.in_date_until, one.on, place=where,
                owner=owner.words, people=owner.people,
            )
        )
    return found


def _why_past(ageing: Ageing) -> str:
    """What ended it that does not stand on the container itself: something that went into it."""
    inherited = (one for one in ageing.because if one.code == "inherited" and one.on == ageing.at_latest)
    return next((one.sentence for one in inherited), "")


def _with_holder(owner: Owner, with_whom: Here | None) -> Owner:
    """Who sees to it, and who has it in their hands: a keeper alone cannot take it from the shelf."""
    if with_whom is None or with_whom.id in owner.people:
        return owner
    return Owner(f"{with_whom.name}, {owner.words}", (with_whom.id, *owner.people))


def _places(session: Session, numbers: Iterable[int | None]) -> dict[int, str]:
    wanted = sorted({number for number in numbers if number is not None})
    rows = session.exec(select(Place.id, Place.name).where(col(Place.id).in_(wanted))).all()
    return {number: name for number, name in rows if number is not None}


def _missing(session: Session, zone: ZoneInfo, keepers: Owner) -> list[MissingFact]:
    found = []
    materials = lacking_materials(session)
    for material, facts in zip(materials, facts_of_all(session, materials), strict=True):
        lacks = _lacks(facts)
        if lacks:
            what = lacks[0] if len(lacks) == 1 else f"{', '.join(lacks[:-1])} and {lacks[-1]}"
            since = material.created_at.astimezone(zone).date()
            do = "Read the sheet or the can, or ask the supplier, and write it down."
            found.append(
                MissingFact(
                    material.name, what, since, do, keepers.words, f"material {material.id}",
                    several=len(lacks) > 1, people=keepers.people,
                )
            )
    return found


def _lacks(facts: MaterialFacts) -> list[str]:
    codes = review(facts).codes
    return [words for code, words in MISSING_WORDS.items() if code in codes]


_ANSWER = "Make sure that it is safe now; then write down what was done about it."


def _duties(session: Session, now: datetime, zone: ZoneInfo) -> list[DutyFact]:
    rows = session.exec(
        select(Duty, Person)
        .join(Person, col(Person.id) == col(Duty.owed_by))
        .where(col(Duty.done_at).is_(None))
        .order_by(col(Duty.due_at), col(Duty.id))
    ).all()
    return [
        DutyFact(
            duty.sentence, due_day(duty.due_at, zone), duty.about_kind or duty.kind, person.name,
            overdue=duty.due_at < now, ref=f"duty {duty.id}", people=(duty.owed_by,),
            what_to_do=_what_is_owed(duty), promised=duty.kind == TOLD_BY_SOMEBODY,
        )
        for duty, person in rows
    ]


def _what_is_owed(duty: Duty) -> str:
    if duty.kind == FAILED_CHECK:
        return PUT_RIGHT
    return _ANSWER if duty.keeper_answers else DutyFact.what_to_do


def _loads(loads: Iterable[JudgedLoad], zone: ZoneInfo) -> list[DutyFact]:
    found = []
    for load in loads:
        if load.state.remove_met and not load.judgement.blocks:
            continue  # it waits in the outside drum; its collection is a duty of its own
        late = load.judgement.past_contain
        by = load.judgement.load.contain_by if late else load.row.remove_by
        found.append(
            DutyFact(
                by_the_clock(load.judgement, zone), by.astimezone(zone).date(), load.judgement.load.name,
                load.owner.name, overdue=load.judgement.blocks, what_to_do=_what_to_do(load),
                ref=f"rag-load {load.load_id}", people=(load.row.owed_by,),
            )
        )
    return found


def _what_to_do(load: JudgedLoad) -> str:
    if load.judgement.blocks:
        return "Until it is recorded nothing that heats itself is drawn or opened."
    if load.state.contained:
        return "Have them taken out of the building and record who took them."
    return "Put them away when the use ends, and record it."
