"""`/`: the day's page; for now a name and the ways on."""

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from service.web.access_gate import Seen
from service.web.chrome import chrome_of
from service.web.render import page

router = APIRouter(include_in_schema=False)


@router.get("/")
def today(request: Request, seen: Seen) -> Response:
    """A tablet without a person asks for a name first."""
    if seen.actor is None:
        return RedirectResponse("/tap", 303)
    sections = [section for section in chrome_of(request).sections if section.href != "/"]
    return page(request, "today.html", {"name": seen.actor.name, "ways": sections}, section="today")
