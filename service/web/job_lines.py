"""What a job's page lists: what was drawn for it, its batches, who was taken out of it."""

from __future__ import annotations

from typing import Any

from sqlmodel import Session, col, select

from service.core.ledger import MOVEMENT_WORDS
from service.core.shelf_codes import show_code
from service.records.job_queries import draws_of_job
from service.records.mixing import Batch, BatchState, Recipe
from service.records.people import Person
from service.records.pot_waste import nobody_said_where
from service.records.shop import Change
from service.web.render import amount, instant

DRAW_COLUMNS = [
    {"key": "what", "label": "Container"}, {"key": "kind", "label": "What"},
    {"key": "amount", "label": "Amount", "number": True}, {"key": "when", "label": "When"},
]  # fmt: skip
BATCH_STATES = {
    "set-aside": "set aside", "running": "running", "finished": "finished", "given-up": "given up"
}


def draws(session: Session, job_id: int, zone: str) -> list[dict[str, Any]]:
    """Every movement booked to the job, as table rows."""
    rows = []
    for movement, container, material in draws_of_job(session, job_id):
        change = abs(movement.change) if movement.change is not None else None
        name = f"{material.name}, {show_code(container.code)}"
        late = ["late entry"] if movement.late else []
        rows.append({
            "what": {"href": f"/C/{container.code}", "words": name},
            "kind": MOVEMENT_WORDS[movement.kind],
            "amount": amount(change, material.basis or "mass"),
            "when": {"lines": [instant(movement.happened_at, zone), *late]},
        })  # fmt: skip
    return rows


def taken_out(session: Session, job_id: int, zone: str) -> list[str]:
    """Who was taken out, by whom, when and why."""
    rows = session.exec(
        select(Change, Person)
        .join(Person, col(Person.id) == col(Change.person_id))
        .where(col(Change.about_kind) == "job", col(Change.about_id) == job_id, col(Change.field) == "person")
        .order_by(col(Change.id))
    ).all()
    return [
        f"{change.before} was taken out by {who.name}, "
        f"{instant(change.changed_at, zone)}: {change.reason}"
        for change, who in rows
    ]


def rests_open(session: Session, job_id: int) -> list[int]:
    """The batches that ended in this job and left something of which nobody said where it went."""
    ended = col(Batch.state).in_([BatchState.FINISHED, BatchState.GIVEN_UP])
    found = session.exec(select(Batch.id).where(col(Batch.job_id) == job_id, ended).order_by(col(Batch.id)))
    return [number for number in found.all() if number is not None and nobody_said_where(session, number)]


def batches(session: Session, job_id: int) -> list[tuple[int, str, str]]:
    """Number, recipe and state of each batch, the state in words."""
    rows = session.exec(
        select(Batch, Recipe)
        .join(Recipe, col(Recipe.id) == col(Batch.recipe_id))
        .where(col(Batch.job_id) == job_id)
        .order_by(col(Batch.id))
    ).all()
    return [(b.id or 0, r.name, BATCH_STATES[b.state.value]) for b, r in rows]
