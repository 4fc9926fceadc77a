"""`/recurring-checks/N/record`: it was made, fine or not, with a photograph; taking an entry back."""

import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import Annotated, Any, ClassVar, Literal

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field

from service.actions.do_check import (
    DoneAsked,
    TakeBackAsked,
    do_check,
    read_check_photo,
    take_back_check,
)
from service.actions.remake_photo import remake_photo
from service.core.access import Permission, require
from service.core.findings import Invalid, NotFound
from service.core.photo_files import ACCEPT, KEPT_AS, PhotoFile
from service.core.recurring_checks import Result
from service.records.check_queries import seen_check
from service.records.checks import CheckDone
from service.web.access_gate import Signed
from service.web.check_words import card, facts
from service.web.chrome import flash
from service.web.deps import Config, Data, Now, shop_today, shop_zone
from service.web.fields import ClockText, Id, Note, Once, Sentence, to_instant
from service.web.forms import FormModel, Posted, filled, posted
from service.web.guard import MAX_UPLOAD_BODY
from service.web.render import page

router = APIRouter(prefix="/recurring-checks", include_in_schema=False)

RESULTS = [
    (Result.FINE.value, "Fine", "Everything that is to be looked at was looked at."),
    (Result.NOT_FINE.value, "Not fine", "Whoever sees to it owes it until a later check is fine."),
]


class FineForm(FormModel):
    """One press."""

    once: Once


class RecordForm(FormModel):
    """A check that was made."""

    result: Literal["fine", "not-fine"] = Field(title="What came out")
    sentence: Note = Field(default="", title="What is not fine")
    done_about: Note = Field(default="", title="What was done about it")
    happened: ClockText | None = Field(default=None, title="When it was done")
    late_reason: Sentence | None = Field(default=None, title="Why it is written only now")
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("result", "missing"): "Choose fine or not fine.",
    }


class BackForm(FormModel):
    reason: Sentence = Field(title="Why it is taken back")
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {("reason", "missing"): "Say why it is taken back."}


@router.post("/{recurring_id}/fine")
def fine(
    recurring_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[FineForm], Depends(posted(FineForm))],
) -> Response:  # fmt: skip
    """One press on the list: made now, and fine."""
    if p.value is None:
        raise Invalid(p.first_error, dict(p.errors))
    with data.writing() as session:
        asked = DoneAsked(once=p.value.once, check_id=recurring_id, result=Result.FINE)
        done = do_check(session, actor, now, asked).result
        here = f"/recurring-checks/{recurring_id}"
        flash(session, request, f"{done['what']}: fine.", here, "Look at it or take it back")
    return RedirectResponse("/recurring-checks", 303)


@router.get("/{recurring_id}/record")
def ask(
    recurring_id: Id, request: Request, data: Data, now: Now, result: Literal["fine", "not-fine", ""] = ""
) -> Response:
    """The form; a phone offers its camera."""
    return _page(request, data, now, recurring_id, filled(once=uuid.uuid4().hex, result=result))


@router.post("/{recurring_id}/record", max_body_size=MAX_UPLOAD_BODY)
def record(
    recurring_id: Id, request: Request, data: Data, now: Now, actor: Signed, settings: Config,
    p: Annotated[Posted[RecordForm], Depends(posted(RecordForm, uploads=True))],
) -> Response:  # fmt: skip
    """Make the photograph anew, outside of the transaction, then write the check down."""
    require(actor, Permission.DO_CHECKS)
    photo = _photo(p)
    if p.value is not None:
        said = p.value
        try:
            with data.writing() as session:
                asked = DoneAsked(
                    once=said.once, check_id=recurring_id, result=Result(said.result), sentence=said.sentence,
                    done_about=said.done_about, happened_at=_instant(said.happened, shop_zone(session)),
                    late_reason=said.late_reason or "", photo=photo,
                )  # fmt: skip
                done = do_check(session, actor, now, asked, settings.files).result
                flash(session, request, _told(done))
            return RedirectResponse(f"/recurring-checks/{recurring_id}", 303)
        except Invalid as wrong:
            if "happened_at" in wrong.errors:
                wrong.errors["happened"] = wrong.errors.pop("happened_at")
            p.take(wrong, "happened" if wrong.readings else "sentence")
    return _page(request, data, now, recurring_id, p, 422)


def _photo(p: Posted[Any]) -> PhotoFile | None:
    file = p.upload("photo")
    if file is None:
        return None
    try:
        return remake_photo(file.name, file.content)
    except Invalid as wrong:
        p.refuse("photo", wrong.sentence)
        return None


def _instant(happened: datetime | None, zone: Any) -> datetime | None:
    if happened is None:
        return None
    try:
        return to_instant(happened, zone)
    except Invalid as wrong:
        raise Invalid(wrong.sentence, {"happened": wrong.sentence}, wrong.readings) from None


def _told(done: Mapping[str, Any]) -> str:
    late = " It is marked as a late entry." if done["late"] else ""
    if done["failed"]:
        return f"{done['what']}: not fine. It is owed until a later check is fine.{late}"
    return f"{done['what']}: written down.{late}"


def _page(
    request: Request, data: Data, now: Now, recurring_id: int, p: Posted[Any], status: int = 200
) -> Response:
    with data.reading() as session:
        today = shop_today(session, now)
        seen = seen_check(session, recurring_id, today)
        context = {
            "p": p, "id": recurring_id, "card": card(seen, today), "facts": facts(session, seen, today)[:4],
            "results": RESULTS, "accept": ACCEPT,
        }  # fmt: skip
    return page(request, "recurring/record.html", context, status, section="records")


@router.get("/{recurring_id}/entries/{entry_id}/photo")
def photo(recurring_id: Id, entry_id: Id, data: Data, settings: Config) -> Response:
    """The picture as it was made anew; whatever it holds, it runs nowhere here."""
    with data.reading() as session:
        content = read_check_photo(session, recurring_id, entry_id, settings.files)
    headers = {
        "Content-Disposition": f'inline; filename="check-{recurring_id}-{entry_id}.jpg"',
        "Content-Security-Policy": "sandbox; default-src 'none'",
        "X-Content-Type-Options": "nosniff",
    }
    return Response(content, media_type=KEPT_AS, headers=headers)


@router.get("/entries/{entry_id}/take-back")
def ask_back(entry_id: Id, request: Request, data: Data) -> Response:
    """Why it is taken back."""
    return _back_page(request, data, entry_id, filled(once=uuid.uuid4().hex))


@router.post("/entries/{entry_id}/take-back")
def take_back(
    entry_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[BackForm], Depends(posted(BackForm))],
) -> Response:  # fmt: skip
    """An entry of its own that takes it back; nothing is erased."""
    if p.value is not None:
        try:
            with data.writing() as session:
                asked = TakeBackAsked(p.value.once, entry_id, p.value.reason)
                done = take_back_check(session, actor, now, asked).result
                more = " It is owed as not fine again." if done["failed"] else ""
                flash(session, request, f"{done['what']}: the entry was taken back.{more}")
            return RedirectResponse(f"/recurring-checks/{done['check']}", 303)
        except Invalid as wrong:
            p.take(wrong, "reason")
    return _back_page(request, data, entry_id, p, 422)


def _back_page(request: Request, data: Data, entry_id: int, p: Posted[Any], status: int = 200) -> Response:
    with data.reading() as session:
        entry = session.get(CheckDone, entry_id)
        if entry is None:
            raise NotFound(f"There is no check entry number {entry_id}.")
        context = {"p": p, "id": entry_id, "check": entry.check_id}
    return page(request, "recurring/take_back.html", context, status, section="records")
