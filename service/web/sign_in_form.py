"""The sign-in page and the tablet's names, also in the middle of a post: what was typed is carried along.

Nothing is sent on by itself after signing in: the person sees what they typed and sends it with a button,
because it may have been typed by somebody else.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Final
from urllib.parse import quote, urlsplit

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from service.actions.sign_in import run_out
from service.actions.tablets import people_to_tap
from service.core.access import Role
from service.records.engine import Database
from service.web import render
from service.web.demo_sign_in import demo_accounts
from service.web.deps import now_of, shop_today
from service.web.forms import MAX_FIELDS, MAX_PART, Posted, filled
from service.web.problems import wants_json
from service.web.visitor import cookie_name

BEARER: Final = {"WWW-Authenticate": 'Bearer realm="umberkeep"'}
PACK: Final = "/inspection-pack"
PREFIX: Final = "kept."
"""Before the name of every carried field, so that none can be taken for a field of the sign-in form."""
_NEVER_CARRIED: Final = ("password", "pin", "secret", "token")
_NOT_AFTER_SIGN_IN: Final = ("sign-in", "sign-out", "tap", "untap", "api", "first-keeper")
_MAX_CARRIED: Final = 200_000


@dataclass(frozen=True)
class Carried:
    """Where to go on after signing in, and the fields of a post that was held up there."""

    target: str = "/"
    fields: tuple[tuple[str, str], ...] = ()
    post: bool = False
    files_lost: bool = False

    def hidden(self) -> list[tuple[str, str]]:
        """Hidden inputs that take this through the sign-in form."""
        if not self.post:
            return [("next", self.target)]
        lost = [("files_lost", "yes")] if self.files_lost else []
        return [("post_to", self.target), *lost, *((PREFIX + name, value) for name, value in self.fields)]


def local_path(text: str) -> str:
    """``text`` if it is an address on this host that a person may be sent to after signing in, else "/".

    >>> local_path("/store?q=oil"), local_path("//evil.example"), local_path("https://evil.example/")
    ('/store?q=oil', '/', '/')
    >>> local_path("/\\\\evil.example"), local_path("/sign-in?next=/x"), local_path("/a\\nb")
    ('/', '/', '/')
    """
    if not text.startswith("/") or text.startswith("//") or "\\" in text or len(text) > 1000:
        return "/"
    if any(ord(sign) < 33 or ord(sign) == 127 for sign in text):
        return "/"
    try:
        parts = urlsplit(text)
        text.encode()
    except (ValueError, UnicodeError):
        return "/"
    first = parts.path.split("/")[1]
    if parts.scheme or parts.netloc or first in _NOT_AFTER_SIGN_IN:
        return "/"
    return text


def path_with_query(request: Request) -> str:
    """This request's own address, without the host."""
    query = request.scope.get("query_string", b"").decode("latin-1")
    return local_path(quote(request.scope["path"]) + (f"?{query}" if query else ""))


def is_carried(name: str) -> bool:
    """Whether a field may travel through the sign-in page: never a secret.

    >>> is_carried("amount"), is_carried("new_password"), is_carried("pin"), is_carried("pinned_on")
    (True, False, False, True)
    """
    words = name.lower().replace("-", "_").split("_")
    return not any(word in words for word in _NEVER_CARRIED)


async def carried_from(request: Request) -> Carried:
    """What stood in the form of a post that needs a sign-in first. Files cannot be carried; it says so."""
    kind = request.headers.get("content-type", "").split(";")[0].strip().lower()
    target = path_with_query(request)
    if kind not in ("application/x-www-form-urlencoded", "multipart/form-data"):
        return Carried(target="/")
    form = await request.form(max_files=4, max_fields=2 * MAX_FIELDS, max_part_size=MAX_PART)
    try:
        fields, lost, size = [], False, 0
        for name, value in form.multi_items():
            if not isinstance(value, str):
                lost = lost or bool(value.filename or value.size)
            elif is_carried(name):
                size += len(name) + len(value)
                fields.append((name, value))
        if size > _MAX_CARRIED:
            return Carried(target="/")
        return Carried(target, tuple(fields), post=True, files_lost=lost)
    finally:
        await form.close()


def carried_in(form: FormData | dict[str, Any]) -> Carried:
    """What came through the sign-in form, judged again: it may have been written by anybody."""
    items = form.multi_items() if isinstance(form, FormData) else list(form.items())
    texts = [(name, value) for name, value in items if isinstance(value, str)]
    plain = dict(texts)
    if not plain.get("post_to"):
        return Carried(target=local_path(plain.get("next", "/") or "/"))
    target = local_path(plain["post_to"])
    kept = [(name.removeprefix(PREFIX), value) for name, value in texts if name.startswith(PREFIX)]
    fields = tuple((name, value) for name, value in kept if is_carried(name))
    return Carried(target, fields, post=target != "/", files_lost=bool(plain.get("files_lost")))


def show_sign_in(
    request: Request, carried: Carried, p: Posted[Any] | None = None, status: int = 200, wait_s: int = 0
) -> Response:
    """The sign-in page; with status 401 it stands in the way of a post."""
    headers = {"Retry-After": str(wait_s)} if wait_s else {}
    if status == 401:
        headers |= BEARER
    context = {
        "p": p or filled(), "carried": carried, "demo": demo_accounts(request), "over": _over(request),
    }  # fmt: skip
    return render.page(request, "sign_in.html", context, status, headers=headers)


def _over(request: Request) -> date | None:
    """The last day of whoever this browser was signed in as, where that day is over."""
    database: Database = request.app.state.database
    token = request.cookies.get(cookie_name(request.app.state.settings), "")
    if not token:
        return None
    with database.reading() as session:
        return run_out(session, token, shop_today(session, now_of(request)))


def show_tap(request: Request, carried: Carried, status: int = 200) -> Response:
    """The names on a tablet; with status 401 they stand in the way of a post."""
    database: Database = request.app.state.database
    with database.reading() as session:
        names = people_to_tap(session, shop_today(session, now_of(request)))
    context = {"names": names, "carried": carried}
    return render.page(request, "tap.html", context, status, headers=BEARER if status == 401 else {})


def landing(carried: Carried, role: Role) -> Carried:
    """Where somebody goes on who asked for no page: a reader came for the pack, all others for the day.

    >>> landing(Carried(), Role.READER).target, landing(Carried("/rags"), Role.READER).target
    ('/inspection-pack', '/rags')
    """
    if role is Role.READER and carried.target == "/" and not carried.post:
        return replace(carried, target=PACK)
    return carried


def go_on(request: Request, carried: Carried, who: str) -> Response:
    """After signing in: to the page that was asked for, or to what was typed, with a button that sends it."""
    if not carried.post:
        return RedirectResponse(carried.target, 303)
    shown = [(name, value) for name, value in carried.fields if name not in ("once", "version")]
    context = {"carried": carried, "who": who, "shown": shown}
    return render.page(request, "send_again.html", context)


def asks_for_page(request: Request) -> bool:
    """Whether a browser wants a page (and not data)."""
    return not wants_json(request.scope["path"], request.headers.get("accept", ""))
