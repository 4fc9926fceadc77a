"""`/rags`: where the oily rags are, what is owed, and writing down what was done, one question at a time."""

import uuid
from datetime import datetime, timedelta
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.give_rags import give_to
from service.actions.handle_rags import StepAsked, add_step, count_rags
from service.core.access import Actor, Permission, may
from service.core.findings import Invalid, Refused, Verdict
from service.core.rag_steps import CONTAINING, can_faults
from service.core.rags import RagStep, Removal, RemovalHow, Water
from service.records.job_queries import is_in_job, people_of
from service.records.rag_queries import (
    JudgedLoad,
    ended_loads,
    judged,
    log_rows,
    receptacle_of,
    standing_loads,
    the_load,
)
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.closing_rags import into_the_drum
from service.web.deps import Data, Now, shop_zone
from service.web.fields import ClockText, DayText, Id, Name, Note, Once, Sentence, Whole, to_instant
from service.web.forms import FormModel, Posted, filled, posted
from service.web.rag_notice import book_now
from service.web.rag_words import (
    STEPS,
    WATER,
    because,
    cans_for,
    draw_choices,
    how_choices,
    log_lines,
    may_see,
    require_seen,
    shown,
    steps_for,
)
from service.web.render import page
from service.web.when_done import no_time_typed
from service.web.who_can import people_who

router = APIRouter(prefix="/rags", include_in_schema=False)

LOG_COLUMNS = [
    {"key": "number", "label": "No.", "number": True},
    {"key": "what", "label": "What"},
    {"key": "who", "label": "Written by"},
    {"key": "when", "label": "When"},
]


class StepForm(FormModel):
    """Everything a step may say; which of it is asked depends on the step."""

    step: RagStep = Field(title="What was done")
    can: Id | None = Field(default=None, title="Where")
    water: Water | None = Field(default=None, title="Under water")
    how: RemovalHow | None = Field(default=None, title="Who took them")
    named: Name | None = Field(default=None, title="Name")
    permit: Name | None = Field(default=None, title="Permit number")
    covers: list[Name] = Field(default=[], title="Draws that left no rags")
    count: Whole | None = Field(default=None, title="How many pieces")
    mass: Name | None = Field(default=None, title="Mass")
    collected_on: DayText | None = Field(default=None, title="Collection day")
    witness: Name | None = Field(default=None, title="Who saw it")
    note: Note = Field(default="", title="Remark")
    when: Literal["now", "earlier"] = Field(default="now", title="When")
    happened: ClockText | None = Field(default=None, title="When it was done")
    reason: Sentence | None = Field(default=None, title="Why it is written only now")
    once: Once

    def asked(self, loads: tuple[int, ...], zone: ZoneInfo) -> StepAsked:
        """What the action is asked.

        Raises:
            Invalid: "earlier" without a time, a time beside "now", or one the clocks skipped.
        """
        happened: datetime | None = None
        if self.when == "now":
            no_time_typed(self.happened)
        if self.when == "earlier":
            if self.happened is None:
                words = "Enter when it was done, like 25 Nov 2026 14:05."
                raise Invalid(words, {"happened": words})
            try:
                happened = to_instant(self.happened, zone)
            except Invalid as error:
                raise Invalid(error.sentence, {"happened": error.sentence}) from None
        removal = Removal(self.how, self.named or "", self.permit or "") if self.how else None
        return StepAsked(
            once=self.once, loads=loads, step=self.step, can_id=self.can, water=self.water, removal=removal,
            witness=self.witness or "", note=self.note, covers=tuple(self.covers), count=self.count,
            mass=self.mass or "", collected_on=self.collected_on, happened_at=happened,
            late_reason=self.reason or "",
        )  # fmt: skip


@router.get("")
def listing(request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """Every load that has not ended, the most urgent first, with the one button of the common case."""
    with data.reading() as session:
        at, zone = book_now(session, now), shop_zone(session)
        standing = [s for s in standing_loads(session, at) if may_see(session, actor, s)]
        ended = [s for s in ended_loads(session, at) if may_see(session, actor, s)]
        drums = into_the_drum(session, actor, standing, at)
        cards = [_card(session, actor, seen, zone.key, drums) for seen in standing]
        context = {
            "cards": cards,
            "ended": [shown(seen, zone.key) for seen in ended],
            "may_remove": may(actor.role, Permission.REMOVE_RAGS) and len(standing) > 0,
            "may_close": may(actor.role, Permission.CLOSE_DAY),
            "may_log": may(actor.role, Permission.SEE_LOGS),
            "no_can": not cans_for(session, RagStep.IN_CAN),
        }
    return page(request, "rags/list.html", context, section="rags")


def _card(
    session: Session, actor: Actor, seen: JudgedLoad, zone: str, drums: dict[int, tuple[str, str]]
) -> dict[str, Any]:
    own = is_in_job(session, seen.job, actor.person_id)
    steps = steps_for(actor, own=own, in_drum=seen.state.remove_met)
    cans = cans_for(session, RagStep.IN_CAN)
    # Only cans whose recorded facts make them one: the big button must not lead to a refusal.
    whole = [can for can in cans if not can_faults(receptacle_of(can, None))]
    quick = whole if RagStep.IN_CAN in steps and not seen.state.contained else []
    return {
        "load": shown(seen, zone), "quick": quick[:3], "more": bool(steps),
        "once": [uuid.uuid4().hex for _ in quick],
        "take": RagStep.REMOVED in steps and seen.state.contained, "drum": drums.get(seen.load_id),
    }  # fmt: skip


@router.get("/{load_id}")
def one(request: Request, data: Data, now: Now, actor: Signed, load_id: Id) -> Response:
    """One load: its clocks with reasons, what is in the log, what can be done now."""
    return _one(request, data, now, actor, load_id)


def _one(
    request: Request, data: Data, now: Now, actor: Actor, load_id: int, status: int = 200, **forms: Any
) -> Response:
    with data.reading() as session:
        at, zone = book_now(session, now), shop_zone(session)
        seen = require_seen(session, actor, judged(session, the_load(session, load_id), at))
        card = _card(session, actor, seen, zone.key, into_the_drum(session, actor, [seen], at))
        may_give = may(actor.role, Permission.GIVE_RAGS_ON) and not seen.state.ended
        context: dict[str, Any] = {
            **card,
            "job": (seen.job.name, f"/jobs/{seen.job.id}"),
            "because": because(seen),
            "violations": seen.judgement.violations,
            "findings": seen.state.findings,
            "columns": LOG_COLUMNS,
            "log": log_lines(session, log_rows(session, load_id), zone.key),
            "water": seen.state.water,
            "may_count": bool(card["more"]) and not seen.state.ended,
            "people": people_who(session, Permission.CONTAIN_RAGS) if may_give else [],
            "may_give": may_give,
            "give": filled(once=uuid.uuid4().hex),
            "count": filled(once=uuid.uuid4().hex),
        } | forms
    return page(request, "rags/load.html", context, status, section="rags")


@router.get("/{load_id}/step")
def step_page(
    request: Request, data: Data, now: Now, actor: Signed, load_id: Id,
    step: Annotated[RagStep | None, Query()] = None, can: Annotated[Id | None, Query()] = None,
) -> Response:  # fmt: skip
    """What was done; then where; then who saw it: each a page of its own."""
    p = filled(step=step.value if step else None, can=can, once=uuid.uuid4().hex, when="now")
    return _ask(request, data, now, actor, load_id, p, step, can)


def _ask(
    request: Request, data: Data, now: Now, actor: Actor, load_id: int, p: Posted[Any],
    step: RagStep | None, can: int | None, status: int = 200, refused: Verdict | None = None,
) -> Response:  # fmt: skip
    with data.reading() as session:
        at, zone = book_now(session, now), shop_zone(session)
        seen = require_seen(session, actor, judged(session, the_load(session, load_id), at))
        own = is_in_job(session, seen.job, actor.person_id)
        steps = steps_for(actor, own=own, in_drum=seen.state.remove_met)
        base = f"/rags/{load_id}/step"
        context: dict[str, Any] = {"load": shown(seen, zone.key), "base": base, "p": p, "step": step,
                                   "refused": refused}
        whole = step is not None and step in steps and (step not in CONTAINING or can is not None)
        if refused is not None and not whole:
            raise Refused(refused)
        if step is None or step not in steps:
            context["steps"] = [(s.value, *STEPS[s]) for s in steps]
            return page(request, "rags/what.html", context, status, section="rags")
        cans = cans_for(session, step) if step in CONTAINING else []
        if step in CONTAINING and can is None:
            context |= {
                "cans": cans,
                "words": STEPS[step][0],
                "may_places": may(actor.role, Permission.PROFILES),
            }
            return page(request, "rags/where.html", context, status, section="rags")
        context |= {
            "words": STEPS[step], "can": next((c for c in cans if c.id == can), None), "water": WATER,
            "asks_water": step in (RagStep.UNDER_WATER, RagStep.OUTSIDE_DRUM), "how": how_choices(),
            "draws": draw_choices(log_rows(session, load_id), seen.state.open_draws, zone.key),
            "people": [(q.name, q.name) for q in people_of(session, seen.job) if q.id != actor.person_id],
            "clock": (at - timedelta(minutes=30)).astimezone(zone), "today": at.astimezone(zone).date(),
        }  # fmt: skip
    return page(request, "rags/step.html", context, status, section="rags")


@router.post("/{load_id}/step")
def step_posted(
    request: Request, data: Data, now: Now, actor: Signed, load_id: Id,
    p: Annotated[Posted[StepForm], Depends(posted(StepForm))],
) -> Response:  # fmt: skip
    """Write the step down."""
    step = RagStep(p.text("step")) if p.text("step") in set(RagStep) else None
    can = int(p.text("can")) if p.text("can").isdigit() and len(p.text("can")) < 10 else None
    if p.value is None:
        return _ask(request, data, now, actor, load_id, p, step, can, 422)
    try:
        with data.writing() as session:
            settled = add_step(session, actor, now, p.value.asked((load_id,), shop_zone(session)))
            told = settled.result["loads"][0]
            flash(session, request, f"Written down. {told['sentence']}", f"/rags/{load_id}", "See the load")
            return RedirectResponse("/rags" if told["ended"] else f"/rags/{load_id}", 303)
    except Invalid as error:
        p.take(error)
        return _ask(request, data, now, actor, load_id, p, step, can, 422)
    except Refused as error:
        # A stopped step mostly lacks one answer: it is asked for again beside the reasons, nothing is lost.
        return _ask(request, data, now, actor, load_id, p, step, can, 409, error.verdict)


class GiveForm(FormModel):
    person: Id = Field(title="Who owes it from now on")
    reason: Sentence = Field(title="Why")
    once: Once


@router.post("/{load_id}/give")
def give(
    request: Request, data: Data, now: Now, actor: Signed, load_id: Id,
    p: Annotated[Posted[GiveForm], Depends(posted(GiveForm))],
) -> Response:  # fmt: skip
    """Another person owes it; its clocks stay."""
    if p.value is not None:
        try:
            with data.writing() as session:
                give_to(session, actor, now, load_id, p.value.person, p.value.reason, p.value.once)
                flash(session, request, "Somebody else owes this load now. Its times stay as they were.")
                return RedirectResponse(f"/rags/{load_id}", 303)
        except Invalid as error:
            p.take(error, "person")
    return _one(request, data, now, actor, load_id, 422, give=p)


class CountForm(FormModel):
    count: Whole = Field(title="How many pieces")
    once: Once


@router.post("/{load_id}/count")
def count(
    request: Request, data: Data, now: Now, actor: Signed, load_id: Id,
    p: Annotated[Posted[CountForm], Depends(posted(CountForm))],
) -> Response:  # fmt: skip
    """How many pieces there are."""
    if p.value is not None:
        try:
            with data.writing() as session:
                count_rags(session, actor, now, load_id, p.value.count, p.value.once)
                flash(session, request, f"{p.value.count} pieces counted.")
                return RedirectResponse(f"/rags/{load_id}", 303)
        except Invalid as error:
            p.take(error, "count")
    return _one(request, data, now, actor, load_id, 422, count=p)
