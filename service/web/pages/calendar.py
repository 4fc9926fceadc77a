"""`/me/calendar`: one's own secret address; `/calendar/….ics`: what a calendar program reads there."""

from hashlib import sha256
from typing import Annotated

from fastapi import APIRouter, Path, Request
from fastapi.responses import RedirectResponse, Response

from service.actions.calendar_feeds import end_feed, feed_of, make_feed
from service.actions.tell_calendar import keep_told, look_up
from service.outreach.calendar_feed import MEDIA_TYPE, calendar_file
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Config, Data, Now, Secrets
from service.web.render import page

router = APIRouter(include_in_schema=False)

_TEXT = (
    "Dates of the containers and duties that {} sees to, for keepers of every container. Oily rags never "
    "stand here, and a container of which something is not known has no date. The book is what counts."
)
_ENDED = "This calendar has ended. Take it out of your calendar program."


@router.get("/calendar/{token}.ics")
def feed(
    request: Request, data: Data, config: Config, now: Now, token: Annotated[str, Path(max_length=200)]
) -> Response:
    """The calendar of whoever made this address; without signing in.

    What it tells anew, or otherwise than before, is kept before it is told; else it writes nothing.
    """
    with data.reading() as session:
        told = look_up(session, now, token)
    if told.changed:
        with data.writing() as session:
            told = keep_told(session, now, token)
    name = f"{told.shop}: {told.owner}" if told.owner else "Ended calendar"
    text = _TEXT.format(told.owner) if told.owner else _ENDED
    written = calendar_file(name, text, told.entries, told.shop_since, _base(request, config))
    mark = f'"{sha256(written).hexdigest()[:32]}"'
    headers = {"Cache-Control": "private, max-age=600", "ETag": mark}
    if request.headers.get("if-none-match", "").removeprefix("W/") == mark:
        return Response(status_code=304, headers=headers)
    return Response(written, media_type=MEDIA_TYPE, headers=headers)


def _base(request: Request, config: Config) -> str:
    return config.base_url or str(request.base_url).rstrip("/")


def _show(request: Request, data: Data, actor: Signed, address: str = "") -> Response:
    with data.reading() as session:
        row = feed_of(session, actor.person_id)
    context = {
        "since": row.created_at if row is not None else None, "address": address,
        "webcal": f"webcal:{address.partition(':')[2]}" if address else "",
        "own": actor.device_id is None,
    }  # fmt: skip
    return page(request, "me/calendar.html", context)


@router.get("/me/calendar")
def look(request: Request, data: Data, actor: Signed) -> Response:
    """Whether there is an address, and since when."""
    return _show(request, data, actor)


@router.post("/me/calendar")
def make(
    request: Request, data: Data, config: Config, now: Now, actor: Signed, secrets: Secrets
) -> Response:
    """A new address, shown this once; the one before opens nothing any more."""
    token = secrets()
    with data.writing() as session:
        make_feed(session, actor, now, token)
    return _show(request, data, actor, f"{_base(request, config)}/calendar/{token}.ics")


@router.post("/me/calendar/end")
def end(request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """End the address for good."""
    with data.writing() as session:
        ended = end_feed(session, actor, now)
        said = "Your calendar address opens nothing any more." if ended else "There was no address to end."
        flash(session, request, said)
    return RedirectResponse("/me/calendar", 303)
