"""From a planned date to its batch: the stock check made for it, and the batch that then stands for it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from service.actions.check_mix import MixAsked, MixCheck, check_mix, keep_check
from service.actions.day_in_hand import CHECK, LINK, refuse_in_hand
from service.actions.look_at_term import look_at_term
from service.actions.note_change import note_change
from service.actions.plan_job import locked_date
from service.actions.planned_amount import amount_of
from service.actions.settle import Act, Sent, Settled, settle, the_shop
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, Stale, note, warn
from service.core.months import say_date
from service.core.stock_check import Allocation
from service.records.mixing import Batch, BatchState, KeptCheck, Recipe
from service.records.mixing_queries import the_batch, the_recipe, the_version
from service.records.plan_queries import the_date, the_planned_job
from service.records.plans import DATE_WORDS, DateState, PlannedDate, PlannedJobRow


def check_planned(session: Session, actor: Actor, now: datetime, date_id: int) -> KeptCheck:
    """The stock check for a planned date, kept; see `look_planned`."""
    return look_planned(session, actor, now, date_id)[1]


def look_planned(
    session: Session, actor: Actor, now: datetime, date_id: int
) -> tuple[MixCheck, KeptCheck]:
    """The stock check for a planned date with all it says, and as kept; a batch made from it stands for the
    date.

    Raises:
        NotAllowed, NotFound. Stale: it keeps to an older version of its recipe. Refused: it is dropped, or a
        batch stands for it.
        Invalid: the amount does not fit the recipe.
    """
    require(actor, Permission.BATCHES)
    row = the_date(session, date_id)
    planned = the_planned_job(session, row.planned_job_id)
    recipe = the_recipe(session, planned.recipe_id)
    refuse_in_hand(session, row, CHECK)
    _same_recipe(session, planned, recipe)
    # What the plan promised this day is drawn for it: else the tin that was to be used up first stays.
    prefer = _promised(session, row, planned, now)
    asked = MixAsked(planned.recipe_id, amount_of(planned), prefer=prefer, on_day=row.on_day)
    mix = check_mix(session, actor, now, asked)
    kept = keep_check(session, actor, now, mix)
    row.check_id = kept.id
    session.add(row)
    session.flush()
    return mix, kept


def _promised(
    session: Session, row: PlannedDate, planned: PlannedJobRow, now: datetime
) -> tuple[Allocation, ...]:
    """What the plan takes for this day from containers that are here."""
    today = now.astimezone(ZoneInfo(the_shop(session).time_zone)).date()
    stock = look_at_term(session, planned.term_id, today).plan.stock
    return tuple(
        Allocation(one.container_id, one.code, covered.need.material_id, one.amount, one.place)
        for covered in stock.covered
        if (covered.need.job, covered.need.on) == (planned.id, row.on_day)
        for one in covered.promises
        if one.container_id > 0
    )


def check_of_date(session: Session, date_id: int, fingerprint: str) -> KeptCheck:
    """The check that was made for a planned date.

    Raises:
        NotFound. Stale: it is dropped or started by now, another check was made for it since, or its recipe
        or the version of it is another by now.
    """
    row = the_date(session, date_id)
    if row.state is not DateState.PLANNED:
        raise Stale(f"This date is {DATE_WORDS[row.state]}. Open the plan again and look.")
    kept = session.get(KeptCheck, row.check_id) if row.check_id is not None else None
    if kept is None or kept.fingerprint != fingerprint:
        raise Stale("That is not the check of this date any more. Check the stock for it again.")
    planned = the_planned_job(session, row.planned_job_id)
    recipe = the_recipe(session, planned.recipe_id)
    _same_recipe(session, planned, recipe)
    made_by = (kept.recipe_id, kept.recipe_version_id)
    if made_by != (planned.recipe_id, the_version(session, recipe).id):
        raise Stale(f"{recipe.name} was written anew since that check. Check the stock for this date again.")
    return kept


def _same_recipe(session: Session, planned: PlannedJobRow, recipe: Recipe) -> None:
    if planned.recipe_version_id is None:
        return
    if the_version(session, recipe).id != planned.recipe_version_id:
        raise Stale(
            f"{planned.name} keeps to an older version of {recipe.name}; a batch is made by the present one. "
            "Plan it anew by the version that stands."
        )


def day_of_check(session: Session, check_id: int | None) -> date | None:
    """The planned day a check was made for; None: for none, and it is judged as of today."""
    if check_id is None:
        return None
    row = _date_of_check(session, check_id)
    return None if row is None else row.on_day


def _date_of_check(session: Session, check_id: int) -> PlannedDate | None:
    return session.exec(
        select(PlannedDate).where(
            col(PlannedDate.check_id) == check_id, col(PlannedDate.state) == DateState.PLANNED
        )
    ).first()


def batch_for_check(act: Act, check_id: int | None, batch: Batch) -> None:
    """A batch came from this check: if it was made for a planned date, the batch stands for that date."""
    if check_id is None:
        return
    row = _date_of_check(act.session, check_id)
    if row is None:
        return
    planned = the_planned_job(act.session, row.planned_job_id)
    if planned.recipe_id != batch.recipe_id:
        return
    if planned.recipe_version_id not in (None, batch.recipe_version_id):
        words = f"The batch is of another version than {planned.name} keeps to: it stands for no day of it."
        act.note(warn("made-otherwise", words))
        return
    _started(act, row, batch)


def batch_let_go(act: Act, batch: Batch) -> None:
    """A batch was released or given up: the date it stood for is planned again, and needs its materials."""
    rows = act.session.exec(
        select(PlannedDate).where(
            col(PlannedDate.batch_id) == batch.id, col(PlannedDate.state) == DateState.STARTED
        )
    ).all()
    for row in rows:
        about = ("planned-date", row.id)
        words = f"batch {batch.id} came to nothing"
        note_change(act.session, act.actor, act.recorded_at, about, "state", words, DateState.PLANNED.value)
        row.state, row.batch_id, row.check_id = DateState.PLANNED, None, None
        row.version += 1
        act.session.add(row)
        name = the_planned_job(act.session, row.planned_job_id).name
        act.note(note("planned-again", f"{name} on {say_date(row.on_day)} is planned again."))


def _started(act: Act, row: PlannedDate, batch: Batch) -> None:
    about = ("planned-date", row.id)
    words = f"batch {batch.id}"
    note_change(act.session, act.actor, act.recorded_at, about, "state", row.state.value, words)
    row.state, row.batch_id, row.version = DateState.STARTED, batch.id, row.version + 1
    act.session.add(row)
    act.session.flush()


@dataclass(frozen=True)
class LinkAsked:
    """A batch that was made for a planned date without its check."""

    once: str
    date_id: int
    batch_id: int
    version: int


def link_batch(session: Session, actor: Actor, now: datetime, asked: LinkAsked) -> Settled:
    """Say that a batch stands for a planned date.

    Raises:
        NotAllowed, NotFound. Stale: the date is another by now. Refused: it was dropped, or a batch stands
        for it. Invalid (field ``batch_id``): of another recipe, given up, or standing for another date.
    """
    require(actor, Permission.PLAN)
    body = {"date": asked.date_id, "batch": asked.batch_id, "version": asked.version}
    return settle(session, actor, Sent(asked.once, "link-batch", body), now, lambda act: _link(act, asked))


def _link(act: Act, asked: LinkAsked) -> dict[str, Any]:
    row, planned = locked_date(act, asked.date_id)
    if row.version != asked.version:
        raise Stale(f"This date is {DATE_WORDS[row.state]} by now. Open the plan again and look.")
    refuse_in_hand(act.session, row, LINK)
    batch = the_batch(act.session, asked.batch_id)
    words = ""
    if batch.recipe_id != planned.recipe_id:
        words = f"Batch {batch.id} is of another recipe."
    elif batch.state is BatchState.GIVEN_UP:
        words = f"Batch {batch.id} was given up."
    elif act.session.exec(select(PlannedDate).where(col(PlannedDate.batch_id) == batch.id)).first():
        words = f"Batch {batch.id} stands for another date already."
    if words:
        raise Invalid(words, {"batch_id": words})
    planned_for = amount_of(planned)
    if batch.wanted_written != planned_for:
        words = (
            f"Batch {batch.id} was made for {batch.wanted_written}, and {planned_for} is planned. "
            + (
                "The plan counts what more is planned as needed until the batch is finished."
                if batch.state is not BatchState.FINISHED
                else "Until the day is over, the plan counts as needed what the batch did not make of it."
            )
        )
        act.note(warn("made-otherwise", words))
    if planned.recipe_version_id not in (None, batch.recipe_version_id):
        words = (
            f"Batch {batch.id} is of another version than {planned.name} keeps to. The plan counts for the "
            "date what it makes."
        )
        act.note(warn("made-by-another-version", words))
    _started(act, row, batch)
    return {"date": row.id, "planned": planned.id, "batch": batch.id, "state": row.state.value}
