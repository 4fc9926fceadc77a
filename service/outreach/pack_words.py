"""The section of the inspection pack about what was let through on somebody's word: limits and mixtures.

A keeper may take something in over a storage limit, and what is otherwise never put together may meet where
somebody wrote how its condition is met. Overrides of the rag block have a section of their own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from service.core.inspection_pack import Section
from service.core.never_with import CONFIRMED_FIELD
from service.records.duties import MOVE_DUTY, Duty
from service.records.mixing import Batch, Recipe
from service.records.people import Person
from service.records.shop import Change
from service.records.waste_drums import WasteDrum

_HEADER: Final = ("recorded", "who", "what for", "in which words", "moved since")
_NOBODY: Final = "not known"
_OVER: Final = "over a storage limit"


@dataclass(frozen=True)
class OverLimit:
    """A move that was owed at an instant; ``done_at`` None: it was not done by then."""

    at: datetime
    who: int
    words: str
    done_at: datetime | None
    answer: str

    def moved(self, zone: ZoneInfo) -> str:
        return "no" if self.done_at is None else f"{self.done_at.astimezone(zone):%Y-%m-%d}: {self.answer}"


def over_limits(session: Session, before: datetime) -> list[OverLimit]:
    """What had gone over a storage limit before an aware instant, from the book of now: of a past day the
    copied book has no duties, as they change."""
    query = select(Duty).where(col(Duty.kind) == MOVE_DUTY, col(Duty.created_at) < before)
    return [
        OverLimit(
            one.created_at, one.owed_by, one.sentence,
            one.done_at if one.done_at is not None and one.done_at < before else None, one.answer,
        )
        for one in session.exec(query.order_by(col(Duty.id)))
    ]  # fmt: skip


def on_somebodys_word(session: Session, zone: ZoneInfo, over: Sequence[OverLimit]) -> Section:
    """Each such act, the oldest first."""
    people = dict(session.exec(select(Person.id, Person.name)).all())
    moves = [(one.at, people.get(one.who, _NOBODY), _OVER, one.words, one.moved(zone)) for one in over]
    rows = [*moves, *_confirmed(session, people)]
    rows.sort(key=lambda row: row[0])
    said = (
        "Taken in, moved or filled over a storage limit, on a keeper's word or because it had happened; and "
        "conditions of what is otherwise never put together that somebody confirmed in writing.",
    )
    return Section("on-somebodys-word", "Let through on somebody's word", _HEADER, tuple(rows), said)


def _confirmed(session: Session, people: dict[int | None, str]) -> list[tuple[Any, ...]]:
    recipes = dict(
        session.exec(select(Batch.id, Recipe.name).join(Recipe, col(Recipe.id) == col(Batch.recipe_id))).all()
    )
    drums = dict(session.exec(select(WasteDrum.id, WasteDrum.name)).all())
    query = select(Change).where(col(Change.field).startswith(CONFIRMED_FIELD, autoescape=True))
    found: list[tuple[Any, ...]] = []
    for one in session.exec(query.order_by(col(Change.id))):
        if one.about_kind == "batch":
            whose = f"batch {one.about_id} ({recipes.get(one.about_id, _NOBODY)})"
        else:
            whose = f"waste drum {drums.get(one.about_id, one.about_id)}"
        about = f": {one.reason}" if one.reason else ""
        found.append((one.changed_at, people.get(one.person_id, _NOBODY), f"{whose}{about}", one.after, None))
    return found
