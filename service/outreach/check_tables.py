"""Recurring checks and training as CSV, for spreadsheets and for the inspector."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from sqlmodel import Session, col, select

from service.core.training import GROUP_WORDS
from service.outreach.csv_tables import Cell
from service.records.check_queries import plan_of
from service.records.checks import CheckDone, RecurringCheck, Training
from service.records.people import Person
from service.records.places import Place

CHECKS_HEADER: Final = (
    "entry", "check", "what", "place", "how_often", "whose_word", "day", "happened_at", "recorded_at", "late",
    "late_reason", "result", "found", "done_about_it", "photo_sha256", "takes_back_entry", "by",
)  # fmt: skip
TRAINING_HEADER: Final = (
    "entry", "person", "group", "about", "topic", "day", "taught_by", "note", "takes_back_entry",
    "recorded_by", "recorded_at", "late", "late_reason",
)  # fmt: skip


def check_rows(session: Session) -> Iterator[Sequence[Cell]]:
    """Every entry of every check, the oldest first; those that take another back among them."""
    yield CHECKS_HEADER
    places = dict(session.exec(select(Place.id, Place.name)).all())
    query = (
        select(CheckDone, RecurringCheck, Person.name)
        .join(RecurringCheck, col(RecurringCheck.id) == col(CheckDone.check_id))
        .join(Person, col(Person.id) == col(CheckDone.person_id))
        .order_by(col(CheckDone.id))
    )
    for row, check, who in session.exec(query):
        yield (
            row.id, check.id, check.what, places.get(check.place_id, ""), plan_of(check).interval.words,
            check.source, row.on_day, row.happened_at, row.recorded_at, row.late, row.late_reason,
            row.result.value, row.sentence, row.done_about, row.photo_sha256 or "", row.reverses_id, who,
        )  # fmt: skip


def training_rows(session: Session) -> Iterator[Sequence[Cell]]:
    """Every entry, the oldest first; those that take another back among them."""
    yield TRAINING_HEADER
    names = dict(session.exec(select(Person.id, Person.name)).all())
    for row in session.exec(select(Training).order_by(col(Training.id))):
        yield (
            row.id, names[row.person_id], row.material_group.value, GROUP_WORDS[row.material_group],
            row.topic, row.on_day, row.taught_by, row.note, row.reverses_id, names[row.recorded_by],
            row.recorded_at, row.late, row.late_reason,
        )  # fmt: skip
