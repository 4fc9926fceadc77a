"""`/recipes/new` and `/recipes/{id}/edit`: writing a recipe line by line, with and without script.

Every press sends the whole form and gets it back; only "Save" writes. Fields of a line carry its number.
"""

import re
from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Literal

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.read_amount import remember_choice
from service.actions.read_recipe import LineAsked, read_line
from service.actions.write_recipe import MOST_LINES, RecipeAsked, revise_recipe, write_recipe
from service.core.access import Actor
from service.core.findings import Invalid
from service.core.materials import Basis
from service.core.mix_purposes import PURPOSE_HINTS, PURPOSE_WORDS, MixPurpose
from service.records.materials import Material
from service.records.mixing_queries import choosable_materials, lines_of, the_recipe, the_version
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now
from service.web.fields import Id, Name, Note, Once, Version, WrittenAmount
from service.web.forms import FormModel, Posted, filled, posted
from service.web.pages.recipes import fresh_once
from service.web.render import page

PURPOSES = [
    *((one.value, words, PURPOSE_HINTS[one]) for one, words in PURPOSE_WORDS.items()),
    ("", "No purpose said", ""),
]

router = APIRouter(prefix="/recipes", include_in_schema=False)

SHARES = [("mass", "By weight", "Parts of so many grams"), ("volume", "By volume", "Parts of so many ml")]
_PARTS = ("material", "amount", "note", "doubt")


class RecipeForm(FormModel):
    """All but the lines; those are read by their numbers."""

    name: Name = Field(title="Name of the recipe")
    makes: WrittenAmount | None = Field(default=None, title="How much it makes")
    shares_by: Literal["mass", "volume"] | None = Field(default=None, title="How parts are measured")
    purpose: Annotated[str, Field(max_length=60)] = Field(default="", title="What it is for")
    mix_purpose: MixPurpose | None = Field(default=None, title="What sort of mix it is")
    coverage: Annotated[str, Field(max_length=200)] = Field(default="", title="How far a litre goes")
    base: Annotated[int, Field(ge=1, le=60)] | None = Field(default=None, title="The number of the base line")
    note: Note = Field(default="", title="Remark")
    version: Version = 0
    step: Annotated[str, Field(max_length=20)] = "read"
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {("name", "missing"): "Give the recipe a name."}


Form = Annotated[Posted[RecipeForm], Depends(posted(RecipeForm))]


@router.get("/new")
def new(request: Request, data: Data) -> Response:
    """An empty recipe with room for two lines."""
    p = filled(once=fresh_once(), version=0)
    _number(p, [{}, {}])
    with data.reading() as session:
        return _page(request, session, p, None)


@router.post("/new")
def write(request: Request, p: Form, data: Data, now: Now, actor: Signed) -> Response:
    """One press on the form of a new recipe."""
    return _press(request, p, data, now, actor, None)


@router.get("/{recipe_id}/edit")
def edit(recipe_id: Id, request: Request, data: Data) -> Response:
    """The present version, ready to be changed into the next one."""
    with data.reading() as session:
        recipe = the_recipe(session, recipe_id)
        version = the_version(session, recipe)
        p = filled(
            once=fresh_once(), version=recipe.version, name=recipe.name, makes=version.makes_written,
            shares_by=version.shares_by.value if version.shares_by else "", purpose=recipe.purpose,
            note=version.note, mix_purpose=recipe.mix_purpose or "",
            coverage=version.coverage_written or "", base=version.base_position or "",
        )  # fmt: skip
        rows = lines_of(session, version.id or 0)
        _number(p, [{"material": str(r.material_id), "amount": r.written, "note": r.note} for r, _ in rows])
        return _page(request, session, p, recipe_id)


@router.post("/{recipe_id}/edit")
def revise(recipe_id: Id, request: Request, p: Form, data: Data, now: Now, actor: Signed) -> Response:
    """One press on the form of an edit."""
    return _press(request, p, data, now, actor, recipe_id)


def _press(
    request: Request, p: Posted[RecipeForm], data: Data, now: Now, actor: Actor, recipe_id: int | None
) -> Response:
    step = p.text("step")
    lines = _lines(p)
    _remember(data, actor, lines)
    if step != "save":
        p.errors.clear()
        p.readings.clear()
        _number(p, _moved(lines, step, len(_line_numbers(p))))
        with data.reading() as session:
            _judge(session, actor, p)
            return _page(request, session, p, recipe_id, 422 if p.errors else 200)
    _number(p, lines or [{}])
    with data.reading() as session:
        _judge(session, actor, p)
    form = p.value
    if form is not None:
        try:
            return _save(request, data, now, actor, form, recipe_id, _asked_lines(p))
        except Invalid as wrong:
            p.take(wrong, next(iter(wrong.errors), ""))
    with data.reading() as session:
        return _page(request, session, p, recipe_id, 422)


def _save(
    request: Request, data: Data, now: Now, actor: Actor, form: RecipeForm, recipe_id: int | None,
    lines: tuple[LineAsked, ...],
) -> Response:  # fmt: skip
    asked = RecipeAsked(
        form.once, form.name, lines, form.makes or "", Basis(form.shares_by) if form.shares_by else None,
        form.purpose, form.note, form.mix_purpose, form.coverage, form.base,
    )  # fmt: skip
    with data.writing() as session:
        if recipe_id is None:
            done = write_recipe(session, actor, now, asked).result
        else:
            done = revise_recipe(session, actor, now, recipe_id, form.version, asked).result
        said = " ".join(f["sentence"] for f in done["findings"][:3])
        words = f"You wrote version {done['version_number']} of {done['name']}. {said}".strip()
        flash(session, request, words)
        return RedirectResponse(f"/recipes/{done['recipe']}", 303)


def _lines(p: Posted[RecipeForm]) -> list[dict[str, str]]:
    """The lines with anything in them, in the order they stand on the page."""
    rows = [{part: p.text(f"{part}_{n}").strip() for part in _PARTS} for n in _line_numbers(p)]
    return [row for row in rows if row["material"] or row["amount"] or row["note"]][:MOST_LINES]


def _line_numbers(p: Posted[RecipeForm]) -> list[int]:
    """The lines on the page, empty ones too."""
    found = (re.fullmatch(r"(?:material|amount|note)_([0-9]{1,3})", name) for name in p.raw)
    return sorted({int(match[1]) for match in found if match})


def _number(p: Posted[Any], lines: list[dict[str, str]]) -> None:
    """Write the lines back into the form, numbered from nothing on."""
    for name in [n for n in p.raw if re.fullmatch(r"(material|amount|note|doubt)_[0-9]+", n)]:
        del p.raw[name]
    for at, line in enumerate(lines):
        for part in _PARTS:
            p.raw[f"{part}_{at}"] = line.get(part, "")
    p.raw["lines"] = str(len(lines))


def _moved(lines: list[dict[str, str]], step: str, shown: int) -> list[dict[str, str]]:
    """After a press on "another line", "up" or "take out"."""
    match = re.fullmatch(r"(up|out)-([0-9]{1,3})", step)
    if match and int(match[2]) < len(lines):
        at = int(match[2])
        line = lines.pop(at)
        if match[1] == "up":
            lines.insert(max(0, at - 1), line)
    if step == "line":
        lines += [{} for _ in range(max(shown, len(lines)) + 1 - len(lines))]
    elif not lines:
        lines.append({})
    return lines[:MOST_LINES]


def _remember(data: Data, actor: Actor, lines: list[dict[str, str]]) -> None:
    """Somebody tapped one of the readings of a doubtful amount: ask them once for this material."""
    tapped = [n for n in lines if n["doubt"] and n["amount"] != n["doubt"] and _number_of(n["material"])]
    if not tapped:
        return
    with data.writing() as session:
        for line in tapped:
            material = session.get(Material, _number_of(line["material"]))
            if material is not None:
                remember_choice(session, actor, material, line["doubt"][:200], line["amount"][:200])


def _number_of(text: str) -> int:
    return int(text) if re.fullmatch(r"[0-9]{1,9}", text) else 0


def _asked_lines(p: Posted[RecipeForm]) -> tuple[LineAsked, ...]:
    return tuple(
        LineAsked(_number_of(line["material"]), line["amount"], line["note"][:500]) for line in _lines(p)
    )


def _judge(session: Session, actor: Actor, p: Posted[RecipeForm]) -> None:
    """A sentence beside every line that cannot be read; empty lines are left alone."""
    for at, line in enumerate(_asked_lines(p)):
        p.raw[f"doubt_{at}"] = ""
        try:
            if len(line.amount) > 200:
                raise Invalid("Keep the amount under 200 letters.", {f"amount_{at}": "Keep it shorter."})
            if not line.amount:
                words = "Write how much, or “to suit”."
                raise Invalid(words, {f"amount_{at}": words})
            read_line(session, actor, line, at)
        except Invalid as wrong:
            p.take(wrong, next(iter(wrong.errors), ""))
            p.raw[f"doubt_{at}"] = line.amount if wrong.readings else ""


def _page(
    request: Request, session: Session, p: Posted[Any], recipe_id: int | None, status: int = 200
) -> Response:
    count = int(p.text("lines") or 1)
    context = {
        "p": p,
        "recipe_id": recipe_id,
        "action": f"/recipes/{recipe_id}/edit" if recipe_id else "/recipes/new",
        "back": f"/recipes/{recipe_id}" if recipe_id else "/recipes",
        "numbers": list(range(count)),
        "materials": [(m.id, m.name) for m in choosable_materials(session)],
        "shares": SHARES,
        "purposes": PURPOSES,
        "full": count >= MOST_LINES,
    }
    return page(request, "recipes/write.html", context, status, section="recipes")
