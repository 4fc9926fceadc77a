"""What `/api/waste-drums` takes and answers."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import BaseModel, Field

from service.core.materials import Unknown
from service.core.waste_drums import Area, DrumStep
from service.core.waste_rules import Category
from service.web.api.posting import FindingOut, PlaceRef, PostModel
from service.web.fields import Id, Name, Note, Sentence

Amount = Annotated[str, Field(max_length=200)]
Short = Annotated[str, Field(max_length=300)]


class CodeOut(BaseModel):
    """A code as judged or written when the drum was begun, or by what is in it; null: it may apply."""

    code: str
    applies: bool | None
    why: str
    citation: str
    grade: str


class DrumOut(BaseModel):
    """A drum as it stands today. ``leaves_by`` null: no time runs, or no rule was read (see ``findings``)."""

    id: int
    name: str
    stream: str
    hazards: str
    codes: list[CodeOut]
    acute: Unknown
    place: int | None
    area: Area | None = Field(description="Where it stands now; null: handed over")
    size: str = Field(description="As written; empty = not known")
    first_waste_on: date | None
    started: date | None = Field(description="The accumulation start date")
    over_since: date | None = Field(description="Since when its area holds too much, or may")
    leaves_by: date | None
    overdue: bool | None = Field(description="null: no rule was read of how long it may stand")
    rule: str
    grade: str
    kg: str
    kg_is_at_least: bool
    closed_on: date | None
    handed_over_on: date | None
    findings: list[FindingOut]


class SiteOut(BaseModel):
    """The whole site. ``category`` null: not known, and the shortest time counts."""

    category_told: Category | None
    category: Category | None
    haul_miles: int | None
    kg: str
    kg_is_at_least: bool
    cap_kg: str | None = Field(description="null: no cap, or no rule read")
    cap_exceeded: bool | None


class HandOverOut(BaseModel):
    drum: int
    name: str
    on: date
    receiver: str
    transporter: str
    paper: str
    kg: str | None = Field(description="Weighed; null = not known")


class DrumList(BaseModel):
    """What must leave first at the top."""

    today: date
    rules_read: bool = Field(description="False: no rule of this shop's law was read, so no clock is known")
    site: SiteOut | None
    drums: list[DrumOut]
    handed_over: list[HandOverOut]
    in_no_drum: list[int] = Field(description="Movements of discards of which nobody said which drum")
    findings: list[FindingOut]


class EntryOut(BaseModel):
    id: int
    step: DrumStep
    on: date
    kg: str | None
    litres: str | None
    what: str
    container: str
    load: int | None
    counts: bool = Field(description="False: taken back, or its movement was")
    takes_back: int | None
    by: str
    happened_at: datetime
    recorded_at: datetime
    late: bool
    late_reason: str
    note: str


class DrumWhole(DrumOut):
    entries: list[EntryOut]


class DrumIn(PostModel):
    """A drum to begin. What is left out is not known, and counts on the strict side."""

    name: Name
    stream: Sentence = Field(description="What goes in, in words")
    hazards: Sentence = Field(description="Its hazards, in words for the label")
    area: Area
    acute: Unknown = Field(Unknown.NOT_KNOWN, description="Not known counts as acute")
    place: PlaceRef | None = None
    capacity: Annotated[str, Field(max_length=60)] = ""
    first_waste_on: date | None = Field(None, description="Where something is in it already")
    holds: Amount = ""
    liquid: Unknown = Unknown.NOT_KNOWN
    flash: Decimal | None = Field(None, ge=-200, le=1000, description="Closed cup")
    flash_unit: Literal["C", "F"] = "C"
    self_heating: Unknown = Unknown.NOT_KNOWN
    spent: Unknown = Unknown.NOT_KNOWN
    ph: Decimal | None = Field(None, ge=-2, le=16)
    metals: Unknown = Field(Unknown.NOT_KNOWN, description="Whether metals may be in it: D004 to D011")
    codes: Annotated[str, Field(max_length=400)] = Field("", description="Parted by commas")
    codes_reason: Note = Field("", description="A sentence, needed with codes")


class EntryIn(PostModel):
    """What happened to a drum; amounts as people write them, empty = not known."""

    step: Literal["put-in", "over", "moved", "weighed", "closed"]
    amount: Amount = ""
    what: Short = ""
    load: Id | None = Field(None, description="A load of rags that was put in")
    place: PlaceRef | None = Field(None, description="Of a move: where it stands now; null: not known")
    note: Note = ""
    confirmation: Note = Field("", description="How the condition is met where the drum asks for it")


class HandOverIn(PostModel):
    receiver: Short
    transporter: Short
    paper: Annotated[str, Field(max_length=120)] = ""
    mass: Amount = Field("", description="Only if it was weighed")
    note: Note = ""


class SortIn(PostModel):
    movements: Annotated[list[Id], Field(min_length=1, max_length=200)]
    confirmation: Note = Field("", description="How the condition is met where the drum asks for it")


class BackIn(PostModel):
    reason: Short


class SiteIn(PostModel):
    category: Category | None = Field(None, description="null = not known: the shortest time counts")
    haul_miles: Annotated[int, Field(ge=0, le=20_000)] | None = None
    reason: Short


class DrumAct(BaseModel):
    posting: int
    repeated: bool
    drum: int | None = None
    entry: int | None = None
    findings: list[FindingOut]
