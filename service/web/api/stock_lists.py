"""`/api/stock-lists`: a whole stock list by a call: the dry run, what its unknown names are, taking it in."""

from datetime import date
from typing import Annotated, Any, ClassVar, Final

from fastapi import APIRouter
from pydantic import BaseModel, Field, field_validator
from sqlmodel import Session

from service.actions.check_list import CheckedList, GoodLine
from service.actions.take_list import (
    Brought,
    TakeAsked,
    bring_list,
    choose_materials,
    choose_places,
    look_at_list,
    say_another,
    take_list,
)
from service.core.access import Actor
from service.core.containers import AmountKnown, Condition
from service.core.stock_list import EmptyOpened
from service.core.stock_list_file import MOST_BYTES
from service.web.access_gate import Signed
from service.web.api.posting import PROBLEMS, FindingOut
from service.web.api_model import ApiModel
from service.web.deps import Data, Now, Secrets, shop_today
from service.web.fields import Id, Once
from service.web.text_guard import sentence

router = APIRouter(prefix="/api/stock-lists", tags=["containers"], responses=PROBLEMS)

MAX_LIST_BODY: Final = 2 * MOST_BYTES + 100_000
"""Bytes of a request with a list in it: in JSON a sign may take two."""
_SHOWN: Final = 1000


Key = Annotated[str, Field(pattern="^[0-9a-f]{16}$")]


class ListIn(ApiModel):
    """A list as text. Lines are parted by line ends, cells by commas, semicolons or tabs."""

    whole_files: ClassVar = frozenset({"csv"})

    csv: str = Field(
        max_length=MOST_BYTES, description="The whole file; its first line names the columns",
        examples=["material,kind,amount,opened\nRaw umber,dry pigment,250 g,sealed\n"],
    )
    name: Annotated[str, Field(max_length=120)] = "list.csv"
    empty_opened: EmptyOpened = Field(EmptyOpened.ASK, description="What an empty cell under opened means")
    again: bool = Field(False, description="Lines taken with an earlier list are containers that came again")
    materials: dict[Key, Annotated[str, Field(max_length=80)]] = Field(
        {}, max_length=400,
        description="What names the book does not know are, by `key` of an earlier answer: "
        "known:KEY, material:NUMBER or new:FORM",
    )
    places: dict[Key, Annotated[str, Field(pattern="^place:(none|[0-9]{1,9})$")]] = Field(
        {}, max_length=400,
        description="Which places are meant by names no place has, by `key`: place:NUMBER, or place:none "
        "when nobody knows",
    )
    another: list[Key] = Field(
        [], max_length=1000,
        description="Keys of `questions` of an earlier answer whose lines are cans of their own",
    )

    @field_validator("csv", mode="before")
    @classmethod
    def _bytes(cls, value: Any) -> Any:
        """A sign that cannot be seen is the problem of its line; half a sign cannot be kept at all."""
        if isinstance(value, str):
            try:
                value.encode()
            except UnicodeEncodeError as error:
                line = value.count("\n", 0, error.start) + 1
                raise sentence(f"Line {line} holds signs that cannot be read.") from None
        return value


class TakeIn(ApiModel):
    once: Once
    good_lines: bool = Field(False, description="Leave lines with problems out; else all or nothing")


class ProblemOut(BaseModel):
    line: int = Field(description="In the file; the header is line 1")
    column: str
    found: str
    expected: str
    mend: str


class NameOut(BaseModel):
    """A name that the book has no material for."""

    key: str
    name: str
    lines: list[int]
    published: list[str] = Field(description="Keys of published facts it may mean")
    in_book: list[int] = Field(description="Numbers of materials of that name")
    chosen: str
    wrong: str


class PlaceOut(BaseModel):
    """A name that no place of the book has."""

    key: str
    name: str
    lines: list[int]
    chosen: str


class QuestionOut(BaseModel):
    """A line that looks like a container of the book, or says what another line says."""

    key: str
    line: int
    sentence: str
    container: str = Field(description="Code of the container it looks like; empty for a line written twice")
    answered: bool


class LineOut(BaseModel):
    """A line that can be taken in, with all that was read; null and "" are not known."""

    line: int
    material: str
    material_id: int | None = Field(description="Null while the book does not have it")
    named: str = Field(description="As the list calls it")
    maker: str
    count: int
    amount: str = Field(description="What each holds, in words")
    smallest: int | None = Field(description="The same in whole mg, microlitres or pieces")
    known: AmountKnown
    how: str
    capacity: str
    packed: date | None
    received: date | None
    opened: bool
    opened_on: date | None
    printed_date: date | None
    place_id: int | None
    place: str
    lot: str
    supplier: str
    condition: Condition
    code: str
    note: str
    remarks: list[str] = Field(description="What was read otherwise than as written")


class LookAnswer(BaseModel):
    """The dry run: nothing is written down by it."""

    id: int
    containers: int
    good_lines: int
    wrong_lines: int
    problems: list[ProblemOut] = Field(description=f"The first {_SHOWN}")
    lines: list[LineOut] = Field(description=f"The good lines, the first {_SHOWN}")
    names: list[NameOut]
    places: list[PlaceOut]
    questions: list[QuestionOut] = Field(description=f"The first {_SHOWN}")
    left_aside: list[str]
    columns_not_read: list[str]
    taken: bool


class TakenAnswer(BaseModel):
    id: int
    lines: int
    containers: int
    materials: list[str] = Field(description="Names written down by it")
    left_out: int
    findings: list[FindingOut]


@router.post("", status_code=201, summary="Bring a stock list: the dry run", max_body_size=MAX_LIST_BODY)
def bring(asked: ListIn, data: Data, now: Now, actor: Signed) -> LookAnswer:
    """Keeps the file and answers what would be taken in and what is wrong. Brought again it is the same."""
    with data.writing() as session:
        brought = Brought(asked.name, asked.csv.encode(), asked.empty_opened, asked.again)
        row = bring_list(session, actor, now, brought)
        assert row.id is not None
        if asked.materials:
            choose_materials(session, actor, row.id, dict(asked.materials))
        if asked.places:
            choose_places(session, actor, row.id, dict(asked.places))
        if asked.another:
            day = shop_today(session, now)
            say_another(session, actor, day, row.id, dict.fromkeys(asked.another, True))
        return _answer(session, actor, now, row.id)


@router.get("/{list_id}", summary="Look at a stock list again")
def look(list_id: Id, data: Data, now: Now, actor: Signed) -> LookAnswer:
    """The dry run anew, against the book as it is now."""
    with data.reading() as session:
        return _answer(session, actor, now, list_id)


@router.post("/{list_id}/take", status_code=201, summary="Take a stock list in")
def take(list_id: Id, asked: TakeIn, data: Data, now: Now, actor: Signed, secrets: Secrets) -> TakenAnswer:
    """Every line in one transaction, or none; with `good_lines` those with problems stay out."""
    with data.writing() as session:
        wanted = TakeAsked(asked.once, list_id, asked.good_lines)
        return TakenAnswer(**take_list(session, actor, now, wanted, secrets).result)


def _answer(session: Session, actor: Actor, now: Now, list_id: int) -> LookAnswer:
    row, checked = look_at_list(session, actor, shop_today(session, now), list_id)
    return LookAnswer(
        id=list_id,
        containers=checked.containers,
        good_lines=len(checked.good),
        wrong_lines=checked.lines_wrong,
        problems=[_problem(one.as_dict()) for one in checked.problems[:_SHOWN]],
        names=[
            NameOut(
                key=one.key, name=one.first.material, lines=list(one.lines),
                published=[known.key for known in one.published],
                in_book=[similar.id for similar in one.similar if similar.id is not None],
                chosen=one.chosen, wrong=one.wrong,
            )
            for one in checked.proposals
        ],
        lines=[_line(one, checked) for one in checked.good[:_SHOWN]],
        places=[
            PlaceOut(key=one.key, name=one.name, lines=list(one.lines), chosen=one.chosen)
            for one in checked.places
        ],
        questions=[
            QuestionOut(
                key=one.key, line=one.line, sentence=one.sentence, container=one.code, answered=one.answered
            )
            for one in checked.questions[:_SHOWN]
        ],
        left_aside=[f"line {line}: {why}" for line, why in checked.aside],
        columns_not_read=list(checked.ignored),
        taken=row.taken_at is not None,
    )  # fmt: skip


def _line(one: GoodLine, checked: CheckedList) -> LineOut:
    line = one.line
    return LineOut(
        line=line.line, material=one.name, material_id=one.asked.material_id or None, named=line.material,
        maker=line.maker, count=line.count, amount=one.amount, smallest=one.holds.change,
        known=one.holds.known, how=one.holds.how, capacity=line.capacity, packed=line.packed,
        received=line.received, opened=line.open_, opened_on=line.opened, printed_date=line.printed_date,
        place_id=one.asked.place_id, place=checked.places_offered.get(one.asked.place_id or 0, ""),
        lot=line.lot, supplier=line.supplier, condition=line.condition, code=one.asked.code, note=line.note,
        remarks=list(line.remarks),
    )  # fmt: skip


def _problem(one: dict[str, Any]) -> ProblemOut:
    return ProblemOut(**one)
