"""POST /api/calc/rag-deadline: when oily rags must be contained and gone, and whether they were."""

import re
from datetime import datetime
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo

from fastapi import APIRouter
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints, WithJsonSchema

from service.core.rag_deadline_calc import (
    RagAnswer,
    RagQuestion,
    strictest,
    work_out_all,
    zone_named,
)
from service.core.rag_deadlines import GRACE_MAX_MIN
from service.core.rags import (
    Floor,
    RagEntry,
    RagItem,
    RagStep,
    Receptacle,
    Removal,
    RemovalHow,
    Vessel,
    Water,
)
from service.records.knowledge_rags import rag_profiles

router = APIRouter(prefix="/api/calc", tags=["calculators"])

_WHEN = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}(:[0-9]{2}(\.[0-9]{1,6})?)?(Z|[+-][0-9]{2}:[0-9]{2})?"
)
_HOW_TO_WRITE = "Write a time like 2026-03-10T16:00 (local) or 2026-03-10T16:00+01:00, from 1970 to 2200."


def _when(value: object) -> datetime:
    if not isinstance(value, str) or len(value) > 40 or not _WHEN.fullmatch(value):
        raise ValueError(_HOW_TO_WRITE)
    try:
        written = datetime.fromisoformat(value)
    except ValueError:
        raise ValueError(_HOW_TO_WRITE) from None
    if not 1970 <= written.year <= 2200:
        raise ValueError(_HOW_TO_WRITE)
    return written


def _profile(value: object) -> str:
    key = value.strip().replace("-", "_").lower() if isinstance(value, str) and len(value) < 60 else ""
    if key not in rag_profiles():
        raise ValueError(f"The rag profiles known here: {', '.join(rag_profiles())}.")
    return key


def _zone(value: object) -> ZoneInfo:
    if not isinstance(value, str) or len(value) > 64:
        raise ValueError("Write the time zone as text, like Europe/Paris.")
    return zone_named(value)


def _dashes(value: object) -> object:
    """``in_can`` is read as ``in-can``."""
    return value.replace("_", "-") if isinstance(value, str) else value


_TIME_SCHEMA = {
    "type": "string",
    "maxLength": 40,
    "pattern": f"^{_WHEN.pattern}$",
    "description": "ISO 8601; with an offset, or without one as local wall clock in `time_zone`",
    "examples": ["2026-03-10T16:00"],
}
When = Annotated[datetime, BeforeValidator(_when), WithJsonSchema(_TIME_SCHEMA)]
Profile = Annotated[
    str, BeforeValidator(_profile), WithJsonSchema({"type": "string", "enum": list(rag_profiles())})
]
Zone = Annotated[
    ZoneInfo,
    BeforeValidator(_zone),
    WithJsonSchema(
        {
            "type": "string",
            "maxLength": 64,
            "examples": ["Europe/Paris"],
            "description": "IANA name of the zone whose wall clock counts",
        }
    ),
]
Step = Annotated[RagStep, BeforeValidator(_dashes)]
How = Annotated[RemovalHow, BeforeValidator(_dashes)]
Words = Annotated[str, StringConstraints(strip_whitespace=True, max_length=200, pattern=r"^[^\x00]*$")]
Lid = Annotated[bool, Field(strict=True)] | Literal["self_closing", "plain", "none"] | None
Told = Annotated[bool, Field(strict=True)] | None


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid")


class ReceptacleIn(_Strict):
    """Where the rags lie. What is left out or null is not known, and what is not known meets no clock."""

    material: Vessel | None = None
    lid: Lid = None
    self_closing: Told = None
    listed: Told = Field(default=None, description="listed or approved for oily waste")
    water: Water | None = None
    place_detached: Told = Field(default=None, description="the place stands apart from the building")
    floor: Floor | None = None
    distance_mm: Annotated[int, Field(strict=True, ge=0, le=1_000_000)] | None = Field(
        default=None, description="to the nearest thing that can burn, walls included"
    )

    def known(self) -> Receptacle:
        lid = self.lid if isinstance(self.lid, bool) or self.lid is None else self.lid != "none"
        closes = {"self_closing": True, "plain": False, "none": False}.get(str(self.lid))
        if self.self_closing is not None:  # two statements that differ: the stricter one
            closes = self.self_closing and closes is not False
        return Receptacle(
            material=self.material,
            lid=lid,
            self_closing=closes,
            listed=self.listed,
            water=self.water,
            place_detached=self.place_detached,
            floor=self.floor,
            distance_mm=self.distance_mm,
        )


class RemovalIn(_Strict):
    """Who took the rags. A removal without it is believed here, with a finding; the rag log refuses it."""

    how: How
    named: Words = ""
    permit: Words = ""


class EntryIn(_Strict):
    """One thing seen or done with the rags."""

    at: When
    step: Step
    receptacle: ReceptacleIn | None = None
    removal: RemovalIn | None = None

    def known(self) -> RagEntry:
        gone = self.removal
        removal = Removal(gone.how, gone.named, gone.permit) if gone else None
        return RagEntry(
            at=self.at,
            step=self.step,
            removal=removal,
            receptacle=self.receptacle.known() if self.receptacle else None,
        )


class RagDeadlineIn(_Strict):
    """The question: what was used until when, where, and what was done with it."""

    profiles: Annotated[list[Profile], Field(min_length=1, max_length=10)] = ["strict"]
    item: RagItem = RagItem.RAGS
    time_zone: Zone
    used_until: When
    shift_end: When | None = None
    job_end: When | None = None
    grace_min: Annotated[int, Field(strict=True, ge=0, le=GRACE_MAX_MIN)] = 0
    entries: Annotated[list[EntryIn], Field(max_length=200)] = []
    now: When | None = None


class BecauseOut(BaseModel):
    profile: str
    clock: str
    citation: str
    reading: str


class FindingOut(BaseModel):
    severity: str
    code: str
    sentence: str
    source: str
    about: str


class FactOut(BaseModel):
    ingredient: str
    property: str
    value: str
    unit: str
    source: str
    grade: str


class ByProfile(BaseModel):
    """What one profile says. Times carry the offset of ``time_zone``; minutes late are rounded up."""

    profile: str
    step: RagStep = Field(description="what counts; rags in what is no rag can count as loose")
    step_written: RagStep | None
    contain_by: datetime
    remove_by: datetime | None = Field(description="null: the text sets no time")
    contained: bool
    ended: bool
    overdue: bool = Field(description="past either clock now, or removed late")
    minutes_late: int = Field(description="of the remove clock when that is late, else of the contain clock")
    contain_minutes_late: int
    remove_minutes_late: int
    minutes_left: int | None = Field(description="until remove_by; null when that clock is met or not set")
    violation: bool
    sentence: str
    because: list[BecauseOut]
    findings: list[FindingOut]
    complete: bool
    data_used: list[FactOut]


class RagDeadlineOut(ByProfile):
    """The strictest answer, and beside it what each profile asked for says: texts disagree."""

    by_profile: list[ByProfile]
    agree: bool = Field(description="false when one profile calls it overdue or a violation and another not")


@router.post("/rag-deadline", summary="When oily rags must be contained and gone")
def rag_deadline(asked: RagDeadlineIn) -> RagDeadlineOut:
    """Works out both clocks of one lot of oily rags and judges what was done with them. Touches no stock.

    Figures do not replace the fire code in force where you work, nor the authority that reads it.
    """
    question = RagQuestion(
        zone=asked.time_zone,
        used_until=asked.used_until,
        item=asked.item,
        shift_end=asked.shift_end,
        job_end=asked.job_end,
        grace_min=asked.grace_min,
        entries=tuple(e.known() for e in asked.entries),
        now=asked.now,
    )
    answers = work_out_all(question, [rag_profiles()[key] for key in dict.fromkeys(asked.profiles)])
    return RagDeadlineOut(
        **_told(strictest(answers)),
        by_profile=[ByProfile(**_told(answer)) for answer in answers],
        agree=len({(answer.overdue, answer.violation) for answer in answers}) == 1,
    )


def _told(answer: RagAnswer) -> dict[str, Any]:
    plain = {name: getattr(answer, name) for name in ByProfile.model_fields if hasattr(answer, name)}
    return plain | {
        "because": [
            BecauseOut(profile=b.profile, clock=b.clock.value, citation=b.citation, reading=b.reading)
            for b in answer.because
        ],
        "findings": [FindingOut(**f.as_dict()) for f in answer.verdict],
        "complete": answer.verdict.complete,
        "data_used": [FactOut(**vars(f)) for f in answer.data_used],
    }
