"""`/mail/leave/…`: leaving a kind out of one's morning mail by the secret address in it, without signing in.

A look changes nothing, so that a mail program that opens what stands in a mail leaves nothing out. A mail
program posts here by itself (RFC 8058): the answer is a page, not a way to another address.
"""

from typing import Annotated

from fastapi import APIRouter, Path, Request
from fastapi.responses import Response

from service.actions.leave_mail import leave_out, what_it_leaves
from service.actions.throttle import Throttled, count_try
from service.core.digest import kind_to_leave
from service.core.findings import NotFound
from service.core.sign_in_rules import address_key
from service.web.deps import Data, Now, shop_today
from service.web.problems import Problem, answer
from service.web.render import page

router = APIRouter(include_in_schema=False)
Token = Annotated[str, Path(max_length=200)]


@router.get("/mail/leave/{token}")
def look(request: Request, token: Token, data: Data, now: Now) -> Response:
    """What the address leaves out, with one button; nothing is changed by a look."""
    with data.reading() as session:
        row, person = what_it_leaves(session, now, shop_today(session, now), token)
    return _page(request, row.kind, person.name, done=False)


@router.post("/mail/leave/{token}")
def leave(request: Request, token: Token, data: Data, now: Now) -> Response:
    """Leave it out. What is posted is not read: the address says it all.

    Tries that do not match are counted by where they come from; one that matches never waits.
    """
    try:
        with data.writing() as session:
            kind, person = leave_out(session, now, shop_today(session, now), token)
    except NotFound:
        try:
            with data.writing() as session:
                host = request.client.host if request.client else None
                count_try(session, [("leave-mail", address_key(host))], now)
        except Throttled as slow:
            wait = {"Retry-After": str(slow.wait_s)}
            return answer(request, Problem("throttled", slow.sentence, headers=wait))
        raise
    return _page(request, kind, person.name, done=True)


def _page(request: Request, kind: str, name: str, *, done: bool) -> Response:
    context = {"kind": kind_to_leave(kind), "name": name, "action": request.url.path, "done": done}
    return page(request, "leave_mail.html", context)
