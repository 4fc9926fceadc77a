"""`/api/training`: who was taught what, who lacks what, a training for several people at once."""

from datetime import date, datetime
from typing import Annotated, Any

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.actions.do_check import TakeBackAsked
from service.actions.train import MOST_PEOPLE, TrainedAsked, take_back_training, train
from service.core.findings import Invalid
from service.core.training import Group
from service.records.training_queries import all_training, who_lacks
from service.web.access_gate import Signed
from service.web.api.posting import (
    PROBLEMS,
    FindingOut,
    PersonRef,
    PostModel,
    acting_for,
    person_number,
    told_now,
)
from service.web.api.recurring_checks import BackIn
from service.web.deps import Data, Now, shop_today, shop_zone
from service.web.fields import Id

router = APIRouter(prefix="/api", tags=["training"], responses=PROBLEMS)


class TrainingOut(BaseModel):
    id: int
    person: int
    name: str
    group: Group
    topic: str
    on: date
    taught_by: str
    note: str
    takes_back: int | None
    taken_back: bool
    recorded_by: str
    recorded_at: datetime
    late: bool
    late_reason: str


class LackOut(BaseModel):
    """`last` null: never taught. Else a material, `newer`, came into the group after that day."""

    person: int
    name: str
    group: Group
    last: date | None
    newer: str


class TrainingList(BaseModel):
    items: list[TrainingOut]
    lacking: list[LackOut]


class TrainedIn(PostModel):
    """A training that was held; one entry for each person and group."""

    people: Annotated[list[PersonRef], Field(min_length=1, max_length=MOST_PEOPLE)]
    groups: Annotated[list[Group], Field(min_length=1, max_length=len(Group))]
    topic: Annotated[str, Field(max_length=300)]
    taught_by: Annotated[str, Field(max_length=120)]
    on: date | None = Field(None, description="Missing = today; an earlier day needs `late_reason`")
    note: Annotated[str, Field(max_length=2000)] = ""


class TrainedOut(BaseModel):
    posting: int
    repeated: bool
    entries: list[int]
    findings: list[FindingOut]


@router.get("/training", summary="Who was taught what, and who lacks what")
def training(data: Data, now: Now, person: Id | None = None) -> TrainingList:
    """The newest day first; of one person if asked."""
    with data.reading() as session:
        here, found = who_lacks(session, shop_today(session, now), shop_zone(session))
        items = [
            TrainingOut(
                id=one.row.id or 0, person=one.row.person_id, name=one.person, group=one.row.material_group,
                topic=one.row.topic, on=one.row.on_day, taught_by=one.row.taught_by, note=one.row.note,
                takes_back=one.row.reverses_id, taken_back=one.gone, recorded_by=one.recorded_by,
                recorded_at=one.row.recorded_at, late=one.row.late, late_reason=one.row.late_reason,
            )
            for one in all_training(session, person)
        ]  # fmt: skip
        lacking = [
            LackOut(person=n.person, name=here[n.person].name, group=n.group, last=n.last, newer=n.newer)
            for n in found
            if person in (None, n.person)
        ]
        return TrainingList(items=items, lacking=lacking)


@router.post("/training", status_code=201, summary="A training was held")
def post_training(asked: TrainedIn, data: Data, now: Now, actor: Signed) -> TrainedOut:
    """Several people and groups at once. The day is `on`; leave `happened_at` out."""
    if asked.happened_at is not None:
        words = "Give the day of the training as `on`, and leave happened_at out."
        raise Invalid(words, {"happened_at": words})
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        people = [person_number(session, one, "people") or 0 for one in asked.people]
        wanted = TrainedAsked(
            once=asked.once, people=tuple(people), groups=tuple(asked.groups), topic=asked.topic,
            taught_by=asked.taught_by, on=asked.on, note=asked.note, late_reason=asked.late_reason,
        )  # fmt: skip
        return _trained(train(session, person, now, wanted))


@router.post("/training/{training_id}/reversal", summary="Take an entry of a training back")
def post_training_reversal(training_id: Id, asked: BackIn, data: Data, now: Now, actor: Signed) -> TrainedOut:
    """An own one of the same day; a keeper any."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = TakeBackAsked(asked.once, training_id, asked.reason)
        return _trained(take_back_training(session, person, now, wanted))


def _trained(done: Any) -> TrainedOut:
    entries = done.result.get("entries") or [done.result["entry"]]
    return TrainedOut(
        posting=done.posting_id, repeated=done.repeated, entries=entries, findings=done.result["findings"]
    )
