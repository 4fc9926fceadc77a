"""`/waste/drums`: drums with their clocks, a new one, the category of the site, discards in no drum."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import col, select

from service.actions.begin_drum import BeginDrumAsked, SiteAsked, begin_drum, tell_site
from service.actions.fill_drum import SortAsked, put_discards_in
from service.actions.look_at_drums import waste_record
from service.core.access import Actor, Permission, may
from service.core.findings import Invalid, Refused, Verdict
from service.core.materials import Unknown
from service.core.waste_drums import Area
from service.core.waste_rules import JURISDICTION_WORDS, Category
from service.outreach.csv_tables import written
from service.records.places import Place
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.csv_answers import as_csv
from service.web.deps import Data, Now, shop_today, shop_zone
from service.web.drum_table import drum_rows
from service.web.drum_words import (
    AREAS,
    CATEGORIES,
    HANDED_COLUMNS,
    YES_NO,
    card,
    handed_row,
    loose_rows,
    site_facts,
)
from service.web.fields import DayText, Id, Name, Note, NumberText, Once, Sentence
from service.web.forms import FormModel, Posted, filled, posted
from service.web.rag_notice import book_now
from service.web.render import page

router = APIRouter(prefix="/waste", include_in_schema=False)


class DrumForm(FormModel):
    """A drum to begin."""

    name: Name = Field(title="Name")
    stream: Sentence = Field(title="What goes in")
    hazards: Sentence = Field(title="Hazards")
    area: Area = Field(title="Area")
    acute: Unknown = Field(title="Acute waste")
    place: Id | None = Field(default=None, title="Place")
    capacity: Annotated[str, Field(max_length=60)] = Field(default="", title="Size")
    first_waste_on: DayText | None = Field(default=None, title="Day of the first waste")
    holds: Annotated[str, Field(max_length=200)] = Field(default="", title="How much is in it")
    liquid: Unknown = Field(default=Unknown.NOT_KNOWN, title="Liquid")
    flash: NumberText | None = Field(default=None, ge=-200, le=1000, title="Flash point")
    flash_unit: Annotated[str, Field(pattern="^[CF]$")] = Field(default="C", title="Its unit")
    self_heating: Unknown = Field(default=Unknown.NOT_KNOWN, title="Heats itself")
    spent: Unknown = Field(default=Unknown.NOT_KNOWN, title="Spent solvent")
    ph: NumberText | None = Field(default=None, ge=-2, le=16, title="pH")
    metals: Unknown = Field(default=Unknown.NOT_KNOWN, title="Metals")
    codes: Annotated[str, Field(max_length=400)] = Field(default="", title="Codes")
    codes_reason: Note = Field(default="", title="On whose word")
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("name", "missing"): "Give it a name that stands on it.",
        ("stream", "missing"): "Say what goes into it, in words.",
        ("hazards", "missing"): "Say what is dangerous about it: it must stand on the drum.",
        ("area", "missing"): "Choose where it is filled.",
        ("acute", "missing"): "Say whether it is acute waste; not known counts as acute.",
    }


class SiteForm(FormModel):
    """What counts for the whole site."""

    category: Category | None = Field(default=None, title="Generator category")
    haul_miles: Annotated[int, Field(ge=0, le=20_000)] | None = Field(default=None, title="Way in miles")
    reason: Sentence = Field(title="How you know it")
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {("reason", "missing"): "Say how you know it."}


class SortForm(FormModel):
    """Which drum some discards went into."""

    drum: Id = Field(title="Which drum")
    movements: Annotated[list[Id], Field(max_length=200)] = Field(default_factory=list, title="Discards")
    confirmation: Note = Field(default="", title="How its condition is met")
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {("drum", "missing"): "Choose a drum."}


def _key() -> str:
    return uuid.uuid4().hex


@router.get("/drums")
def listing(request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """What must leave first stands first; what is in no drum; what left."""
    return _listing(request, data, now, actor, filled(once=_key()))


def _listing(
    request: Request, data: Data, now: Now, actor: Actor, p: Posted[Any], status: int = 200,
    refused: Verdict | None = None,
) -> Response:  # fmt: skip
    with data.reading() as session:
        at, zone = book_now(session, now), shop_zone(session)
        record = waste_record(session, at)
    cards = [card(one, record.today) for one in record.drums]
    context = {
        "p": p, "refused": refused, "cards": cards, "site": site_facts(record),
        "law": JURISDICTION_WORDS[record.law] if record.law else "a law of which no rule is held",
        "verdict": Verdict.of(record.findings), "late": sum(one["late"] for one in cards),
        "loose": loose_rows(record, zone)[:200], "loose_many": len(record.in_no_drum),
        "drums": [(one["id"], one["name"]) for one in cards if not one["closed"]],
        "handed": [handed_row(one) for one in record.handed_over[:100]], "handed_columns": HANDED_COLUMNS,
        "may_keep": may(actor.role, Permission.WASTE_HAND_OVER),
    }  # fmt: skip
    return page(request, "waste/drums.html", context, status, section="records")


@router.get("/drums/drums.csv")
def as_file(data: Data, now: Now, actor: Signed) -> Response:
    """Drums and hand-overs, for a spreadsheet."""
    with data.reading() as session:
        return as_csv("waste-drums.csv", written(drum_rows(waste_record(session, book_now(session, now)))))


@router.post("/sort")
def sort(
    request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[SortForm], Depends(posted(SortForm))],
) -> Response:  # fmt: skip
    """Discards that named no drum went into this one."""
    refused = None
    if p.value is not None:
        try:
            with data.writing() as session:
                asked = SortAsked(
                    p.value.once, p.value.drum, tuple(p.value.movements), p.value.confirmation
                )
                done = put_discards_in(session, actor, now, asked).result
                many = f"{done['put_in']} {'discard' if done['put_in'] == 1 else 'discards'}"
                flash(session, request, f"{many} put into {done['name']}.")
            return RedirectResponse("/waste/drums", 303)
        except Invalid as wrong:
            p.take(wrong, "movements")
        except Refused as error:
            refused = error.verdict
    return _listing(request, data, now, actor, p, 409 if refused else 422, refused)


@router.get("/drums/site")
def ask_site(request: Request, data: Data, now: Now) -> Response:
    """The generator category and the way, as a keeper knows them."""
    with data.reading() as session:
        record = waste_record(session, book_now(session, now))
    told = record.told
    p = filled(
        once=_key(), category=told.category.value if told.category else "", haul_miles=told.haul_miles
    )
    return _site(request, data, now, p)


def _site(request: Request, data: Data, now: Now, p: Posted[Any], status: int = 200) -> Response:
    with data.reading() as session:
        record = waste_record(session, book_now(session, now))
    context = {"p": p, "categories": CATEGORIES, "site": site_facts(record),
               "verdict": Verdict.of(record.findings)}  # fmt: skip
    return page(request, "waste/site.html", context, status, section="records")


@router.post("/drums/site")
def told_site(
    request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[SiteForm], Depends(posted(SiteForm))],
) -> Response:  # fmt: skip
    """It counts from now on."""
    if p.value is not None:
        said = p.value
        try:
            with data.writing() as session:
                asked = SiteAsked(said.once, said.category, said.haul_miles, said.reason)
                tell_site(session, actor, now, asked)
                flash(session, request, "Written down. It counts from now on.")
            return RedirectResponse("/waste/drums", 303)
        except Invalid as wrong:
            p.take(wrong, "reason")
    return _site(request, data, now, p, 422)


@router.get("/drums/new")
def new(request: Request, data: Data, now: Now) -> Response:
    """A new drum."""
    unsure = dict.fromkeys(("liquid", "self_heating", "spent"), "not-known")
    return _new(request, data, now, filled(once=_key(), flash_unit="C", **unsure))


def _new(
    request: Request, data: Data, now: Now, p: Posted[Any], status: int = 200, refused: Verdict | None = None
) -> Response:
    with data.reading() as session:
        places = session.exec(select(Place).where(col(Place.active)).order_by(col(Place.name))).all()
        context = {
            "p": p, "refused": refused, "areas": AREAS, "yes_no": YES_NO, "today": shop_today(session, now),
            "places": [(one.id, one.name) for one in places], "units": [("C", "°C"), ("F", "°F")],
        }  # fmt: skip
    return page(request, "waste/new_drum.html", context, status, section="records")


@router.post("/drums/new")
def begin(
    request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[DrumForm], Depends(posted(DrumForm))],
) -> Response:  # fmt: skip
    """It is filled from now on."""
    said, refused = p.value, None
    if said is not None:
        told = {name: getattr(said, name) for name in type(said).model_fields if name != "place"}
        try:
            with data.writing() as session:
                done = begin_drum(session, actor, now, BeginDrumAsked(**told, place_id=said.place)).result
                flash(session, request, f"{done['name']} is begun. Put its label on it now.")
            return RedirectResponse(f"/waste/drums/{done['drum']}", 303)
        except Invalid as wrong:
            p.take(wrong, next(iter(wrong.errors), "name"))
        except Refused as error:
            refused = error.verdict
    return _new(request, data, now, p, 409 if refused else 422, refused)
