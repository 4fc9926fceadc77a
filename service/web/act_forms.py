"""What every form about a container shares: the time question, remembered readings, refusals at hand.

A page file names its form and its action; ``run_act`` does the rest: act, flash, redirect, or the same page.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final, Literal, TypeVar

from fastapi import Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.read_amount import remember_choice
from service.actions.settle import Settled
from service.core.access import Actor
from service.core.findings import Invalid, NotFound, Refused, Verdict
from service.records.stock_queries import container_by_code, material_of
from service.web.act_view import ActView, view_for_act
from service.web.chrome import flash
from service.web.deps import Data, shop_zone
from service.web.fields import ClockText, DayText, Once, Sentence, WrittenAmount, to_instant
from service.web.forms import FormModel, Posted
from service.web.render import page
from service.web.when_done import no_time_typed

M = TypeVar("M", bound="ActForm")

_FIELD_OF: Final = {"happened_at": "happened", "reason": "late_reason", "job_id": "job", "place_id": "place"}
ANSWERABLE: Final = frozenset({"not-enough", "look-before-use", "more-than-there"})
"""Refusals that a person can answer on the very form: there was more in it; I looked and it is sound."""
_TOLD: Final = frozenset({"job-opened", "count-confirms", "count-differs", "counted-first", "load-stays"})


class ActForm(FormModel):
    """Base of every form about one container."""

    when: Literal["about", "done"] = Field(default="about", title="About to, or already done")
    happened: ClockText | None = Field(default=None, title="When it was done")
    late_reason: Sentence | None = Field(default=None, title="Why it is written only now")
    doubtful: WrittenAmount | None = None
    once: Once

    def happened_at(self, session: Session) -> datetime | None:
        """The instant that was typed, in the shop's zone; None = now.

        Raises:
            Invalid: a time the clocks skipped or showed twice, or a time beside "now".
        """
        if self.when == "about":
            no_time_typed(self.happened)
        if self.happened is None:
            return None
        try:
            return to_instant(self.happened, shop_zone(session))
        except Invalid as wrong:
            wrong.errors.setdefault("happened", wrong.sentence)
            raise

    def common(self, session: Session, code: str) -> dict[str, Any]:
        """What every asked act takes."""
        return {
            "once": self.once,
            "code": code,
            "happened_at": self.happened_at(session),
            "already_done": self.when == "done",
            "late_reason": self.late_reason or "",
        }


class BreaksSeal(ActForm):
    """A form that may break a seal, and then asks once when that was."""

    opening: Literal["today", "day", "not-known"] = Field(default="today", title="When it was first opened")
    opened_on: DayText | None = Field(default=None, title="Day it was first opened")

    def judge_opening(self, p: Posted[Any], another_day: bool | None = None) -> None:
        """Refuse another day that is not named, and a day beside an answer that says no other day."""
        wanted = self.opening == "day" if another_day is None else another_day
        if wanted and self.opened_on is None:
            p.refuse("opened_on", "Enter the day it was first opened, or say that nobody knows.")
        if not wanted and self.opened_on is not None:
            p.refuse(
                "opened_on",
                "A day is typed, and it is not ticked that it was another day. Tick it, or empty this field.",
            )


Extra = Callable[[Session, Actor, datetime, ActView], Mapping[str, Any]]
"""What an act's page needs besides the container: jobs, places."""


def _nothing_more(session: Session, actor: Actor, now: datetime, view: ActView) -> Mapping[str, Any]:
    return {}


@dataclass(frozen=True)
class Act:
    """One kind of act as a page: its template, its title, and the field an unnamed error belongs to."""

    path: str
    template: str
    title: str
    field: str = "amount"
    extra: Extra = _nothing_more


def fresh() -> str:
    """A key for a form that is shown for the first time."""
    return uuid.uuid4().hex


def show_act(
    request: Request,
    data: Data,
    now: datetime,
    actor: Actor,
    code: str,
    act: Act,
    p: Posted[Any],
    status: int = 200,
    verdict: Verdict | None = None,
) -> Response:
    """The form of an act, with the container's head above it."""
    with data.reading() as session:
        box = container_by_code(session, code)
        view = view_for_act(session, box, actor, now)
        context: dict[str, Any] = {
            "p": p,
            "view": view,
            "act": act,
            "verdict": verdict,
            "refused": verdict.codes if verdict else frozenset(),
            "clock": now.astimezone(shop_zone(session)),
            **act.extra(session, actor, now, view),
        }
    return page(request, f"containers/{act.template}", context, status, section="store")


def take_error(p: Posted[Any], error: Invalid, name: str) -> None:
    """Put an action's sentences beside the fields of the form, whatever the action calls them."""
    errors = {_FIELD_OF.get(key, key): words for key, words in error.errors.items()}
    for key, words in errors.items():
        p.refuse(key, words)
    target = next(iter(errors), name)
    if error.readings or not errors:
        p.refuse(target, error.sentence, error.readings)


def take_wrong_choice(p: Posted[Any], error: NotFound | Refused) -> bool:
    """Put a choice that is none beside its field: what is not there, or a job that is not running.

    False where the error belongs to no field of the form: it is then to be raised again.
    """
    if isinstance(error, NotFound):
        field = error.field
    else:
        field = "job" if _stops(error) == {"job-not-running"} else ""
    if field:
        p.refuse(field, error.sentence)
    return bool(field)


def _stops(no: Refused) -> set[str]:
    return {f.code for f in no.verdict if f.severity.value == "stop"}


def run_act(
    request: Request,
    data: Data,
    now: datetime,
    actor: Actor,
    code: str,
    act: Act,
    p: Posted[M],
    perform: Callable[[Session, M, dict[str, Any]], Settled],
    said: Callable[[dict[str, Any]], str],
) -> Response:
    """Do what a form asks and go to the container, or show the form again with what stands in the way."""
    form = p.value
    if form is None:
        return show_act(request, data, now, actor, code, act, p, 422)
    try:
        with data.writing() as session:
            _remember(session, actor, code, p, form)
            done = perform(session, form, form.common(session, code))
            words, number = said(done.result), done.result.get("movement")
            text = " ".join([words, *_told(done.result)])
            href = f"/movements/{number}/correct" if number else ""
            flash(session, request, text, href, "Correct this" if href else "")
            return RedirectResponse(f"/containers/{done.result['container']['code']}", 303)
    except Invalid as error:
        take_error(p, error, act.field)
        return show_act(request, data, now, actor, code, act, p, 422)
    except (NotFound, Refused) as no:
        if take_wrong_choice(p, no):
            return show_act(request, data, now, actor, code, act, p, 422)
        if isinstance(no, NotFound) or not _stops(no) <= ANSWERABLE:
            raise
        return show_act(request, data, now, actor, code, act, p, 409, no.verdict)


def _remember(session: Session, actor: Actor, code: str, p: Posted[Any], form: ActForm) -> None:
    """Keep the reading a person tapped, for this material and them."""
    if form.doubtful is None:
        return
    material = material_of(session, container_by_code(session, code))
    for name in ("amount", "before", "after", "gross", "tare", "lost", "strained"):
        chosen = p.text(name)
        if chosen:
            remember_choice(session, actor, material, form.doubtful, chosen)


def _told(result: Mapping[str, Any]) -> list[str]:
    """What is told with the answer: warnings, violations, and a few notes worth a line."""
    found = result.get("findings", [])
    return [
        f["sentence"] for f in found if f["severity"] in ("stop", "warn", "unknown") or f["code"] in _TOLD
    ]
