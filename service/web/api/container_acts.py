"""`POST /api/containers/{code}/…`: everything that is done to a container, the same acts as the pages."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Annotated, Any

from fastapi import APIRouter, Response
from pydantic import BaseModel, Field

from service.actions import container_events as events
from service.actions.check_condition import CheckAsked, check_condition
from service.actions.count_stock import CountAsked, CountedBy, count
from service.actions.decant import DecantAsked, decant
from service.actions.draw_stock import DrawAsked, Measured, ReturnAsked, draw, put_back
from service.actions.lose_stock import DiscardAsked, LossAsked, LossKind, discard, lose
from service.actions.settle import Settled
from service.actions.tell_keeper import TellAsked, tell_keeper
from service.core.access import Actor
from service.core.conditions import Found
from service.core.ledger import Destination
from service.core.life_facts import CheckOutcome
from service.web.access_gate import Signed
from service.web.api.containers import CodePath
from service.web.api.posting import PROBLEMS, FindingOut, PlaceRef, PostModel, acting_for, place_number
from service.web.deps import Data, Now, Secrets
from service.web.fields import Id, Note

router = APIRouter(prefix="/api/containers/{code}", tags=["containers"], responses=PROBLEMS)

Written = Annotated[str, Field(max_length=200)]


class ActIn(PostModel):
    """Base of every act on a container."""

    already_done: bool = Field(
        False, description="It has happened: recorded, with a violation, even where it would be refused"
    )

    def common(self, code: str) -> dict[str, Any]:
        """What every asked act takes."""
        return {
            "once": self.once,
            "code": code,
            "happened_at": self.happened_at,
            "already_done": self.already_done,
            "late_reason": self.late_reason,
        }

    def rest(self) -> dict[str, Any]:
        """The act's own fields, under the names the actions use."""
        own = self.model_dump(exclude=set(ActIn.model_fields))
        return {_NAMES.get(name, name): value for name, value in own.items()}


_NAMES = {"job": "job_id", "place": "place_id", "batch": "batch_id", "waste_drum": "drum_id"}


class DrawIn(ActIn):
    how: Measured = Measured.AMOUNT
    amount: Written = Field("", description="As written: “1 1/2 tsp”", examples=["250 g"])
    before: Written = Field(
        "", description="A weight: of the container, or of the pot; a bare figure is grams"
    )
    after: Written = ""
    gross: Written = Field("", description="What the container weighs now; its empty weight must be known")
    job: Id | None = None
    looked: bool = Field(False, description="Looked at now and sound; asked where its standing is not known")
    more_than_book: bool = Field(False, description="There was more in it: counted and drawn together")
    opened_on: date | None = Field(
        None, description="When this breaks the seal; missing = the day of the draw"
    )
    opening_not_known: bool = False


class ReturnIn(ActIn):
    how: Measured = Measured.AMOUNT
    amount: Written = ""
    before: Written = ""
    after: Written = ""
    job: Id | None = None
    batch: Id | None = Field(None, description="The running batch it was drawn for and did not go into")
    note: Note = ""


class CountIn(ActIn):
    by: CountedBy = CountedBy.AMOUNT
    amount: Written = Field("", description="What is there, never a difference; “nothing” for none")
    gross: Written = ""
    tare: Written = Field("", description="The empty weight, kept for the next time")
    share: Written = Field("", description="How full it looks: “about half”")
    of_last: bool = Field(False, description="A share of the last known amount, not of what it holds")
    reason: Note = ""
    more_than_book: bool = Field(
        False, description="There was more in it than the book said before something unmeasured was taken"
    )


class LossIn(ActIn):
    loss: LossKind
    amount: Written = Field("", description="Missing = all of it")
    note: Note = ""
    job: Id | None = None
    more_than_book: bool = False
    waste_drum: Id | None = Field(None, description="The waste drum of the book it went into")
    confirmation: Note = Field("", description="How the condition is met where the drum asks for it")


class DiscardIn(ActIn):
    destination: Destination
    amount: Written = Field("", description="Missing = all of it, with the container")
    place: PlaceRef | None = Field(None, description="Number or code of the drum or can it went into")
    note: Note = ""
    job: Id | None = None
    waste_drum: Id | None = Field(
        None, description="The waste drum of the book it went into; `destination` is then `waste-drum`"
    )
    confirmation: Note = Field("", description="How the condition is met where the drum asks for it")


class MoveIn(ActIn):
    place: PlaceRef | None = Field(None, description="Number or code of the place")
    handed_to: Annotated[str, Field(max_length=120)] = ""
    job: Id | None = None
    note: Note = ""


class DecantIn(ActIn):
    amount: Written = Field("", description="What leaves it; missing = all of it")
    into: Annotated[str, Field(max_length=120)] = Field("", description="Missing = a new container")
    capacity: Annotated[str, Field(max_length=60)] = ""
    place: PlaceRef | None = None
    lost: Written = Field("", description="Out of the amount, lost on the way")
    lost_note: Note = ""
    looked: bool = False
    more_than_book: bool = False
    opened_on: date | None = None
    opening_not_known: bool = False
    job: Id | None = None


class CheckIn(ActIn):
    """One of ``found``, ``peroxide_mg_l`` and ``outcome`` (passed: sound, failed: not fit) is needed."""

    found: Found | None = Field(None, description="What was found; what follows is the shop's rule")
    outcome: CheckOutcome | None = None
    peroxide_mg_l: Decimal | None = Field(None, ge=0, le=100_000, description="What a peroxide strip showed")
    strained: Written = Field("", description="Strained out with a cut skin and thrown away")
    note: Note = ""
    job: Id | None = None


class TellIn(ActIn):
    """One of ``found`` and ``words`` is needed. It moves no date; a keeper then owes a look."""

    found: Found | None = Field(None, description="What was seen, of what such a material can show")
    words: Annotated[str, Field(max_length=300)] = Field("", description="What was seen, in a sentence")
    job: Id | None = Field(None, description="The running job; a student needs one")


class OpenIn(ActIn):
    opened_on: date | None = Field(None, description="Of the first opening; missing = the day of the act")
    not_known: bool = Field(False, description="Nobody knows when it was first opened")
    found_out: bool = Field(False, description="`opened_on` is the day of a first opening unknown until now")
    job: Id | None = None


class NotedIn(ActIn):
    note: Note = ""


class After(BaseModel):
    """The container after the act."""

    code: str
    shown: str
    material: str
    state: str
    amount: int | None
    basis: str | None
    known: str
    words: str


class ActAnswer(BaseModel):
    """What was booked. Amounts are whole mg, microlitres or pieces; null is not known, or not of this act."""

    posting: int
    repeated: bool = Field(description="The same key had been settled before; this is that answer again")
    container: After
    findings: list[FindingOut]
    movement: int | None = None
    event: int | None = None
    job: int | None = None
    rag_load: int | None = None
    drawn: int | None = None
    returned: int | None = None
    counted: int | None = None
    confirms: bool | None = None
    difference: int | None = None
    lost: int | None = None
    discarded: int | None = None
    where: str | None = None
    place: str | None = None
    handed_to: str | None = None
    movement_in: int | None = None
    into: After | None = None
    new_container: bool | None = None
    poured: int | None = None
    first: bool | None = None
    opened_on: date | None = None
    outcome: str | None = None
    found: str | None = None
    what_to_do: str | None = None
    standing: str | None = None
    in_date_until: date | None = None


def _answer(settled: Settled) -> ActAnswer:
    known = {name: value for name, value in settled.result.items() if name in ActAnswer.model_fields}
    return ActAnswer(posting=settled.posting_id, repeated=settled.repeated, **known)


def _post(data: Data, now: Now, actor: Actor, act: Any, asked: ActIn, wanted: Any, *more: Any) -> Response:
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        if isinstance(getattr(wanted, "place_id", None), str):
            wanted = replace(wanted, place_id=place_number(session, wanted.place_id, "place"))
        answer = _answer(act(session, person, now, wanted, *more))
        # Written out here: the framework would send it to a pool thread once more to check it again.
        return Response(answer.model_dump_json(), 201, media_type="application/json")


def _act(path: str, summary: str) -> Callable[[Callable[..., Response]], Callable[..., Response]]:
    return router.post(path, status_code=201, response_model=ActAnswer, summary=summary)


@_act("/draws", "Draw from it")
def post_draw(code: CodePath, asked: DrawIn, data: Data, now: Now, actor: Signed) -> Response:
    """Self-heating material is drawn for a job; without one a shop-work job opens by itself."""
    return _post(data, now, actor, draw, asked, DrawAsked(**asked.common(code), **asked.rest()))


@_act("/returns", "Put back what was drawn")
def post_return(code: CodePath, asked: ReturnIn, data: Data, now: Now, actor: Signed) -> Response:
    """Never more than is out; the rag load of the draw stays."""
    return _post(data, now, actor, put_back, asked, ReturnAsked(**asked.common(code), **asked.rest()))


@_act("/counts", "Say what is there")
def post_count(code: CodePath, asked: CountIn, data: Data, now: Now, actor: Signed) -> Response:
    """Within tolerance it confirms the book, beyond it the book follows."""
    return _post(data, now, actor, count, asked, CountAsked(**asked.common(code), **asked.rest()))


@_act("/losses", "Book a loss")
def post_loss(code: CodePath, asked: LossIn, data: Data, now: Now, actor: Signed) -> Response:
    """A loss has happened: it is never refused for rags, but recorded with a violation."""
    return _post(data, now, actor, lose, asked, LossAsked(**asked.common(code), **asked.rest()))


@_act("/discards", "Throw it away")
def post_discard(code: CodePath, asked: DiscardIn, data: Data, now: Now, actor: Signed) -> Response:
    """With its destination; drains and evaporation are none."""
    return _post(data, now, actor, discard, asked, DiscardAsked(**asked.common(code), **asked.rest()))


@_act("/moves", "Move it, or hand it out")
def post_move(code: CodePath, asked: MoveIn, data: Data, now: Now, actor: Signed) -> Response:
    """Nothing self-heating goes to work or out of the house while rags are overdue."""
    return _post(data, now, actor, events.move, asked, events.MoveAsked(**asked.common(code), **asked.rest()))


@_act("/decants", "Decant it")
def post_decant(
    code: CodePath, asked: DecantIn, data: Data, now: Now, actor: Signed, secrets: Secrets
) -> Response:
    """Into a new container, or an open one of the same material; dates, lot and hazards go with it."""
    wanted = DecantAsked(**asked.common(code), **asked.rest())
    return _post(data, now, actor, decant, asked, wanted, secrets)


@_act("/checks", "Look at its condition")
def post_check(code: CodePath, asked: CheckIn, data: Data, now: Now, actor: Signed) -> Response:
    """What follows from what was found is the shop's rule of that day: see the page of condition rules."""
    wanted = CheckAsked(**asked.common(code), **asked.rest())
    return _post(data, now, actor, check_condition, asked, wanted)


@_act("/told", "Tell a keeper what was seen in it")
def post_told(code: CodePath, asked: TellIn, data: Data, now: Now, actor: Signed) -> Response:
    """Until a check of its condition passes it is looked at before each use. It lifts nothing."""
    wanted = TellAsked(**asked.common(code), **asked.rest())
    return _post(data, now, actor, tell_keeper, asked, wanted)


@_act("/opened", "It was opened")
def post_opened(code: CodePath, asked: OpenIn, data: Data, now: Now, actor: Signed) -> Response:
    """The first opening is asked for its day once; "not known" is an answer."""
    wanted = events.OpenAsked(**asked.common(code), **asked.rest())
    return _post(data, now, actor, events.open_container, asked, wanted)


def _noted(code: str, asked: NotedIn) -> events.NotedAsked:
    return events.NotedAsked(**asked.common(code), **asked.rest())


@_act("/closed", "The lid is on again")
def post_closed(code: CodePath, asked: NotedIn, data: Data, now: Now, actor: Signed) -> Response:
    """Only of what is open."""
    return _post(data, now, actor, events.close_container, asked, _noted(code, asked))


@_act("/emptied", "It is empty")
def post_emptied(code: CodePath, asked: NotedIn, data: Data, now: Now, actor: Signed) -> Response:
    """Only where the book says nothing is left; else count it as nothing."""
    return _post(data, now, actor, events.call_empty, asked, _noted(code, asked))


@_act("/vapour-free", "It holds no vapour any more")
def post_vapour_free(code: CodePath, asked: NotedIn, data: Data, now: Now, actor: Signed) -> Response:
    """Only of what is empty; its storage rules end with it."""
    return _post(data, now, actor, events.vapour_free, asked, _noted(code, asked))


@_act("/relabelled", "It got a new label")
def post_relabelled(code: CodePath, asked: NotedIn, data: Data, now: Now, actor: Signed) -> Response:
    """With the same code."""
    return _post(data, now, actor, events.relabel, asked, _noted(code, asked))
