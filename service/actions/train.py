"""Several people were taught about some groups of materials on a day; and taking such an entry back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from service.actions.do_check import TakeBackAsked, refuse_taking_back
from service.actions.settle import Act, Sent, Settled, settle, the_shop
from service.core.access import Actor, Permission, Role, require
from service.core.findings import Invalid, NotAllowed, NotFound, Refused, Verdict, stop
from service.core.rag_deadlines import day_end
from service.core.shop_days import shop_day
from service.core.training import GROUP_WORDS, Group
from service.core.written_reason import A_SENTENCE, is_sentence
from service.records.checks import Training
from service.records.people import Person

MOST_PEOPLE: Final = 200
_EARLIEST: Final = date(1970, 1, 2)


@dataclass(frozen=True, kw_only=True)
class TrainedAsked:
    """A training that was held.

    Args:
        people: who was taught, by number, 1 to 200 different ones.
        groups: about which groups of materials, one or more.
        topic: what was taught, 3 to 300 signs.
        taught_by: the name of who taught, 1 to 120 signs.
        on: the day; None = today. An earlier day is a late entry and needs ``late_reason``.
    """

    once: str
    people: tuple[int, ...]
    groups: tuple[Group, ...]
    topic: str
    taught_by: str
    on: date | None = None
    note: str = ""
    late_reason: str = ""

    def body(self) -> dict[str, Any]:
        return {
            "people": sorted(set(self.people)), "groups": sorted(set(self.groups)), "topic": self.topic,
            "taught_by": self.taught_by, "on": self.on, "note": self.note,
        }  # fmt: skip


def train(session: Session, actor: Actor, now: datetime, asked: TrainedAsked) -> Settled:
    """Write down a training: one entry for each person and group.

    Raises:
        NotAllowed: a student or reader; a finisher who writes down their own.
        Invalid: nobody, no group, no topic, no teacher, a day to come, an earlier one without a reason.
    """
    require(actor, Permission.TRAIN)
    happened = _end_of(session, asked.on, now) if asked.on is not None else None
    sent = Sent(asked.once, "train", asked.body(), happened, late_reason=asked.late_reason)
    return settle(session, actor, sent, now, lambda act: _train(act, asked))


def _end_of(session: Session, on: date, now: datetime) -> datetime | None:
    """The end of an earlier day, or None for today: a training has a day and no minute."""
    zone = the_shop(session).time_zone
    today = shop_day(now, zone)
    if on > today or on < _EARLIEST:
        words = "This day has not come yet." if on > today else "This is too long ago."
        raise Invalid(words, {"on": words})
    if on == today:
        return None
    # From noon: a midnight may not exist on the clocks.
    noon = datetime.combine(on, time(12), ZoneInfo(zone))
    return min(day_end(noon, ZoneInfo(zone)) - timedelta(seconds=1), now).astimezone(UTC)


def _train(act: Act, asked: TrainedAsked) -> dict[str, Any]:
    topic, taught_by = " ".join(asked.topic.split()), " ".join(asked.taught_by.split())
    _judge(asked, topic, taught_by)
    today = act.recorded_at.astimezone(act.zone).date()
    on = asked.on or today
    if on < today and not is_sentence(asked.late_reason):
        words = f"It was another day: say in {A_SENTENCE} why it is written down only now."
        raise Invalid(words, {"late_reason": words})
    people = _people(act, asked)
    rows = [
        Training(
            posting_id=act.posting_id,
            person_id=person,
            material_group=group,
            topic=topic,
            on_day=on,
            taught_by=taught_by,
            note=asked.note.strip(),
            recorded_by=act.actor.person_id,
            recorded_at=act.recorded_at,
            late=on < today,
            late_reason=asked.late_reason.strip() if on < today else "",
        )
        for person in people
        for group in dict.fromkeys(asked.groups)
    ]
    act.session.add_all(rows)
    act.session.flush()
    return {"entries": [row.id for row in rows], "people": len(people), "late": on < today}


def _judge(asked: TrainedAsked, topic: str, taught_by: str) -> None:
    if not 1 <= len(set(asked.people)) <= MOST_PEOPLE:
        raise _wrong("people", f"Choose who was taught: 1 to {MOST_PEOPLE} people.")
    if not asked.groups:
        raise _wrong("groups", "Choose what it was about.")
    if not 3 <= len(topic) <= 300:
        raise _wrong("topic", "Write what was taught, in 3 to 300 signs.")
    if not 1 <= len(taught_by) <= 120:
        raise _wrong("taught_by", "Write who taught, in 1 to 120 signs.")
    if len(asked.note) > 2000:
        raise _wrong("note", "Shorten the note to 2000 signs.")


def _people(act: Act, asked: TrainedAsked) -> list[int]:
    wanted = sorted(set(asked.people))
    query = select(Person.id).where(col(Person.id).in_(wanted), ~col(Person.is_script))
    found = [number for number in act.session.exec(query.order_by(col(Person.id))) if number is not None]
    if found != wanted:
        raise _wrong("people", "Somebody of them is not in the book of people.")
    if act.actor.person_id in found and act.actor.role is not Role.KEEPER:
        raise NotAllowed("Nobody writes down their own training but a keeper. Ask a keeper.")
    return found


def _wrong(field: str, words: str) -> Invalid:
    return Invalid(words, {field: words})


def take_back_training(session: Session, actor: Actor, now: datetime, asked: TakeBackAsked) -> Settled:
    """Take one entry back with an entry that names it; nothing is edited or erased.

    Raises:
        NotAllowed, NotFound.
        Refused: not theirs, from another day, taken back already, or itself one that takes back.
    """
    require(actor, Permission.TRAIN)
    sent = Sent(asked.once, "take-back-training", {"entry": asked.entry_id, "reason": asked.reason})
    return settle(session, actor, sent, now, lambda act: _take_back(act, asked))


def _take_back(act: Act, asked: TakeBackAsked) -> dict[str, Any]:
    # The clock of the book is held, so no two of these see each other's row missing.
    entry = act.session.get(Training, asked.entry_id)
    if entry is None:
        raise NotFound(f"There is no training entry number {asked.entry_id}.")
    if len(asked.reason) > 2000:
        raise _wrong("reason", "Shorten the reason to 2000 signs.")
    refuse_taking_back(act, entry.recorded_by, entry.recorded_at, asked.reason)
    gone = select(Training.id).where(col(Training.reverses_id) == asked.entry_id)
    if entry.reverses_id is not None or act.session.exec(gone).first() is not None:
        raise Refused(Verdict.of([stop("taken-back-already", "This entry was taken back already.")]))
    back = Training(
        posting_id=act.posting_id, person_id=entry.person_id, material_group=entry.material_group,
        topic=f"Taken back: {entry.topic}"[:300], on_day=entry.on_day, taught_by=entry.taught_by,
        note=asked.reason.strip(), reverses_id=entry.id, recorded_by=act.actor.person_id,
        recorded_at=act.recorded_at,
    )  # fmt: skip
    act.session.add(back)
    act.session.flush()
    return {"entry": back.id, "person": entry.person_id, "group": GROUP_WORDS[entry.material_group]}
