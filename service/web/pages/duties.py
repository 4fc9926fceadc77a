"""`/duties`: what a person owes, and saying that it was done."""

import uuid
from collections.abc import Sequence
from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session, col, select

from service.actions.answer_duty import answer_duty, may_end_by_word
from service.core.access import Actor, Role
from service.core.containers import ContainerState
from service.core.findings import Invalid, NotFound
from service.core.shelf_codes import show_code
from service.records.check_queries import FAILED_CHECK
from service.records.duties import TOLD_BY_SOMEBODY, WIPES, Duty
from service.records.people import Person
from service.records.rag_queries import standing_loads
from service.records.stock import Container
from service.web.access_gate import Signed
from service.web.check_words import check_lines
from service.web.chrome import flash
from service.web.deps import Data, Now, shop_zone
from service.web.fields import Id, Once, Sentence
from service.web.forms import FormModel, Posted, filled, posted
from service.web.rag_notice import book_now
from service.web.rag_words import shown
from service.web.render import instant, page

router = APIRouter(include_in_schema=False)


class DoneForm(FormModel):
    answer: Sentence = Field(title="What was done about it")
    once: Once


@router.get("/duties")
def my_duties(request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """What I owe."""
    return _duties(request, data, now, actor, actor.person_id)


@router.get("/duties/{person_id}")
def duties_of(request: Request, data: Data, now: Now, actor: Signed, person_id: Id) -> Response:
    """What somebody owes; for those who see the logs. One's own stand at `/duties`."""
    return _duties(request, data, now, actor, person_id)


def _name(session: Session, person_id: int) -> str:
    person = session.get(Person, person_id)
    return person.name if person else "not known"


def _duties(request: Request, data: Data, now: Now, actor: Actor, person_id: int) -> Response:
    with data.reading() as session:
        at, zone = book_now(session, now), shop_zone(session)
        loads = [s for s in standing_loads(session, at) if s.row.owed_by == person_id]
        query = select(Duty).where(col(Duty.owed_by) == person_id, col(Duty.done_at).is_(None))
        rows = session.exec(query.order_by(col(Duty.due_at), col(Duty.id)).limit(200)).all()
        codes = codes_of(session, rows)
        context = {
            "name": _name(session, person_id), "mine": person_id == actor.person_id,
            "loads": [shown(seen, zone.key) for seen in loads],
            "duties": [
                *(duty_line(d, at, zone.key, codes.get(d.about_id, "")) for d in rows),
                *check_lines(session, person_id, at, zone),
            ],
        }  # fmt: skip
    return page(request, "duties.html", context, section="today")


def codes_of(session: Session, duties: Sequence[Duty]) -> dict[int | None, str]:
    """The codes of the open containers in which somebody saw something: a check of them ends the duty."""
    wanted = {one.about_id for one in duties if one.kind == TOLD_BY_SOMEBODY and one.about_id}
    query = select(Container.id, Container.code).where(
        col(Container.id).in_(wanted), col(Container.state) == ContainerState.OPEN
    )
    return dict(session.exec(query).all()) if wanted else {}


def duty_line(duty: Duty, at: datetime, zone: str, code: str = "") -> dict[str, Any]:
    """A duty as a line: what, by when, whether that has passed, and where it is done.

    Args:
        code: of the container in which somebody saw something (see `codes_of`).
    """
    href = ""
    if duty.keeper_answers:
        href = "/rags/violations"
    elif duty.about_kind == "rag-load" and duty.about_id:
        href = f"/rags/{duty.about_id}"
    elif duty.kind == TOLD_BY_SOMEBODY and code:
        href = f"/containers/{code}/check"
    elif duty.kind == WIPES:
        href = f"/rags/wipes/{duty.id}"
    elif duty.kind == FAILED_CHECK:
        href = f"/recurring-checks/{duty.about_id}/record"
    elif may_end_by_word(duty):
        href = f"/duties/{duty.id}/done"
    return {
        "sentence": duty.sentence,
        "due": instant(duty.due_at, zone),
        "late": duty.due_at < at,
        "href": href,
        "button": "Answer it" if duty.keeper_answers else "Do it",
    }


@router.get("/duties/{duty_id}/done")
def done_form(request: Request, data: Data, now: Now, actor: Signed, duty_id: Id) -> Response:
    """What the duty is, and one question: what was done about it."""
    return _done_page(request, data, now, actor, duty_id, filled(once=uuid.uuid4().hex))


def _done_page(
    request: Request, data: Data, now: Now, actor: Actor, duty_id: int, p: Posted[Any], status: int = 200
) -> Response:
    with data.reading() as session:
        duty = session.get(Duty, duty_id)
        seen = duty is not None and (duty.owed_by == actor.person_id or actor.role is Role.KEEPER)
        if duty is None or not seen or duty.done_at is not None:
            raise NotFound("There is no such duty waiting for you.")
        codes = codes_of(session, [duty])
        line = duty_line(duty, book_now(session, now), shop_zone(session).key, codes.get(duty.about_id, ""))
        container = session.get(Container, duty.about_id) if duty.about_kind == "container" else None
        code = container.code if container else ""
    shown_code = show_code(code) if code else ""
    context = {"duty": line, "id": duty_id, "p": p, "code": code, "shown_code": shown_code}
    return page(request, "duty_done.html", context, status, section="today")


@router.post("/duties/{duty_id}/done")
def done(
    request: Request, data: Data, now: Now, actor: Signed, duty_id: Id,
    p: Annotated[Posted[DoneForm], Depends(posted(DoneForm))],
) -> Response:  # fmt: skip
    """The duty is over; what was done stands beside it."""
    if p.value is not None:
        try:
            with data.writing() as session:
                answer_duty(session, actor, now, duty_id, p.value.answer, p.value.once)
                flash(session, request, "Marked as done, with what you wrote.")
                return RedirectResponse("/duties", 303)
        except Invalid as error:
            p.refuse("answer", error.sentence)
    return _done_page(request, data, now, actor, duty_id, p, 422)
