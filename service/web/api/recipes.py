"""`/api/recipes`: writing recipes, and the stock check before mixing."""

from datetime import datetime
from decimal import Decimal
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field, computed_field

from service.actions.check_mix import MixAsked, MixCheck, check_mix, keep_check
from service.actions.read_recipe import LineAsked
from service.actions.settle import Settled
from service.actions.write_recipe import RecipeAsked, revise_recipe, write_recipe
from service.core.findings import Invalid
from service.core.materials import Basis
from service.core.mix_purposes import MixPurpose
from service.core.quantities import plain, show_amount
from service.core.shelf_codes import show_code
from service.records.mixing_queries import all_recipes, lines_of, the_recipe, the_version
from service.web.access_gate import Signed
from service.web.api.by_hand import ByHandOut, by_hand_out
from service.web.api.posting import PROBLEMS, FindingOut, PersonRef, PostModel, acting_for, told_now
from service.web.api_model import ApiModel
from service.web.deps import Data, Now
from service.web.fields import Id, Name, Note, Offset, Once, PageSize, Version, WrittenAmount

router = APIRouter(prefix="/api/recipes", tags=["mixing"], responses=PROBLEMS)


class LineIn(ApiModel):
    """One line; the order of the lines is the order of addition."""

    material: Id
    amount: WrittenAmount = Field(
        description="As written: “1 to 1 1/2 fl oz”, “3 parts”, “10 %”, “to suit”, “to suit, at most 2 tsp”"
    )
    note: Annotated[str, Field(max_length=500)] = ""


class RecipeIn(PostModel):
    """A recipe. ``makes`` is what the lines as written give; missing = nobody said."""

    name: Name
    lines: Annotated[list[LineIn], Field(min_length=1, max_length=60)]
    makes: Annotated[str, Field(max_length=200)] = ""
    shares_by: Basis | None = Field(None, description="How parts and per cent are measured: mass or volume")
    purpose: Annotated[str, Field(max_length=60)] = ""
    note: Note = ""
    mix_purpose: MixPurpose | None = Field(None, description="What sort of mix it is")
    coverage: Annotated[str, Field(max_length=200)] = Field(
        "", description="How far a litre goes, one coat: “5 to 9.8 m2/l”, “200 to 400 ft2/US gal”"
    )
    base: Annotated[int, Field(ge=1, le=60)] | None = Field(
        None, description="The number of the line, from 1, that “1 l of the base” is counted from"
    )

    def asked(self) -> RecipeAsked:
        lines = tuple(LineAsked(line.material, line.amount, line.note) for line in self.lines)
        return RecipeAsked(
            self.once, self.name, lines, self.makes, self.shares_by, self.purpose, self.note,
            self.mix_purpose, self.coverage, self.base,
        )  # fmt: skip


class RevisionIn(RecipeIn):
    """The next version of a recipe; ``version`` is the recipe's, as it was read."""

    version: Version


class WrittenOut(BaseModel):
    """What was written; ``version`` goes into the next edit."""

    posting: int
    repeated: bool
    recipe: int
    name: str
    version_number: int
    version: int
    findings: list[FindingOut]

    @computed_field  # type: ignore[prop-decorator]
    @property
    def id(self) -> int:
        """The same as ``recipe``."""
        return self.recipe


class LineOut(BaseModel):
    """A line. ``low`` to ``high`` in whole mg, microlitres or pieces by ``basis``; null where not written."""

    position: int
    material: int
    name: str
    amount: str
    low: int | None
    high: int | None
    basis: Basis | None
    share_low: Decimal | None
    share_high: Decimal | None
    to_suit: bool
    about: bool
    stocked: bool
    note: str


class RecipeBrief(BaseModel):
    id: int
    name: str
    purpose: str
    mix_purpose: MixPurpose | None
    active: bool
    current_version: int
    version: int


class RecipeOut(RecipeBrief):
    """One recipe in one of its versions."""

    version_number: int
    makes: str
    makes_amount: int | None
    makes_basis: Basis | None
    shares_by: Basis | None
    coverage: str | None
    coverage_low_m2_l: Decimal | None
    coverage_high_m2_l: Decimal | None
    base: int | None
    note: str
    written_at: datetime
    lines: list[LineOut]


class RecipeList(BaseModel):
    items: list[RecipeBrief]


class CheckIn(ApiModel):
    """How much to make: ``amount`` as written, or ``times``. Neither: once."""

    amount: Annotated[str, Field(max_length=200)] = Field(
        "",
        description="“2.5 times”, “500 ml”, “20 heads x 60 ml + 10 %”, “12 m2, 2 coats”, “1 l of the base”",
    )
    times: Annotated[Decimal, Field(gt=0, le=10_000, max_digits=20)] | None = None
    once: Once | None = Field(None, description="Not needed: a check draws nothing, each is a new look")
    happened_at: datetime | None = Field(None, description="It looks at the stock of now: leave this out")
    person: PersonRef | None = Field(None, description="Number or name; missing = the token's own")


class NeedOut(BaseModel):
    """What is needed of one material; ``high`` is what counts, null = not known, and ``why`` may say why.

    ``drawn_at_start`` is what a start draws of it; the rest is put in by hand.
    """

    material: int
    name: str
    low: int | None
    high: int | None
    basis: Basis | None
    words: str
    drawn_at_start: int
    why: str


class AllocationOut(BaseModel):
    """So much out of this container; what is not ``drawn_at_start`` is held back for a line to suit."""

    code: str
    shown: str
    material: int
    amount: int
    drawn_at_start: int
    basis: Basis | None
    words: str
    place: str
    why: str = Field(description="Why this one of several; empty where there is nothing to say")


class WeighOut(BaseModel):
    """Spoons that are weighed instead, in whole mg; null where nobody knows what a spoonful weighs."""

    position: int
    name: str
    instead_of: str
    low_mg: int | None
    high_mg: int | None
    words: str


class ShortageOut(BaseModel):
    """What is missing, in words with the unit the bench wrote."""

    material: int
    name: str
    needed: int
    missing: int
    basis: Basis | None
    words: str


class CheckOut(BaseModel):
    """The check result. ``complete`` is false while anything is not known; it is kept for seven days."""

    recipe: int
    version_number: int
    amount: str
    times: Decimal | None
    needs: list[NeedOut]
    allocations: list[AllocationOut]
    shortages: list[ShortageOut]
    by_hand: list[ByHandOut] = Field(description="Lines that are put in at the bench, in order of addition")
    weigh: list[WeighOut] = Field(description="Lines in spoons, where it is made more than four times")
    findings: list[FindingOut]
    complete: bool
    blocking: bool
    needs_job: bool = Field(description="Its rags can ignite by themselves, so it is made in a job")
    fingerprint: str


@router.get("", summary="The recipes of the shop")
def recipes(
    data: Data, active: bool = True, offset: Offset = 0, limit: PageSize = 100
) -> RecipeList:
    """By name; in use, or put away with ``active=false``."""
    with data.reading() as session:
        rows = all_recipes(session, active=active, limit=limit, offset=offset)
        return RecipeList(items=[_brief(row) for row in rows])


@router.post("", status_code=201, summary="Write a recipe")
def post_recipe(asked: RecipeIn, data: Data, now: Now, actor: Signed) -> WrittenOut:
    """Its lines keep what was written; what cannot meet the shelf without a density is a finding."""
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        return _written(write_recipe(session, person, now, asked.asked()))


@router.post("/{recipe_id}/versions", status_code=201, summary="Write its next version")
def post_version(recipe_id: Id, asked: RevisionIn, data: Data, now: Now, actor: Signed) -> WrittenOut:
    """Old versions stay as they are; 409 if somebody else wrote one meanwhile."""
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        return _written(revise_recipe(session, person, now, recipe_id, asked.version, asked.asked()))


@router.get("/{recipe_id}", summary="One recipe")
def one_recipe(recipe_id: Id, data: Data, version_number: Annotated[Id | None, Query()] = None) -> RecipeOut:
    """As it stands, or in an older version."""
    with data.reading() as session:
        recipe = the_recipe(session, recipe_id)
        version = the_version(session, recipe, version_number)
        lines = [
            LineOut(
                position=row.position, material=row.material_id, name=material.name, amount=row.written,
                low=row.low, high=row.high, basis=row.basis, share_low=row.share_low,
                share_high=row.share_high, to_suit=row.to_suit, about=row.about,
                stocked=not material.not_stocked, note=row.note,
            )
            for row, material in lines_of(session, version.id or 0)
        ]  # fmt: skip
        return RecipeOut(
            **_brief(recipe).model_dump(), version_number=version.number, makes=version.makes_written,
            makes_amount=version.makes_amount, makes_basis=version.makes_basis, shares_by=version.shares_by,
            coverage=version.coverage_written, coverage_low_m2_l=version.coverage_low_m2_l,
            coverage_high_m2_l=version.coverage_high_m2_l, base=version.base_position,
            note=version.note, written_at=version.created_at, lines=lines,
        )  # fmt: skip


@router.post("/{recipe_id}/check", summary="Check the stock before mixing")
def check(recipe_id: Id, asked: CheckIn, data: Data, now: Now, actor: Signed) -> CheckOut:
    """Needs, from which containers, what is short, and everything to read first. Nothing is drawn; the
    fingerprint starts or sets aside a batch.
    """
    if asked.amount.strip() and asked.times is not None:
        words = "Send the amount or the times, not both."
        raise Invalid(words, {"amount": words})
    amount = asked.amount.strip() or f"{plain(asked.times or Decimal(1))} times"
    told_now(asked.happened_at, now)
    with data.writing() as session:
        who = acting_for(session, actor, asked.person, now)
        mix = check_mix(session, who, now, MixAsked(recipe_id, amount))
        keep_check(session, who, now, mix)
        return checked_out(mix)


def _brief(row: object) -> RecipeBrief:
    return RecipeBrief.model_validate(row, from_attributes=True)


def _written(settled: Settled) -> WrittenOut:
    return WrittenOut(posting=settled.posting_id, repeated=settled.repeated, **settled.result)


def checked_out(mix: MixCheck) -> CheckOut:
    done = mix.check
    of = {n.material_id: n for n in done.needs}

    def say(amount: int | None, material: int) -> str:
        need = of[material]
        return show_amount(amount, need.basis, need.unit_written or None) if need.basis else "not known"

    return CheckOut(
        recipe=mix.recipe.id or 0,
        version_number=mix.version.number,
        amount=mix.how_much.written,
        times=None if mix.times is None else Decimal(mix.times.numerator) / Decimal(mix.times.denominator),
        needs=[
            NeedOut(
                material=n.material_id, name=n.name, low=n.low, high=n.high, basis=n.basis,
                words=say(n.high, n.material_id), drawn_at_start=n.at_start, why=n.why,
            )
            for n in done.needs
        ],
        allocations=[
            AllocationOut(
                code=a.code, shown=show_code(a.code), material=a.material_id, amount=a.amount,
                drawn_at_start=a.at_start, basis=of[a.material_id].basis,
                words=say(a.amount, a.material_id), place=a.place, why=a.why,
            )
            for a in done.allocations
        ],
        shortages=[
            ShortageOut(
                material=s.material_id, name=s.name, needed=s.needed, missing=s.missing, basis=s.basis,
                words=f"{say(s.missing, s.material_id)} of {s.name}",
            )
            for s in done.shortages
        ],
        by_hand=[by_hand_out(one) for one in done.by_hand],
        weigh=[
            WeighOut(
                position=w.position, name=w.name, instead_of=w.spoons, low_mg=w.low_mg, high_mg=w.high_mg,
                words=w.words,
            )
            for w in mix.weigh
        ],
        findings=[FindingOut(**f.as_dict()) for f in done.verdict],
        complete=done.verdict.complete,
        blocking=done.verdict.blocking,
        needs_job=mix.heats,
        fingerprint=done.fingerprint,
    )  # fmt: skip
