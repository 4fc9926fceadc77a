"""`/policies`: how long everything keeps, on whose word, what it was before; a keeper sets it anew."""

import uuid
from collections import Counter
from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Literal

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field, StringConstraints
from sqlmodel import Session, col, select

from service.actions.jars_of_solution import boxes_in_use, jars_of_solution
from service.actions.set_policy import PolicyAsked, set_policy
from service.core.access import Permission, may
from service.core.ageing_policies import END_WORDS, PolicyEnd
from service.core.dissolved_life import GLUE, SHELLAC
from service.core.findings import Invalid
from service.core.materials import MaterialKind
from service.core.sources import GRADE_WORDS, Grade
from service.records.ageing_queries import all_policy_rows, in_force
from service.records.materials import AgeingPolicyRow, Material
from service.records.peroxide_formers import former_of, former_of_key
from service.records.policy_queries import (
    Subject,
    containers_by_material,
    history,
    materials_concerned,
    own_material,
)
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, shop_zone
from service.web.fields import Id, Note, Once, Sentence, Whole
from service.web.forms import FormModel, Posted, filled, posted
from service.web.peroxide_lines import PEROXIDE_COLUMNS, peroxide_lines
from service.web.policy_words import facts, general, history_lines, line, material_line, told
from service.web.render import page

router = APIRouter(prefix="/policies", include_in_schema=False)

Key = Annotated[str, StringConstraints(min_length=1, max_length=60, pattern=r"^[A-Za-z0-9_-]+$")]
ShortNote = Annotated[Note, StringConstraints(max_length=500)]
Unit = Literal["months", "days"]
_COLUMNS = [
    {"key": "name", "label": "For"},
    {"key": "sealed", "label": "Sealed"},
    {"key": "opened", "label": "Opened"},
    {"key": "end", "label": "The end"},
    {"key": "word", "label": "Whose word"},
]
_MATERIAL_COLUMNS = [
    {"key": "name", "label": "Material"},
    {"key": "by", "label": "Goes by"},
    {"key": "sealed", "label": "Sealed"},
    {"key": "opened", "label": "Opened"},
    {"key": "word", "label": "Whose word"},
]
_ENDS = [
    (PolicyEnd.RETEST.value, "It is checked", END_WORDS[PolicyEnd.RETEST]),
    (PolicyEnd.EXPIRY.value, "It expires", END_WORDS[PolicyEnd.EXPIRY]),
    (PolicyEnd.INDEFINITE.value, "It does not age", END_WORDS[PolicyEnd.INDEFINITE]),
]
_PARTS = (PolicyEnd.PARTS.value, "It follows its parts", END_WORDS[PolicyEnd.PARTS])
_GRADES = [(grade.value, words) for grade, words in GRADE_WORDS.items()]
_WORDS = [
    ("house", "This shop's own house policy", "No published rule stands behind it, and every page says so."),
    ("published", "A published source", "Named below, with its grade."),
]
_FIELD_OF = {
    "sealed_months": "sealed", "sealed_days": "sealed", "opened_months": "opened", "opened_days": "opened"
}


class PolicyForm(FormModel):
    end: PolicyEnd = Field(title="What the end means")
    sealed: Whole | None = Field(default=None, title="Sealed life")
    sealed_unit: Unit = Field(default="months", title="Unit of the sealed life")
    opened: Whole | None = Field(default=None, title="Opened life")
    opened_unit: Unit = Field(default="months", title="Unit of the opened life")
    hard_months: Whole | None = Field(default=None, title="Never past, in months")
    extends_months: Whole | None = Field(default=None, title="What a passed check gives, in months")
    max_extensions: Whole | None = Field(default=None, title="How often")
    word: Literal["house", "published"] = Field(title="Whose word")
    source: Sentence | None = Field(default=None, title="Source")
    grade: Grade = Field(title="Grade of the source")
    note: ShortNote = Field(default="", title="What a check looks at")
    reason: Note = Field(title="Why you set it")
    once: Once
    seen_id: Whole = 0
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("end", "missing"): "Choose what the end of its life means.",
        ("word", "missing"): "Choose whose word it is.",
        ("grade", "missing"): "Choose how well the figures are sourced.",
        ("reason", "missing"): "Enter why you set it.",
    }

    def asked(self, subject: Subject) -> PolicyAsked:
        return PolicyAsked(
            once=self.once,
            subject=subject,
            end=self.end,
            reason=self.reason,
            sealed_months=self.sealed if self.sealed_unit == "months" else None,
            sealed_days=self.sealed if self.sealed_unit == "days" else None,
            opened_months=self.opened if self.opened_unit == "months" else None,
            opened_days=self.opened if self.opened_unit == "days" else None,
            hard_months=self.hard_months,
            extends_months=self.extends_months,
            max_extensions=self.max_extensions,
            source=self.source or "",
            grade=self.grade.value,
            house_policy=self.word == "house",
            note=self.note,
            seen_id=self.seen_id,
        )


@router.get("")
def listing(request: Request, data: Data) -> Response:
    """Every policy in force, by kind and by published row, and what each material goes by."""
    with data.reading() as session:
        rows = all_policy_rows(session)
        kinds = [line(_first(rows, Subject(kind=kind)), Subject(kind=kind)) for kind in MaterialKind]
        keys = {row.key: Subject(key=row.key) for row in rows if row.key and row.material_id is None}
        special = [
            line(_first(rows, subject), subject)
            for subject in sorted(keys.values(), key=lambda one: one.in_words().casefold())
        ]
        kept = col(Material.active).is_(True), col(Material.not_stocked).is_(False)
        wanted = select(Material).where(*kept).order_by(col(Material.name), col(Material.id))
        materials = [material_line(in_force(rows, m), m) for m in session.exec(wanted).all()]
    context = {
        "columns": _COLUMNS, "kinds": kinds, "special": special,
        "material_columns": _MATERIAL_COLUMNS, "materials": materials,
    }  # fmt: skip
    return page(request, "policies/list.html", context, section="alerts")


def _first(newest_first: Any, subject: Subject) -> AgeingPolicyRow | None:
    return next((row for row in newest_first if subject.has(row)), None)


@router.get("/kind/{kind}")
def kind_page(request: Request, data: Data, actor: Signed, kind: MaterialKind) -> Response:
    """One kind."""
    return _show(request, data, actor, Subject(kind=kind))


@router.get("/key/{key}")
def key_page(request: Request, data: Data, actor: Signed, key: Key) -> Response:
    """One row of the published table."""
    return _show(request, data, actor, Subject(key=key))


@router.get("/material/{material_id}")
def material_page(request: Request, data: Data, actor: Signed, material_id: Id) -> Response:
    """One material of the shop."""
    return _show(request, data, actor, Subject(material_id=material_id))


Posting = Annotated[Posted[PolicyForm], Depends(posted(PolicyForm))]


@router.post("/kind/{kind}")
def set_kind(
    request: Request, data: Data, now: Now, actor: Signed, kind: MaterialKind, p: Posting
) -> Response:
    """How long a kind keeps."""
    return _set(request, data, now, actor, Subject(kind=kind), p)


@router.post("/key/{key}")
def set_key(request: Request, data: Data, now: Now, actor: Signed, key: Key, p: Posting) -> Response:
    """How long such a material keeps."""
    return _set(request, data, now, actor, Subject(key=key), p)


@router.post("/material/{material_id}")
def set_material(
    request: Request, data: Data, now: Now, actor: Signed, material_id: Id, p: Posting
) -> Response:
    """How long one material keeps."""
    return _set(request, data, now, actor, Subject(material_id=material_id), p)


def _set(
    request: Request, data: Data, now: Now, actor: Signed, subject: Subject, p: Posted[PolicyForm]
) -> Response:
    if p.value is None:
        return _show(request, data, actor, subject, p, 422)
    try:
        with data.writing() as session:
            answer = set_policy(session, actor, now, p.value.asked(subject)).result
            flash(session, request, told(answer))
    except Invalid as error:
        error.errors = {_FIELD_OF.get(name, name): words for name, words in error.errors.items()}
        p.take(error)
        return _show(request, data, actor, subject, p, 422)
    return RedirectResponse(f"/policies/{subject.address}", 303)


def _show(
    request: Request, data: Data, actor: Signed, subject: Subject, p: Posted[PolicyForm] | None = None,
    status: int = 200,
) -> Response:
    with data.reading() as session:
        material = own_material(session, subject)
        rows = history(session, subject)
        concerned = materials_concerned(session, subject)
        counts = containers_by_material(session, [one.id for one in concerned])
        mixes = _jars_of_mixes(session, subject)
        before = in_force(all_policy_rows(session), material) if material and not rows else None
        past = history_lines(session, rows, shop_zone(session))
        former = former_of(session, material) if material else former_of_key(subject.key)
    keeper = may(actor.role, Permission.POLICIES)
    counted = next(iter(rows), before)
    context = {
        "name": subject.in_words(material), "address": subject.address,
        "facts": facts(counted) if counted else [],
        "general": general(before), "has_own": bool(rows),
        "concerned": [
            *((one.name, counts.get(one.id, 0), f"/policies/material/{one.id}") for one in concerned), *mixes,
        ],
        "is_material": material is not None, "past": past,
        "containers": sum(counts.values()) + sum(count for _, count, _ in mixes),
        "p": p or (_filled(counted, rows) if keeper else filled()), "keeper": keeper,
        "once": p.text("once") if p else uuid.uuid4().hex,
        "seen_id": p.text("seen_id") if p else (rows[0].id if rows else 0),
        "ends": [*_ENDS, *([_PARTS] if subject.kind is MaterialKind.MADE_MIX else [])],
        "peroxides": peroxide_lines() if former else [],
        "kept_at_most": former,
        "peroxide_columns": PEROXIDE_COLUMNS,
        "grades": _GRADES, "words": _WORDS, "units": [("months", "months"), ("days", "days")],
    }  # fmt: skip
    return page(request, "policies/one.html", context, status, section="alerts")


def _jars_of_mixes(session: Session, subject: Subject) -> list[tuple[str, int, str]]:
    """The mixes of which jars go by this policy for what is dissolved in them, with how many jars."""
    if subject.key not in (SHELLAC, GLUE):
        return []
    boxes = boxes_in_use(session, jars_of_solution(session, subject.key).jars)
    named = {material.id: material.name for _, material in boxes}
    counted = Counter(material.id for _, material in boxes if material.kind is MaterialKind.MADE_MIX)
    return sorted((named[number], count, f"/policies/material/{number}") for number, count in counted.items())


def _filled(row: AgeingPolicyRow | None, own: list[AgeingPolicyRow]) -> Posted[PolicyForm]:
    """The form as first shown: what is in force now, to be changed."""
    if row is None:
        return filled(sealed_unit="months", opened_unit="months", word="house")
    return filled(
        end=row.end,
        sealed=row.sealed_days if row.sealed_months is None else row.sealed_months,
        sealed_unit="days" if row.sealed_days is not None else "months",
        opened=row.opened_days if row.opened_months is None else row.opened_months,
        opened_unit="days" if row.opened_days is not None else "months",
        hard_months=row.hard_months,
        extends_months=row.extends_months,
        max_extensions=row.max_extensions,
        word="house" if row.house_policy else "published",
        source=row.source,
        grade=row.grade,
        note=row.note,
    )
