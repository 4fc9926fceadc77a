"""`/me/morning`: what the morning mail would say to me, which mail I get and when. Nothing is sent here."""

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field

from service.actions.choose_morning import ChoiceAsked, choose_morning
from service.actions.queue_morning import preview, told_to_nobody
from service.core.access import Role
from service.core.digest import SWITCHABLE, kinds_in_words
from service.core.findings import Invalid
from service.records.notices import DigestChoice
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Config, Data, Now
from service.web.fields import ClockTime, Version
from service.web.forms import FormModel, Posted, filled, posted
from service.web.render import page

router = APIRouter(include_in_schema=False)

_KINDS = [(kind.value, words) for kind, words in SWITCHABLE.items()]


class MorningForm(FormModel):
    wanted: bool = Field(default=False, title="Send me the morning mail")
    quiet_from: ClockTime | None = Field(default=None, title="Quiet from")
    quiet_until: ClockTime | None = Field(default=None, title="Quiet until")
    kinds_off: list[str] = Field(default=[], title="Leave out", max_length=20)
    version: Version = 0
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {}


def _show(
    request: Request, data: Data, config: Config, now: Now, actor: Signed, status: int = 200,
    form: Posted[Any] | None = None,
) -> Response:  # fmt: skip
    with data.reading() as session:
        seen = preview(session, now, config, actor.person_id)
        unheard = told_to_nobody(session, now, config) if actor.role is Role.KEEPER else ()
        row = session.get(DigestChoice, actor.person_id) or DigestChoice(person_id=actor.person_id, version=0)
        chosen = filled(
            wanted=row.wanted, quiet_from=row.quiet_from, quiet_until=row.quiet_until,
            kinds_off=row.kinds_off, version=row.version,
        )
    context = {
        "seen": seen, "hour": f"{seen.leaves:%H:%M}" if seen.leaves else "", "form": form or chosen,
        "version": chosen.text("version"), "kinds": _KINDS,
        "unheard": kinds_in_words(unheard), "own": actor.device_id is None,
    }
    return page(request, "me/morning.html", context, status)


@router.get("/me/morning")
def look(request: Request, data: Data, config: Config, now: Now, actor: Signed) -> Response:
    """The mail as it would be written now, and the choices."""
    return _show(request, data, config, now, actor)


@router.post("/me/morning")
def choose(
    request: Request, data: Data, config: Config, now: Now, actor: Signed,
    p: Annotated[Posted[MorningForm], Depends(posted(MorningForm))],
) -> Response:  # fmt: skip
    """Keep what I chose."""
    form = p.value
    if form is None:
        return _show(request, data, config, now, actor, 422, p)
    asked = ChoiceAsked(form.wanted, form.quiet_from, form.quiet_until, form.kinds_off, form.version)
    try:
        with data.writing() as session:
            choose_morning(session, actor, now, asked)
            session.flush()
            keeper = actor.role is Role.KEEPER
            unheard = kinds_in_words(told_to_nobody(session, now, config)) if keeper else ""
            nobody = f" Now nobody is told by mail of: {unheard}." if unheard else ""
            flash(session, request, f"Your choices about the morning mail are kept.{nobody}")
    except Invalid as error:
        p.take(error)
        return _show(request, data, config, now, actor, 422, p)
    return RedirectResponse("/me/morning", 303)
