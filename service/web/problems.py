"""Every kind of refusal the service answers with: its status, its name in `/problems/…`, and how it is told.

One problem is told in two ways: as an RFC 9457 problem document to a script, as a page to a person.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response

from service.core.findings import Finding, Reading, Verdict
from service.web import render

PROBLEM_JSON: Final = "application/problem+json"


@dataclass(frozen=True)
class Kind:
    """What every problem of one name shares: status, short title, what it means, what to do about it."""

    name: str
    status: int
    title: str
    meaning: str
    todo: str


def _kinds(*kinds: Kind) -> dict[str, Kind]:
    return {kind.name: kind for kind in kinds}


KINDS: Final[dict[str, Kind]] = _kinds(
    Kind("unreadable", 400, "The request could not be read",
         "What arrived is not a form or a document this service can take apart.",
         "Send it again. A script should check its encoding, its length and the Host header."),
    Kind("sign-in", 401, "Sign in first",
         "The page or call belongs to the people of the shop, and nobody is signed in.",
         "Sign in, or send a token in the Authorization header."),
    Kind("not-allowed", 403, "Your role does not cover this",
         "Somebody is signed in, but this act is kept for another role.",
         "Ask a keeper of the shop to do it, or to change your role."),
    Kind("cross-site", 403, "This came from another site",
         "A browser said that another web page sent this form. It was not carried out.",
         "Open the page here in the service and send the form from there."),
    Kind("not-found", 404, "There is no such thing here",
         "No record has that address or code, or it is not yours to see.",
         "Check the code for a typing slip, or look for it in the store."),
    Kind("method", 405, "That address takes another kind of request",
         "The address exists, but not for this method.",
         "Look at the Allow header of the answer, or open the page from the menu."),
    Kind("refused", 409, "A rule of the shop refused this",
         "What was asked is possible, but a rule of the shop says no. The findings name each reason.",
         "Read the reasons; most name the thing that lifts them. Nothing was booked."),
    Kind("stale", 409, "Somebody changed this in the meantime",
         "The record is no longer as it was when the page was opened. Nothing was booked.",
         "Open it again, compare, and enter your change once more."),
    Kind("once-reused", 409, "This key was already used for something else",
         "Each posting carries a key of its own. This one came before with other contents.",
         "Make a new key for a new posting; keep the old one only for sending the same thing again."),
    Kind("conflict", 409, "This does not fit with what is already recorded",
         "The database holds something that rules this out, such as the same code twice.",
         "Open the record again and look at what is there. Nothing was booked."),
    Kind("too-large", 413, "That is too much at once",
         "The request is larger than this address takes.",
         "Send a smaller file, or fewer lines at a time."),
    Kind("media-type", 415, "That kind of content is not taken here",
         "The Content-Type is not one this address reads.",
         "Send JSON as application/json, forms as the page sends them."),
    Kind("invalid", 422, "Something in it cannot be used",
         "A value is missing, ambiguous or out of its range. `errors` names each field with a sentence; "
         "`readings` lists what an ambiguous amount might mean.",
         "Put right what the sentences name and send it again. Nothing was booked."),
    Kind("throttled", 429, "Too many tries",
         "The same person or address tried too often in a short time.",
         "Wait for the time in Retry-After, then try again."),
    Kind("unexpected", 500, "The service made a mistake",
         "Something happened that was not foreseen. Nothing of the last entry was saved.",
         "Tell the keeper the reference on the page; the log holds the details under it."),
    Kind("busy", 503, "The service is busy",
         "The database is held by somebody else at this moment. Nothing was saved.",
         "Send it again in a few seconds."),
    Kind("disk", 503, "The disk is full or refuses to write",
         "Nothing can be written now. What is in the books can be read as ever.",
         "The keeper makes room or looks at the disk. Then send the same again: no restart is needed, and it "
         "is booked once, whatever became of this time."),
    Kind("away", 503, "The database cannot be reached",
         "The database does not answer, or the connection to it broke off.",
         "Send the same again in a few seconds: it is booked once, whatever became of this time. If it stays "
         "so, the keeper should look at the database."),
)

_BY_STATUS: Final[dict[int, str]] = {
    400: "unreadable", 401: "sign-in", 403: "not-allowed", 404: "not-found", 405: "method",
    409: "refused", 413: "too-large", 415: "media-type", 422: "invalid", 429: "throttled",
    500: "unexpected", 503: "busy",
}


@dataclass(frozen=True)
class Step:
    """A way on from a refusal: the words of a link and where it leads."""

    words: str
    href: str


# What a person can do about a finding, by its code. Whoever adds a rule with a way out adds its line here.
NEXT_STEPS: Final[dict[str, Step]] = {
    "rags-overdue": Step("Put the rags away and record it", "/rags"),
    "rags-loose": Step("Put the rags away and record it", "/rags"),
}


@dataclass(frozen=True)
class Problem:
    """One refusal, ready to be told. ``detail`` is a sentence for people; ``reference`` only for a 500."""

    name: str
    detail: str
    status: int = 0
    errors: Mapping[str, str] = field(default_factory=dict)
    readings: tuple[Reading, ...] = ()
    findings: Verdict | None = None
    headers: Mapping[str, str] = field(default_factory=dict)
    reference: str = ""

    @property
    def kind(self) -> Kind:
        return KINDS[self.name]

    @property
    def code(self) -> int:
        """The status code to answer with."""
        return self.status or self.kind.status


def name_for_status(status: int) -> str:
    """The problem name that fits a bare status code; other 4xx are "unreadable", other 5xx "unexpected".

    >>> name_for_status(404), name_for_status(418), name_for_status(502)
    ('not-found', 'unreadable', 'unexpected')
    """
    return _BY_STATUS.get(status, "unreadable" if status < 500 else "unexpected")


def document(problem: Problem) -> dict[str, Any]:
    """The RFC 9457 document of a problem.

    >>> document(Problem("stale", "It changed."))["type"]
    '/problems/stale'
    """
    body: dict[str, Any] = {
        "type": f"/problems/{problem.name}",
        "title": problem.kind.title,
        "status": problem.code,
        "detail": problem.detail,
    }
    if problem.errors:
        # A page's form calls it `place_id`, a call `place`: the calls' own name is told.
        body["errors"] = {key.removesuffix("_id"): words for key, words in problem.errors.items()}
    if problem.readings:
        body["readings"] = [{"text": r.text, "words": r.words} for r in problem.readings]
    if problem.findings is not None:
        body["findings"] = problem.findings.as_list()
    if problem.reference:
        body["reference"] = problem.reference
    return body


def wants_json(path: str, accept: str) -> bool:
    """True for everything under /api, and where Accept ranks JSON above HTML.

    >>> wants_json("/api/materials", ""), wants_json("/store", "*/*")
    (True, False)
    >>> wants_json("/store", "application/json"), wants_json("/store", "text/html,application/json;q=0.9")
    (True, False)
    """
    if path == "/api" or path.startswith("/api/"):
        return True
    json_rank, html_rank = 0.0, 0.0
    for part in accept.lower().split(",")[:40]:
        media, *params = (piece.strip() for piece in part.split(";"))
        rank = next((_rank(p[2:]) for p in params if p.startswith("q=")), 1.0)
        if media == "application/json" or media.endswith("+json"):
            json_rank = max(json_rank, rank)
        elif media in ("text/html", "application/xhtml+xml", "text/*", "*/*"):
            html_rank = max(html_rank, rank)
    return json_rank > html_rank


def _rank(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        return 0.0
    return value if 0 <= value <= 1 else 0.0


def answer(request: Request, problem: Problem, *, ask_chrome: bool = True) -> Response:
    """The response that tells ``problem``: a problem document or a page, by path and Accept.

    ``ask_chrome`` False keeps the page off the database (guards that stand before it, and every 5xx).
    """
    headers = dict(problem.headers)
    if wants_json(request.url.path, request.headers.get("accept", "")):
        return JSONResponse(document(problem), problem.code, headers, media_type=PROBLEM_JSON)
    template = "errors/refused.html" if problem.findings is not None else "errors/problem.html"
    return render.page(
        request,
        template,
        {"problem": problem, "kind": problem.kind, "steps": steps_for(problem.findings or ()),
         "back": way_back(request)},
        status_code=problem.code,
        headers=headers,
        bare=not ask_chrome or problem.code >= 500,
    )


def last_words(request: Request, reference: str) -> Response:
    """The answer to an unforeseen error; bare text when even the page about it cannot be made."""
    problem = Problem("unexpected", "Nothing was saved.", reference=reference)
    try:
        return answer(request, problem, ask_chrome=False)
    except Exception:  # whatever broke, the person is told that nothing was saved
        return PlainTextResponse(f"Nothing was saved. Reference: {reference}\n", status_code=500)


def steps_for(findings: Verdict | tuple[Finding, ...]) -> list[Step]:
    """The ways on for the findings at hand, each once, in their order."""
    return list(dict.fromkeys(NEXT_STEPS[f.code] for f in findings if f.code in NEXT_STEPS))


def way_back(request: Request) -> str:
    """The page the person came from, as a path on this host, or the day's page.

    A Referer of another host is dropped: it must not become a link of ours.
    """
    referer = request.headers.get("referer", "")
    prefix = f"{request.url.scheme}://{request.headers.get('host', '')}/"
    path = "/" + referer.removeprefix(prefix) if referer.startswith(prefix) else "/"
    return "/" if path.startswith(("//", "/\\")) else path
