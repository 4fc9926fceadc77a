"""`/receive/list`: a whole stock list as a CSV file: brought, looked at, its names settled, taken in."""

from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session, col, select

from service.actions.check_list import CheckedList
from service.actions.take_list import (
    Brought,
    TakeAsked,
    bring_list,
    choose_materials,
    choose_places,
    look_at_list,
    say_another,
    take_list,
    the_list,
)
from service.core.findings import Finding, Invalid, Refused, Severity, Verdict
from service.core.stock_list import COLUMNS, EmptyOpened
from service.core.stock_list_file import MOST_BYTES, MOST_LINES
from service.outreach.csv_tables import blank_list, problem_rows, written
from service.records.people import Person
from service.records.stock import Container, Movement, PostingResult
from service.records.stock_lists import StockListFile, newest_lists
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.csv_answers import as_csv
from service.web.deps import Data, Now, Secrets, shop_today, shop_zone
from service.web.fields import Id, Once
from service.web.forms import FormModel, Posted, filled, posted
from service.web.guard import MAX_UPLOAD_BODY
from service.web.list_words import (
    GOOD_COLUMNS,
    PROBLEM_COLUMNS,
    good_row,
    place_asked,
    problem_groups,
    proposed,
    questioned,
)
from service.web.pages.labels import MOST as MOST_LABELS
from service.web.render import instant, page

router = APIRouter(prefix="/receive/list", include_in_schema=False)

SHOWN: Final = 200
"""Problems and lines on the page; all problems are in the file to save."""
ASKED: Final = 100
"""Names, places and questions on the page at once; a form has at most 400 fields."""
EMPTY = [
    (EmptyOpened.ASK.value, "A mistake to mend", "the list says for each whether it is sealed or open"),
    (EmptyOpened.SEALED.value, "It is sealed", "whoever wrote the list filled the cell for every open one"),
    (EmptyOpened.OPEN.value, "It is open", "and nobody knows since when"),
]
_Key = Annotated[str, Field(pattern="^[0-9a-f]{16}$")]


class BringForm(FormModel):
    empty_opened: EmptyOpened = Field(default=EmptyOpened.ASK, title="An empty cell under opened")
    again: bool = False


class SettleForm(FormModel):
    """``key`` and ``choice`` go in pairs; "-" is no choice yet."""

    key: list[_Key] = Field(default=[], max_length=400)
    choice: list[Annotated[str, Field(max_length=80)]] = Field(default=[], max_length=400)


class AnswersForm(FormModel):
    """``where`` and ``choice`` go in pairs; ``asked`` are the questions shown, ``another`` the ticked ones.

    ``every`` says of all questions of the list that each is a can of its own.
    """

    where: list[_Key] = Field(default=[], max_length=200)
    choice: list[Annotated[str, Field(pattern="^(-|place:none|place:[0-9]{1,9})$")]] = Field(
        default=[], max_length=200
    )
    asked: list[_Key] = Field(default=[], max_length=200)
    another: list[_Key] = Field(default=[], max_length=200)
    every: bool = False


class TakeForm(FormModel):
    good_lines: bool = False
    once: Once


@router.get("")
def ask(request: Request, data: Data, actor: Signed) -> Response:
    """Which file; which columns it may have; what was brought before."""
    return _ask(request, data, filled(empty_opened=EmptyOpened.ASK.value))


def _ask(
    request: Request, data: Data, p: Posted[Any], status: int = 200, refused: Verdict | None = None
) -> Response:
    with data.reading() as session:
        zone = shop_zone(session).key
        lists = [_in_short(session, row, zone) for row in newest_lists(session)]
    context = {
        "p": p, "empty": EMPTY, "columns": list(COLUMNS.items()), "lists": lists, "refused": refused,
        "most_lines": MOST_LINES, "most_mb": MOST_BYTES // 1_000_000,
    }  # fmt: skip
    return page(request, "receive/list_bring.html", context, status, section="receive")


def _in_short(session: Session, row: StockListFile, zone: str) -> tuple[int, str, str]:
    who = session.get(Person, row.brought_by)
    said = f"brought {instant(row.brought_at, zone)} by {who.name if who else 'nobody known'}"
    if row.taken_at is not None:
        said = f"taken in {instant(row.taken_at, zone)}"
    return row.id or 0, row.name, said


@router.post("", max_body_size=MAX_UPLOAD_BODY)
def bring(
    request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[BringForm], Depends(posted(BringForm, uploads=True))],
) -> Response:  # fmt: skip
    """Keep the file for its dry run."""
    file = p.upload("file")
    if p.value is None:
        return _ask(request, data, p, 422)
    if file is None:
        p.refuse("file", "Choose the list: a CSV file.")
        return _ask(request, data, p, 422)
    try:
        with data.writing() as session:
            asked = Brought(file.name, file.content, p.value.empty_opened, p.value.again)
            number = bring_list(session, actor, now, asked).id
        return RedirectResponse(f"/receive/list/{number}", 303)
    except Invalid as wrong:
        p.take(wrong, "file")
        return _ask(request, data, p, 422)
    except Refused as wrong:
        return _ask(request, data, p, 409, wrong.verdict)


@router.get("/blank.csv")
def blank(actor: Signed) -> Response:
    """The first line of a list, to be filled in."""
    return as_csv("stock-list.csv", blank_list())


@router.get("/{list_id}")
def look(request: Request, list_id: Id, data: Data, now: Now, actor: Signed, secret: Secrets) -> Response:
    """The dry run, or what was taken in."""
    with data.reading() as session:
        if the_list(session, list_id).taken_at is not None:
            return _taken(request, session, list_id)
        return _dry_run(request, session, now, actor, list_id, secret())


def _dry_run(
    request: Request, session: Session, now: Now, actor: Signed, list_id: int, once: str,
    status: int = 200, refused: Verdict | None = None,
) -> Response:  # fmt: skip
    row, checked = look_at_list(session, actor, shop_today(session, now), list_id)
    waiting = [one for one in checked.proposals if one.material is None]
    groups = problem_groups(checked.problems)
    # Those still open first: a form holds so many fields, and the rest comes when these are answered.
    names = sorted(checked.proposals, key=lambda one: one.material is not None)[:ASKED]
    places = sorted(checked.places, key=lambda one: bool(one.chosen))[:ASKED]
    questions = sorted(checked.questions, key=lambda one: one.answered)[:ASKED]
    context = {
        "row": row, "p": filled(once=once), "checked": checked, "refused": refused,
        "facts": _facts(row, checked), "proposals": [proposed(one) for one in names],
        "places": [place_asked(one, checked) for one in places],
        "questions": [questioned(one) for one in questions], "asked": ASKED,
        "open": sum(not one.answered for one in checked.questions), "groups": len(groups),
        "waiting": len(waiting), "problem_columns": PROBLEM_COLUMNS, "good_columns": GOOD_COLUMNS,
        "problems": groups[:SHOWN], "shown": SHOWN,
        "good": [good_row(one, checked) for one in checked.good[:SHOWN]],
        "aside": checked.aside[:SHOWN],
    }  # fmt: skip
    return page(request, "receive/list_look.html", context, status, section="receive")


def _facts(row: StockListFile, checked: CheckedList) -> list[tuple[str, Any]]:
    facts: list[tuple[str, Any]] = [
        ("Lines that can be taken in", len(checked.good)),
        ("Containers in them", checked.containers),
        ("Lines with something wrong", checked.lines_wrong),
        ("Read as", row.encoding),
        ("An empty cell under opened", {key: words for key, words, _ in EMPTY}[row.empty_opened.value]),
    ]
    if checked.aside:
        facts.append(("Lines left aside", len(checked.aside)))
    if checked.ignored:
        facts.append(("Columns not read", ", ".join(checked.ignored)))
    return facts


@router.post("/{list_id}/materials")
def settle_names(
    request: Request, list_id: Id, data: Data, now: Now, actor: Signed, secret: Secrets,
    p: Annotated[Posted[SettleForm], Depends(posted(SettleForm))],
) -> Response:  # fmt: skip
    """Keep what the unknown names are, and look at the list again."""
    if p.value is None or len(p.value.key) != len(p.value.choice):
        raise Invalid("Choose one answer for each name.")
    chosen = {
        key: "" if choice == "-" else choice
        for key, choice in zip(p.value.key, p.value.choice, strict=True)
    }
    with data.writing() as session:
        choose_materials(session, actor, list_id, chosen)
    return RedirectResponse(f"/receive/list/{list_id}", 303)


@router.post("/{list_id}/answers")
def answer(
    request: Request, list_id: Id, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[AnswersForm], Depends(posted(AnswersForm))],
) -> Response:  # fmt: skip
    """Keep which places are meant, and which lines are cans of their own."""
    if p.value is None or len(p.value.where) != len(p.value.choice):
        raise Invalid("Choose one answer for each place.")
    said = p.value
    with data.writing() as session:
        if said.where:
            pairs = zip(said.where, said.choice, strict=True)
            chosen = {key: "" if choice == "-" else choice for key, choice in pairs}
            choose_places(session, actor, list_id, chosen)
        ticked = None if said.every else {key: key in said.another for key in said.asked}
        if ticked or said.every:
            say_another(session, actor, shop_today(session, now), list_id, ticked)
        the_list(session, list_id)
    return RedirectResponse(f"/receive/list/{list_id}", 303)


@router.post("/{list_id}/take")
def take(
    request: Request, list_id: Id, data: Data, now: Now, actor: Signed, secret: Secrets,
    p: Annotated[Posted[TakeForm], Depends(posted(TakeForm))],
) -> Response:  # fmt: skip
    """Take it in: every line or none; or the good lines, when that was said."""
    if p.value is None:
        raise Invalid("Open the list again, and send it anew.")
    asked = TakeAsked(p.value.once, list_id, p.value.good_lines)
    try:
        with data.writing() as session:
            result = take_list(session, actor, now, asked, secret).result
            flash(session, request, f"{result['containers']} containers taken in.")
        return RedirectResponse(f"/receive/list/{list_id}", 303)
    except Refused as wrong:
        with data.reading() as session:
            if the_list(session, list_id).taken_at is not None:
                raise
            return _dry_run(request, session, now, actor, list_id, secret(), 409, wrong.verdict)


@router.get("/{list_id}/problems.csv")
def problems(list_id: Id, data: Data, now: Now, actor: Signed) -> Response:
    """Every problem of the list, as a list."""
    with data.reading() as session:
        _, checked = look_at_list(session, actor, shop_today(session, now), list_id)
    return as_csv(f"problems-of-list-{list_id}.csv", written(problem_rows(checked.problems)))


def _taken(request: Request, session: Session, list_id: int) -> Response:
    row = the_list(session, list_id)
    result: dict[str, Any] = session.get_one(PostingResult, row.taken_posting_id).result
    codes = session.exec(
        select(Container.code)
        .join(Movement, col(Movement.container_id) == col(Container.id))
        .where(col(Movement.posting_id) == row.taken_posting_id)
        .order_by(col(Container.id))
    ).all()
    findings = [Finding(**(one | {"severity": Severity(one["severity"])})) for one in result["findings"]]
    groups = [list(codes[at : at + MOST_LABELS]) for at in range(0, len(codes), MOST_LABELS)]
    context = {
        "row": row, "result": result, "verdict": Verdict.of(findings),
        "labels": [(len(some), "/labels/print?" + "&".join(f"c={code}" for code in some)) for some in groups],
        "when": instant(row.taken_at, shop_zone(session).key) if row.taken_at else "",
    }  # fmt: skip
    return page(request, "receive/list_taken.html", context, section="receive")
