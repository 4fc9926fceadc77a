"""Changing what is planned: a job for more people or by another recipe, or a day put on another."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from sqlmodel import Session

from service.actions.ask_amount import judge_amount
from service.actions.day_in_hand import MOVE, refuse_in_hand
from service.actions.note_change import note_change
from service.actions.plan_job import judge_job, locked_date
from service.actions.settle import Act, Sent, Settled, settle
from service.actions.waiting_batches import batches_made_for_less
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, Stale
from service.core.months import say_date
from service.core.term_dates import Repeat, about_past, dates_of
from service.records.mixing import RecipeVersion
from service.records.mixing_queries import the_recipe, the_version
from service.records.plan_queries import calendar_of, dates_of_job, the_planned_job, the_term
from service.records.plans import DATE_WORDS, DateState, PlannedJobRow


class WhichVersion(StrEnum):
    """By which version of its recipe a job is planned."""

    AS_KEPT = "as-kept"
    FOLLOW = "follow"
    NOW = "now"


@dataclass(frozen=True, kw_only=True)
class JobChange:
    """A planned job as it is to be; fields as in `JobAsked`. ``version`` as it was read.

    ``which``: by the version it keeps to already (AS_KEPT; one that keeps to none follows its recipe), as the
    recipe stands later (FOLLOW), or by the version that stands now (NOW).
    """

    once: str
    planned_id: int
    version: int
    recipe_id: int
    name: str
    heads: int
    each: str
    spare_percent: int = 0
    which: WhichVersion = WhichVersion.AS_KEPT
    meant: bool = False

    def body(self) -> dict[str, Any]:
        return {
            "planned": self.planned_id,
            "version": self.version,
            "recipe": self.recipe_id,
            "name": self.name,
            "heads": self.heads,
            "each": self.each,
            "spare_percent": self.spare_percent,
            "which": self.which.value,
            **({"meant": True} if self.meant else {}),
        }


def change_job(session: Session, actor: Actor, now: datetime, asked: JobChange) -> Settled:
    """Change a planned job; days that stand are planned so from now on, batches stay as they were made.

    A stock check that was made for a day before is not for it any more.

    Raises:
        NotAllowed: a student or reader asked. NotFound: no such job or recipe. Stale: it is another by now.
        Ambiguous, Invalid: as for a new one; (``recipe_id``) a batch was made for it by the recipe it has;
            (``which``) it cannot keep to a version of a recipe that it was not planned by.
    """
    require(actor, Permission.PLAN)
    sent = Sent(asked.once, "change-planned-job", asked.body())
    return settle(session, actor, sent, now, lambda act: _change(act, asked))


def _change(act: Act, asked: JobChange) -> dict[str, Any]:
    row = the_planned_job(act.session, asked.planned_id)
    the_term(act.session, row.term_id, lock=True)
    act.session.refresh(row)
    if row.version != asked.version:
        raise Stale(f"Somebody else changed the job {row.name}. Open it again and compare.")
    recipe = the_recipe(act.session, asked.recipe_id)
    dates = dates_of_job(act.session, asked.planned_id)
    other = recipe.id != row.recipe_id
    if other and any(one.state is DateState.STARTED for one in dates):
        words = "A batch was made for it by its recipe. Drop the days that are left and plan another job."
        raise Invalid(words, {"recipe_id": words})
    each = judge_job(act.session, asked.name, asked.heads, asked.spare_percent, asked.each)
    kept = _version_of(act, asked, row)
    version = None if kept is None else act.session.get(RecipeVersion, kept)
    judge_amount(
        act.session, version or the_version(act.session, recipe), asked.heads, asked.spare_percent, each,
        meant=asked.meant,
    )  # fmt: skip
    after: dict[str, Any] = {
        "name": " ".join(asked.name.split()),
        "recipe_id": recipe.id,
        "recipe_version_id": kept,
        "heads": asked.heads,
        "each_written": each.written[:200],
        "each_amount": each.amount,
        "each_basis": each.basis,
        "each_times": each.times,
        "spare_percent": asked.spare_percent,
    }
    about = ("planned-job", row.id)
    for name, value in after.items():
        note_change(act.session, act.actor, act.recorded_at, about, name, getattr(row, name), value)
        setattr(row, name, value)
    row.version += 1
    act.session.add(row)
    standing = [one for one in dates if one.state is DateState.PLANNED]
    for one in standing:
        # A batch from a check for the old amounts would else stand for a day that needs more.
        one.check_id = None
        act.session.add(one)
    act.session.flush()
    act.note(*batches_made_for_less(act.session, row.term_id, row.id or 0, act.day))
    return {
        "planned": row.id, "term": row.term_id, "name": row.name, "version": row.version,
        "dates": [one.on_day.isoformat() for one in standing],
    }  # fmt: skip


def _version_of(act: Act, asked: JobChange, row: PlannedJobRow) -> int | None:
    if asked.which is WhichVersion.FOLLOW:
        return None
    if asked.which is WhichVersion.NOW:
        return the_version(act.session, the_recipe(act.session, asked.recipe_id)).id
    if row.recipe_version_id is not None and row.recipe_id != asked.recipe_id:
        words = "It kept to a version of another recipe. Say by which version it is planned now."
        raise Invalid(words, {"which": words})
    return row.recipe_version_id


@dataclass(frozen=True)
class MoveAsked:
    """A date put on another day; ``version`` as the page showed it."""

    once: str
    date_id: int
    version: int
    day: date


def move_date(session: Session, actor: Actor, now: datetime, asked: MoveAsked) -> Settled:
    """Put a date that stands on another day of its term; one that is free or gone is kept, with a warning.

    Raises:
        NotAllowed, NotFound. Stale: it is another by now. Refused: it was dropped, or a batch stands for it.
        Invalid (field ``to``): not in the term, or its job stands on that day already.
    """
    require(actor, Permission.PLAN)
    body = {"date": asked.date_id, "version": asked.version, "day": asked.day.isoformat()}
    return settle(session, actor, Sent(asked.once, "move-date", body), now, lambda act: _move(act, asked))


def _move(act: Act, asked: MoveAsked) -> dict[str, Any]:
    row, planned = locked_date(act, asked.date_id)
    if row.version != asked.version:
        raise Stale(f"This date is {DATE_WORDS[row.state]} by now. Open the plan again and look.")
    refuse_in_hand(act.session, row, MOVE)
    term = the_term(act.session, planned.term_id)
    try:
        laid = dates_of(calendar_of(term), asked.day, Repeat.ONCE)
    except Invalid as wrong:
        raise Invalid(wrong.sentence, {"to": wrong.sentence}) from wrong
    if any(one.on_day == asked.day for one in dates_of_job(act.session, planned.id or 0)):
        words = f"{say_date(asked.day)} stands in this job already."
        raise Invalid(words, {"to": words})
    about = ("planned-date", row.id)
    note_change(act.session, act.actor, act.recorded_at, about, "on", row.on_day, asked.day)
    # What was in date or there on the old day may not be so on the new one.
    row.on_day, row.check_id, row.version = asked.day, None, row.version + 1
    act.session.add(row)
    act.session.flush()
    act.note(*laid.verdict, *about_past([asked.day], act.judged_on))
    return {"date": row.id, "planned": planned.id, "on": asked.day.isoformat(), "state": row.state.value}
