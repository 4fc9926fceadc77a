"""The section of the inspection pack about what was let through on somebody's word: limits and mixtures.

A keeper may take something in over a storage limit, and what is otherwise never put together may meet where
somebody wrote how its condition is met. Overrides of the rag block have a section of their own.
"""

from __future__ import annotations

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


def on_somebodys_word(session: Session, zone: ZoneInfo) -> Section:
    """Each such act, the oldest first."""
    people = dict(session.exec(select(Person.id, Person.name)).all())
    rows = [*_over_limits(session, people, zone), *_confirmed(session, people)]
    rows.sort(key=lambda row: row[0])
    said = (
        "Taken in, moved or filled over a storage limit, on a keeper's word or because it had happened; and "
        "conditions of what is otherwise never put together that somebody confirmed in writing.",
    )
    return Section("on-somebodys-word", "Let through on somebody's word", _HEADER, tuple(rows), said)


def _over_limits(
    session: Session, people: dict[int | None, str], zone: ZoneInfo
) -> list[tuple[Any, ...]]:
    query = select(Duty).where(col(Duty.kind) == MOVE_DUTY).order_by(col(Duty.id))
    return [
        (
            one.created_at, people.get(one.owed_by, _NOBODY), "over a storage limit", one.sentence,
            "no" if one.done_at is None else f"{one.done_at.astimezone(zone):%Y-%m-%d}: {one.answer}",
        )
        for one in session.exec(query)
    ]  # fmt: skip


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
