"""`/api/terms/{id}` written anew: its name, its days, and what is free in it."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter
from pydantic import Field

from service.actions.write_term import MOST_EXTRA, change_term
from service.core.school_calendar import MOST_FREE
from service.records.plan_queries import the_term
from service.web.access_gate import Signed
from service.web.api.posting import PROBLEMS, acting_for, told_now
from service.web.api.terms import FreeIn, TermIn, TermOut, Weekdays, term_asked, term_out
from service.web.deps import Data, Now
from service.web.fields import Id, Version

router = APIRouter(prefix="/api", tags=["planning"], responses=PROBLEMS)


class TermChangeIn(TermIn):
    """A term as it is to be, whole; ``version`` as it was read. Nothing may be missing: a holiday that
    somebody forgot to send would become a day with lessons."""

    version: Version
    weekdays: Weekdays
    country: Annotated[str, Field(max_length=2)]
    part: Annotated[str, Field(max_length=12)]
    breaks: bool
    free: Annotated[list[FreeIn], Field(max_length=MOST_FREE)]
    extra: Annotated[list[date], Field(max_length=MOST_EXTRA)]


@router.post("/terms/{term_id}", status_code=201, summary="Change a term")
def post_change(term_id: Id, asked: TermChangeIn, data: Data, now: Now, actor: Signed) -> TermOut:
    """What is planned stays on its days; the plan says which of them are no school days any more."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        change_term(session, person, now, term_id, asked.version, term_asked(asked))
        return term_out(the_term(session, term_id))
