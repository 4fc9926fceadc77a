"""`/materials/N/components`: what it is made of, copied from section 3 of its sheet, line by line.

Every press sends the whole form and gets it back; only "Keep it" writes. Fields of a line carry its number.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Annotated, Any, ClassVar, Literal, TypeVar

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field

from service.actions.write_components import ComponentsAsked, component_of_row, write_components
from service.core.component_lines import MOST_COMPONENTS, Component, read_cas, read_share
from service.core.findings import Invalid
from service.core.hazards.classes import Route
from service.core.own_figures import LARGEST_M, estimates_text, read_estimates, read_limits
from service.core.written_classes import read_classes
from service.records.components import components_of
from service.records.material_queries import the_material
from service.records.materials import Material
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, Secrets
from service.web.fields import Id, Name, Note, NumberText, Once, Sentence, Version
from service.web.forms import FormModel, Posted, filled, judge, posted
from service.web.render import page

T = TypeVar("T")
router = APIRouter(prefix="/materials", include_in_schema=False)

KNOWN = [("not-known", "Not known"), ("none", "Examined, none"), ("listed", "As written below")]
Percent = Annotated[NumberText, Field(ge=0, le=100)]
Cas = Annotated[str, Field(max_length=20)]
Known = Literal["not-known", "none", "listed"]
LIMITS = [("not-known", "Not known"), ("none", "The sheet gives none"), ("listed", "As written below")]
Factor = Annotated[NumberText, Field(ge=1, le=LARGEST_M)]
_OWN = ("limits", "m_acute", "m_chronic", "ate")
_PARTS = ("name", "cas", "low", "high", "known", "classes", "own", *_OWN, "note")
_CHOICES = ("known", "own")


class LineForm(FormModel):
    """One line. A CAS number has its right check digit; an empty share is not known."""

    name: Name = Field(title="Name of the substance")
    cas: Cas = Field(default="", title="CAS number")
    low: Percent | None = Field(default=None, title="Lowest per cent")
    high: Percent | None = Field(default=None, title="Highest per cent")
    known: Known = Field(default="not-known", title="Its hazard classes")
    classes: Note = Field(default="", title="The classes")
    own: Known = Field(default="not-known", title="Limits of its own")
    limits: Note = Field(default="", title="The limits")
    m_acute: Factor | None = Field(default=None, title="M-factor, acute")
    m_chronic: Factor | None = Field(default=None, title="M-factor, chronic")
    ate: Note = Field(default="", title="Estimates of acute toxicity")
    note: Annotated[str, Field(max_length=500)] = Field(default="", title="Remark")
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("name", "missing"): "Write the substance as it stands in section 3 of the sheet.",
    }


class ComponentsForm(FormModel):
    """All but the lines; those are read by their numbers, each as a `LineForm`. The first stands here too."""

    name_0: Name | None = Field(default=None, title="Name of the substance")
    cas_0: Cas = Field(default="", title="CAS number")
    low_0: Percent | None = Field(default=None, title="Lowest per cent")
    high_0: Percent | None = Field(default=None, title="Highest per cent")
    known_0: Known = Field(default="not-known", title="Its hazard classes")
    classes_0: Note = Field(default="", title="The classes")
    own_0: Known = Field(default="not-known", title="Limits of its own")
    limits_0: Note = Field(default="", title="The limits")
    m_acute_0: Factor | None = Field(default=None, title="M-factor, acute")
    m_chronic_0: Factor | None = Field(default=None, title="M-factor, chronic")
    ate_0: Note = Field(default="", title="Estimates of acute toxicity")
    note_0: Annotated[str, Field(max_length=500)] = Field(default="", title="Remark")
    source: Sentence | None = Field(default=None, title="Which sheet")
    reason: Note = Field(default="", title="Why you change this")
    step: Annotated[str, Field(max_length=20)] = "read"
    version: Version
    once: Once


@router.get("/{material_id}/components")
def ask(request: Request, material_id: Id, data: Data, actor: Signed, secret: Secrets) -> Response:
    """What stands in the book, ready to be changed."""
    with data.reading() as session:
        material = the_material(session, material_id)
        rows = components_of(session, material_id)
    p = filled(version=material.version, once=secret(), source=rows[0].source if rows else "", reason="")
    _number(p, [_typed(component_of_row(row)) for row in rows] or [{}, {}])
    return _page(request, material, p)


@router.post("/{material_id}/components")
def keep(
    request: Request, material_id: Id, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[ComponentsForm], Depends(posted(ComponentsForm))],
) -> Response:  # fmt: skip
    """One press: another line, a line taken out, or all of it kept."""
    with data.reading() as session:
        material = the_material(session, material_id)
    step, typed = p.text("step"), _lines(p)
    if step != "keep":
        p.errors.clear()
        p.readings.clear()
        _number(p, _moved(typed, step))
        return _page(request, material, p)
    _number(p, typed or [{}])
    # Judged once more: shares as a sheet writes them, "<1", are plain figures by now.
    form = judge(ComponentsForm, p.raw).value
    lines = _read(p, typed)
    if form is None or p.errors:
        return _page(request, material, p, 422)
    asked = ComponentsAsked(form.once, form.version, lines, form.source or "", form.reason)
    try:
        with data.writing() as session:
            done = write_components(session, actor, now, material_id, asked).result
            words = f"What {done['name']} is made of is kept: {done['lines']} lines."
            if not done["lines"]:
                words = f"The shop's own lines for {done['name']} are taken away; what is published counts."
            flash(session, request, words)
            return RedirectResponse(f"/materials/{material_id}/hazards", 303)
    except Invalid as wrong:
        p.take(wrong, "source")
        return _page(request, material, p, 422)


def _read(p: Posted[Any], typed: list[dict[str, str]]) -> tuple[Component, ...]:
    """The lines as read; a sentence stands beside every field that cannot be."""
    for name in [n for n in p.errors if re.fullmatch(r"[a-z_]+_[0-9]+", n)]:
        del p.errors[name]
        p.readings.pop(name, None)
    lines: list[Component] = []
    for at, one in enumerate(typed):
        read = judge(LineForm, dict(one))
        for name, words in read.errors.items():
            p.refuse(f"{name}_{at}", words, read.readings.get(name, ()))
        if read.value is None:
            continue
        try:
            lines.append(_component(read.value, at))
        except Invalid as wrong:
            p.take(wrong)
    return tuple(lines)


def _component(line: LineForm, at: int) -> Component:
    """Raises Invalid with a sentence for every field of the line that cannot be read."""
    errors: dict[str, str] = {}

    def read(field: str, reader: Callable[[str], T], text: str, otherwise: T) -> T:
        try:
            return reader(text) if text.strip() else otherwise
        except Invalid as wrong:
            errors[f"{field}_{at}"] = wrong.sentence
            return otherwise

    cas = read("cas", read_cas, line.cas, "")
    nothing: tuple[str, ...] = ()
    classes = read("classes", read_classes, line.classes, nothing)
    limits = read("limits", read_limits, line.limits, nothing)
    estimates: dict[Route, Decimal] = {}
    estimates = read("ate", read_estimates, line.ate, estimates)
    for field, choice, text, words in (
        ("classes", line.known, line.classes, "Copy the classes from section 3 of the sheet"),
        ("limits", line.own, line.limits, "Copy the limits from section 3 of the sheet"),
    ):
        if choice != "listed" and text.strip():
            errors[f"{field}_{at}"] = f"You wrote {field} but chose another answer."
        elif choice == "listed" and not text.strip():
            errors[f"{field}_{at}"] = f"{words}, or choose another answer."
    if errors:
        raise Invalid(next(iter(errors.values())), errors)
    return Component(
        line.name, cas, line.low, line.high,
        None if line.known == "not-known" else classes,
        " ".join(line.note.split()),
        limits=None if line.own == "not-known" else limits,
        m_acute=line.m_acute, m_chronic=line.m_chronic, ate=estimates,
    )  # fmt: skip


def _typed(line: Component) -> dict[str, str]:
    return {
        "name": line.name,
        "cas": line.cas,
        "low": "" if line.low is None else f"{line.low:f}",
        "high": "" if line.high is None else f"{line.high:f}",
        "known": _choice(line.hazards),
        "classes": "\n".join(line.hazards or ()),
        "own": _choice(line.limits),
        "limits": "\n".join(line.limits or ()),
        "m_acute": "" if line.m_acute is None else f"{line.m_acute:f}",
        "m_chronic": "" if line.m_chronic is None else f"{line.m_chronic:f}",
        "ate": estimates_text(dict(line.ate)),
        "note": line.note,
    }


def _choice(told: tuple[str, ...] | None) -> str:
    return "not-known" if told is None else ("listed" if told else "none")


def _lines(p: Posted[Any]) -> list[dict[str, str]]:
    """The lines with anything in them, in the order they stand on the page."""
    typed = [part for part in _PARTS if part not in _CHOICES]
    found = (re.fullmatch(rf"(?:{'|'.join(typed)})_([0-9]{{1,3}})", n, re.ASCII) for n in p.raw)
    numbers = sorted({int(match[1]) for match in found if match})
    rows = [{part: p.text(f"{part}_{n}").strip() for part in _PARTS} for n in numbers]
    for row in rows:
        row["low"], row["high"] = read_share(row["low"], row["high"])
    return [row for row in rows if any(row[part] for part in typed)][:MOST_COMPONENTS]


def _number(p: Posted[Any], lines: list[dict[str, str]]) -> None:
    """Write the lines back into the form, numbered from nothing on."""
    for name in [n for n in p.raw if re.fullmatch(rf"({'|'.join(_PARTS)})_[0-9]+", n)]:
        del p.raw[name]
    for at, line in enumerate(lines):
        for part in _PARTS:
            p.raw[f"{part}_{at}"] = line.get(part, "") or ("not-known" if part in _CHOICES else "")
    p.raw["lines"] = str(len(lines))


def _moved(lines: list[dict[str, str]], step: str) -> list[dict[str, str]]:
    match = re.fullmatch(r"out-([0-9]{1,3})", step, re.ASCII)
    if match and int(match[1]) < len(lines):
        lines.pop(int(match[1]))
    if step == "line" or not lines:
        lines.append({})
    return lines[:MOST_COMPONENTS]


def _has_figures(p: Posted[Any], at: int) -> bool:
    """Whether the figures of a line are shown unfolded: something stands in them, or is wrong with them."""
    names = [f"{part}_{at}" for part in _OWN]
    return p.text(f"own_{at}") == "none" or any(p.text(name) or name in p.errors for name in names)


def _page(request: Request, material: Material, p: Posted[Any], status: int = 200) -> Response:
    count = int(p.text("lines") or 1)
    context = {
        "p": p,
        "m": material,
        "numbers": list(range(count)),
        "known": KNOWN,
        "own": LIMITS,
        "opened": [at for at in range(count) if _has_figures(p, at)],
        "full": count >= MOST_COMPONENTS,
    }
    return page(request, "materials/components.html", context, status, section="store")
