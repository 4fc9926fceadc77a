"""`GET /problems/{name}`: what each kind of refusal means, for people and for writers of scripts."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from service.core.findings import NotFound
from service.web.problems import KINDS
from service.web.render import page

router = APIRouter(include_in_schema=False)


@router.get("/problems/{name}")
def explain(request: Request, name: str) -> HTMLResponse:
    """The page that a problem document's ``type`` points at."""
    kind = KINDS.get(name)
    if kind is None:
        raise NotFound("There is no kind of answer with that name.")
    return page(request, "problems.html", {"kind": kind, "kinds": list(KINDS.values())})
