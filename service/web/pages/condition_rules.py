"""`/policies/conditions`: what follows from a look at a container, on whose word; a keeper sets it anew."""

import uuid
from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Literal

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field, StringConstraints
from sqlmodel import Session, col, select

from service.actions.set_condition_rule import ConditionRuleAsked, set_condition_rule
from service.core.access import Permission, may
from service.core.conditions import (
    CONSEQUENCE_WORDS,
    FOUND_WORDS,
    ConditionRule,
    Consequence,
    Found,
    is_softer,
)
from service.core.findings import Invalid
from service.core.materials import KIND_WORDS, MaterialKind
from service.core.sources import GRADE_WORDS, Grade
from service.records.condition_queries import history_of, rules_in_force
from service.records.condition_rules import ConditionRuleRow
from service.records.knowledge_conditions import known_conditions
from service.records.people import Person
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, shop_zone
from service.web.fields import Note, Once, Sentence, Whole
from service.web.forms import FormModel, Posted, filled, posted
from service.web.peroxide_lines import PEROXIDE_COLUMNS, peroxide_lines
from service.web.render import day, page

router = APIRouter(prefix="/policies/conditions", include_in_schema=False)

ToDo = Annotated[Note, StringConstraints(max_length=500)]
_COLUMNS = [
    {"key": "found", "label": "Found"},
    {"key": "follows", "label": "What follows"},
    {"key": "do", "label": "What to do"},
    {"key": "word", "label": "Whose word"},
]
_GRADES = [(grade.value, words) for grade, words in GRADE_WORDS.items()]
_WORDS = [
    ("house", "This shop's own house policy", "No published rule stands behind it, and every page says so."),
    ("published", "A published source", "Named below, with its grade."),
]


class RuleForm(FormModel):
    kind: MaterialKind | None = Field(default=None, title="For which kind of material")
    consequence: Consequence = Field(title="What follows")
    what_to_do: ToDo = Field(default="", title="What to do")
    word: Literal["house", "published"] = Field(title="Whose word")
    source: Sentence | None = Field(default=None, title="Source")
    grade: Grade = Field(title="Grade of the source")
    reason: Note = Field(title="Why you set it")
    once: Once
    seen_id: Whole = 0
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("consequence", "missing"): "Choose what follows.",
        ("word", "missing"): "Choose whose word it is.",
        ("grade", "missing"): "Choose how well it is sourced.",
        ("reason", "missing"): "Enter why you set it.",
    }


@router.get("")
def listing(request: Request, data: Data) -> Response:
    """Every finding with the rule in force, and what institutions say of peroxides."""
    with data.reading() as session:
        lines = [_line(rule) for rule in rules_in_force(session)]
    context = {
        "columns": _COLUMNS, "lines": lines, "peroxide_columns": PEROXIDE_COLUMNS,
        "peroxides": peroxide_lines(),
    }  # fmt: skip
    return page(request, "policies/conditions.html", context, section="alerts")


def _grade(rule: ConditionRule) -> str:
    return GRADE_WORDS[Grade(rule.grade)] if rule.grade in tuple(Grade) else "grade not known"


def _line(rule: ConditionRule) -> dict[str, Any]:
    words = FOUND_WORDS[rule.found]
    name = f"{words[:1].upper()}{words[1:]}" + (f", {KIND_WORDS[rule.kind]} only" if rule.kind else "")
    href = f"/policies/conditions/{rule.found.value}"
    return {
        "found": {"href": href, "words": name},
        "follows": CONSEQUENCE_WORDS[rule.consequence],
        "do": rule.what_to_do or "nothing more",
        "word": {"lines": ["house policy" if rule.house_policy else "published", _grade(rule), rule.source]},
        "_act": {"href": href, "words": "Look at it"},
    }


@router.get("/{found}")
def show(request: Request, data: Data, actor: Signed, found: Found) -> Response:
    """One finding with its history."""
    with data.reading() as session:
        return _page(request, session, actor, found)


@router.post("/{found}")
def set_rule(
    request: Request, data: Data, now: Now, actor: Signed, found: Found,
    p: Annotated[Posted[RuleForm], Depends(posted(RuleForm))],
) -> Response:  # fmt: skip
    """What follows from it from now on."""
    form = p.value
    if form is not None:
        try:
            with data.writing() as session:
                done = set_condition_rule(session, actor, now, _asked(found, form)).result
                flash(session, request, _said(done))
            return RedirectResponse(f"/policies/conditions/{found.value}", 303)
        except Invalid as wrong:
            p.take(wrong)
    with data.reading() as session:
        return _page(request, session, actor, found, p, 422)


def _asked(found: Found, form: RuleForm) -> ConditionRuleAsked:
    return ConditionRuleAsked(
        once=form.once,
        found=found,
        kind=form.kind,
        consequence=form.consequence,
        what_to_do=form.what_to_do,
        source=form.source or "",
        grade=form.grade.value,
        house_policy=form.word == "house",
        reason=form.reason,
        seen_id=form.seen_id,
    )


def _said(done: dict[str, Any]) -> str:
    whom = f" in {done['for']}" if done["for"] else ""
    what, now = FOUND_WORDS[Found(done["found"])], CONSEQUENCE_WORDS[Consequence(done["consequence"])]
    return f"Set what follows from {what}{whom}: it {now}. Checks made before keep what followed then."


def _page(
    request: Request, session: Session, actor: Signed, found: Found, p: Posted[RuleForm] | None = None,
    status: int = 200,
) -> Response:  # fmt: skip
    rows = history_of(session, found)
    rules = [rule for rule in rules_in_force(session) if rule.found is found]
    keeper = may(actor.role, Permission.POLICIES)
    known = known_conditions()[found]
    kinds = [kind for kind in MaterialKind if not known.kinds or kind in known.kinds]
    words = FOUND_WORDS[found]
    context = {
        "name": f"{words[:1].upper()}{words[1:]}",
        "address": found.value,
        "hint": known.hint,
        "rules": [_facts(rule) for rule in rules],
        "past": _past(session, rows, shop_zone(session)),
        "keeper": keeper,
        "p": p or (_filled(rules[0]) if keeper else filled()),
        "once": p.text("once") if p else uuid.uuid4().hex,
        "seen_id": p.text("seen_id") if p else (rows[0].id if rows else 0),
        "consequences": [
            (one.value, CONSEQUENCE_WORDS[one][:1].upper() + CONSEQUENCE_WORDS[one][1:])
            for one in Consequence
            if not is_softer(one, known.softest)
        ],
        "kinds": [(kind.value, KIND_WORDS[kind]) for kind in kinds],
        "words": _WORDS,
        "grades": _GRADES,
    }
    return page(request, "policies/condition.html", context, status, section="alerts")


def _facts(rule: ConditionRule) -> dict[str, Any]:
    whose = "This shop's own house policy" if rule.house_policy else "Published"
    return {
        "for": KIND_WORDS[rule.kind] if rule.kind else "every material",
        "facts": [
            ("What follows", CONSEQUENCE_WORDS[rule.consequence]),
            ("What to do", rule.what_to_do or "nothing more"),
            ("Whose word", whose),
            ("Source", rule.source or "none named", _grade(rule)),
        ],
    }


def _filled(rule: ConditionRule) -> Posted[RuleForm]:
    return filled(
        consequence=rule.consequence,
        what_to_do=rule.what_to_do,
        word="house" if rule.house_policy else "published",
        source=rule.source,
        grade=rule.grade,
    )


def _past(session: Session, rows: Any, zone: Any) -> list[dict[str, str]]:
    numbers = sorted({row.set_by for row in rows})
    people = dict(session.exec(select(Person.id, Person.name).where(col(Person.id).in_(numbers))).all())
    return [_was(row, people, zone) for row in rows]


def _was(row: ConditionRuleRow, people: Mapping[int | None, str], zone: Any) -> dict[str, str]:
    kind = f"{KIND_WORDS[row.kind]} only: " if row.kind else ""
    follows = CONSEQUENCE_WORDS[Consequence(row.consequence)]
    return {
        "on": day(row.set_at.astimezone(zone).date()),
        "who": people.get(row.set_by, ""),
        "rule": f"{kind}{follows}; {row.what_to_do or 'nothing more'}",
        "reason": row.reason,
    }
