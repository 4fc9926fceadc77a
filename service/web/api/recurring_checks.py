"""`/api/recurring-checks`: how each stands, what was found at it, and taking an entry back."""

from datetime import date, datetime
from typing import Annotated, Any, Literal

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.actions.do_check import DoneAsked, TakeBackAsked, do_check, take_back_check
from service.actions.set_checks import ChangeCheck, CheckAsked, begin_check, end_check, give_check
from service.core.recurring_checks import MOST_TIMES, Counted, Result, Unit
from service.records.check_queries import SeenCheck, history_of, seen_check, seen_checks
from service.web.access_gate import Signed
from service.web.api.posting import (
    PROBLEMS,
    FindingOut,
    PersonRef,
    PlaceRef,
    PostModel,
    acting_for,
    person_number,
    place_number,
    told_now,
)
from service.web.deps import Data, Now, shop_today
from service.web.fields import Id, Version

router = APIRouter(prefix="/api", tags=["recurring checks"], responses=PROBLEMS)


class CheckOut(BaseModel):
    """A check as it stands today; `due` null = it has ended."""

    id: int
    what: str
    look_at: str
    place: str
    how_often: str
    source: str
    owner: int
    owner_name: str
    since: date
    until: date | None
    due: date | None
    late_days: int
    last_on: date | None = Field(description="null = never made, or nobody knows")
    last_result: Result | None
    failed: bool = Field(description="The newest entry says not fine")
    version: int


class CheckList(BaseModel):
    """What is due first."""

    today: date
    items: list[CheckOut]


class EntryOut(BaseModel):
    id: int
    result: Result
    sentence: str
    done_about: str
    photo: bool
    takes_back: int | None
    by: str
    on: date
    happened_at: datetime
    recorded_at: datetime
    late: bool
    late_reason: str


class CheckWhole(CheckOut):
    entries: list[EntryOut]


class CheckIn(PostModel):
    """A check to begin. With `known`, a key of the published list, what is missing is taken from its row."""

    owner: PersonRef
    known: Annotated[str, Field(max_length=60)] | None = None
    what: Annotated[str, Field(max_length=120)] = ""
    look_at: Annotated[str, Field(max_length=500)] = ""
    place: PlaceRef | None = None
    unit: Unit | None = None
    times: Annotated[int, Field(ge=1, le=MOST_TIMES)] | None = None
    counted: Counted | None = None
    source: Annotated[str, Field(max_length=300)] = Field(
        "", description="Missing: the row's, else house policy"
    )
    since: date | None = None
    until: date | None = None


class DoneIn(PostModel):
    """What came out of a check."""

    result: Literal["fine", "not-fine"]
    sentence: Annotated[str, Field(max_length=2000)] = Field("", description="What is not fine")
    done_about: Annotated[str, Field(max_length=2000)] = ""


class OwnerIn(PostModel):
    owner: PersonRef
    version: Version


class EndIn(PostModel):
    """Its last day; missing = today."""

    until: date | None = None
    reason: Annotated[str, Field(max_length=300)]
    version: Version


class BackIn(PostModel):
    reason: Annotated[str, Field(max_length=300)]


class ActOut(BaseModel):
    posting: int
    repeated: bool
    check: int
    entry: int | None = None
    failed: bool | None = Field(None, description="Whether it stands as not fine now")
    version: int | None = None
    findings: list[FindingOut]


def _shown(seen: SeenCheck) -> dict[str, Any]:
    row, state = seen.row, seen.state
    return {
        "id": seen.number, "what": row.what, "look_at": row.look_at, "place": seen.place,
        "how_often": seen.plan.interval.words, "source": row.source, "owner": row.owner_id,
        "owner_name": seen.owner, "since": row.since, "until": row.until, "due": state.due,
        "late_days": state.late_days, "last_on": state.last.on if state.last else None,
        "last_result": state.last.result if state.last else None, "failed": state.failed,
        "version": row.version,
    }  # fmt: skip


@router.get("/recurring-checks", summary="Recurring checks as they stand")
def checks(data: Data, now: Now, ended: bool = False) -> CheckList:
    """What is due first; with `ended` also those that do not hold any more."""
    with data.reading() as session:
        today = shop_today(session, now)
        items = [CheckOut(**_shown(one)) for one in seen_checks(session, today, ended=ended)]
        return CheckList(today=today, items=items)


@router.post("/recurring-checks", status_code=201, summary="Set a recurring check")
def post_check(asked: CheckIn, data: Data, now: Now, actor: Signed) -> ActOut:
    """From a row of the published list, or the shop's own; where no rule is named it is house policy."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = CheckAsked(
            once=asked.once, owner=person_number(session, asked.owner, "owner") or 0, known=asked.known,
            what=asked.what, look_at=asked.look_at, place_id=place_number(session, asked.place, "place"),
            unit=asked.unit, times=asked.times, counted=asked.counted, source=asked.source, since=asked.since,
            until=asked.until,
        )  # fmt: skip
        return _answer(begin_check(session, person, now, wanted))


@router.get("/recurring-checks/{recurring_id}", summary="One check with its entries")
def one_check(recurring_id: Id, data: Data, now: Now) -> CheckWhole:
    """The newest first; those taken back stand among them."""
    with data.reading() as session:
        seen = seen_check(session, recurring_id, shop_today(session, now))
        entries = [
            EntryOut(
                id=row.id or 0, result=row.result, sentence=row.sentence, done_about=row.done_about,
                photo=row.photo_sha256 is not None, takes_back=row.reverses_id, by=who.name, on=row.on_day,
                happened_at=row.happened_at, recorded_at=row.recorded_at, late=row.late,
                late_reason=row.late_reason,
            )
            for row, who in history_of(session, recurring_id)
        ]  # fmt: skip
        return CheckWhole(**_shown(seen), entries=entries)


@router.post("/recurring-checks/{recurring_id}/entries", status_code=201, summary="A check was made")
def post_entry(recurring_id: Id, asked: DoneIn, data: Data, now: Now, actor: Signed) -> ActOut:
    """Not fine opens a duty of whoever sees to it, until a later one is fine."""
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = DoneAsked(
            once=asked.once, check_id=recurring_id, result=Result(asked.result), sentence=asked.sentence,
            done_about=asked.done_about, happened_at=asked.happened_at, late_reason=asked.late_reason,
        )  # fmt: skip
        return _answer(do_check(session, person, now, wanted))


@router.post("/recurring-checks/{recurring_id}/owner", summary="Who sees to a check")
def post_owner(recurring_id: Id, asked: OwnerIn, data: Data, now: Now, actor: Signed) -> ActOut:
    """A failure that stands is theirs from now on."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        owner = person_number(session, asked.owner, "owner")
        return _answer(
            give_check(session, person, now, ChangeCheck(asked.once, recurring_id, asked.version, owner))
        )


@router.post("/recurring-checks/{recurring_id}/end", summary="End a check")
def post_end(recurring_id: Id, asked: EndIn, data: Data, now: Now, actor: Signed) -> ActOut:
    """Its history stays."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = ChangeCheck(asked.once, recurring_id, asked.version, until=asked.until, reason=asked.reason)
        return _answer(end_check(session, person, now, wanted))


@router.post("/recurring-check-entries/{entry_id}/reversal", summary="Take an entry of a check back")
def post_reversal(entry_id: Id, asked: BackIn, data: Data, now: Now, actor: Signed) -> ActOut:
    """An own one of the same day; a keeper any."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        return _answer(
            take_back_check(session, person, now, TakeBackAsked(asked.once, entry_id, asked.reason))
        )


def _answer(done: Any) -> ActOut:
    names = ("check", "entry", "failed", "version")
    told = {name: done.result[name] for name in names if name in done.result}
    return ActOut(
        posting=done.posting_id, repeated=done.repeated, findings=done.result["findings"], **told
    )
