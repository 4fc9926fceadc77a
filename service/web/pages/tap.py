"""The shared tablet: tap a name, give the PIN, act for two minutes, step away."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field

from service.actions.tablets import Tap, people_to_tap, tap, untap
from service.actions.throttle import Throttled
from service.core.findings import Invalid, NotFound
from service.records.people import Person
from service.web.access_gate import Seen
from service.web.deps import Data, Hash, Now, shop_today
from service.web.fields import Id, Secret
from service.web.forms import FormModel, Posted, filled, posted
from service.web.pages.sign_in import carried
from service.web.render import page
from service.web.sign_in_form import Carried, go_on, local_path, show_tap
from service.web.visitor import Visitor, forget_visitor

router = APIRouter(include_in_schema=False)


class PinForm(FormModel):
    pin: Secret = Field(default="", title="PIN")
    sent: str = ""


def _on_a_tablet(seen: Visitor) -> tuple[int, int]:
    if seen.device_id is None or seen.session_id is None:
        raise NotFound("Names are tapped on a shared tablet. You are signed in yourself.")
    return seen.session_id, seen.device_id


@router.get("/tap")
def names(request: Request, seen: Seen, next: str = "/") -> Response:
    """The names to tap."""
    _on_a_tablet(seen)
    return show_tap(request, Carried(local_path(next)))


def _pin_page(
    request: Request, person: Person, kept: Carried, p: Posted[PinForm], status: int = 200, wait_s: int = 0
) -> Response:
    headers = {"Retry-After": str(wait_s)} if wait_s else {}
    context = {"person": person, "carried": kept, "p": p}
    return page(request, "pin.html", context, status, headers=headers)


def _who(data: Data, now: Now, person_id: int) -> Person:
    with data.reading() as session:
        for person in people_to_tap(session, shop_today(session, now)):
            if person.id == person_id:
                return person
    raise NotFound("That name is in no running job. Tap another.")


@router.get("/tap/{person_id}")
def pin(request: Request, person_id: Id, seen: Seen, data: Data, now: Now, next: str = "/") -> Response:
    """The PIN of the tapped name."""
    _on_a_tablet(seen)
    return _pin_page(request, _who(data, now, person_id), Carried(local_path(next)), filled())


@router.post("/tap/{person_id}")
def give_pin(
    request: Request,
    person_id: Id,
    seen: Seen,
    data: Data,
    now: Now,
    hasher: Hash,
    kept: Annotated[Carried, Depends(carried)],
    p: Annotated[Posted[PinForm], Depends(posted(PinForm))],
) -> Response:
    """Check the PIN. A name tapped in the middle of a post comes here first without one."""
    session_id, device_id = _on_a_tablet(seen)
    person = _who(data, now, person_id)
    if p.value is not None and not p.value.sent:
        return _pin_page(request, person, kept, p)
    typed = p.text("pin")
    if not typed:
        p.refuse("pin", "Enter your PIN.")
        return _pin_page(request, person, kept, p, 422)
    with data.reading() as session:
        today = shop_today(session, now)
    try:
        tap(data, hasher, Tap(session_id, device_id, person_id, typed), now, today)
    except Invalid as error:
        p.take(error, "pin")
        return _pin_page(request, person, kept, p, 422)
    except Throttled as error:
        p.refuse("pin", error.sentence)
        return _pin_page(request, person, kept, p, 429, error.wait_s)
    forget_visitor(request)
    return go_on(request, kept, person.name)


@router.post("/untap")
def step_away(seen: Seen, data: Data) -> Response:
    """The person is done; the tablet asks for the next name."""
    session_id, _ = _on_a_tablet(seen)
    with data.writing() as session:
        untap(session, session_id)
    return RedirectResponse("/tap", 303)
