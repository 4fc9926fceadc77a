"""Whether what is put together is never mixed: one rule for writing, checking, beginning and adding.

A stop that names a condition is answered in writing by the role the row names; the answer stands with the
batch (`change`, kind ``batch``) and holds for that one batch.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Final

from sqlmodel import Session, col, select

from service.actions.note_change import note_change
from service.actions.rag_duty import refuse_or_record
from service.actions.settle import Act
from service.core.findings import Finding, Invalid, Severity, Verdict, warn
from service.core.hazards.classes import Hazard
from service.core.hazards.read_class import read_class
from service.core.hazards.regimes import Regime
from service.core.late_entries import SHORTEST_SENTENCE, is_sentence
from service.core.material_facts import facts_self_heating
from service.core.materials import Form, MaterialKind
from service.core.never_with import (
    MixedThing,
    Names,
    NeverWith,
    answerable,
    judge_together,
    may_answer,
    without_answered,
)
from service.records.components import MaterialComponent, components_of_all
from service.records.knowledge import known
from service.records.knowledge_compositions import Role as PartRole
from service.records.knowledge_compositions import composition_of
from service.records.knowledge_never_with import never_with
from service.records.material_queries import own_facts
from service.records.materials import Material
from service.records.mixing import Batch
from service.records.mixing_queries import additions_of, materials_behind
from service.records.shop import Change
from service.records.substance_facts import listed

_FIELD: Final = "never with: "
_DEEPEST: Final = 4
_SHARE_COUNTS: Final = Decimal("0.1")
"""Parts of less, in per cent, are left out: the lowest general cut-off of the hazard rules."""


def judge_never_with(session: Session, materials: Iterable[Material]) -> Verdict:
    """What is found against mixing these materials; made mixes count as what goes into them.

    Materials that are in no book (published rows) have no number and are judged by their facts.
    """
    each: dict[int | str, Material] = {}
    for material in materials:
        number = material.id if material.id is not None else f"{material.known_key} {material.name}"
        each.setdefault(number, material)
    return judge_together(never_with(), _things(session, list(each.values())))


def warnings_only(verdict: Verdict) -> list[Finding]:
    """The same findings for somebody who only writes: nothing is refused yet, and all of it is said."""
    return [
        warn(f.code, f.sentence, f.source, f.about) if f.severity is Severity.STOP else f for f in verdict
    ]


def answered(session: Session, batch_id: int) -> frozenset[str]:
    """The codes of the rows whose condition was confirmed in writing for a batch."""
    told = session.exec(
        select(Change.field).where(
            col(Change.about_kind) == "batch",
            col(Change.about_id) == batch_id,
            col(Change.field).startswith(_FIELD, autoescape=True),
        )
    ).all()
    return frozenset(field.removeprefix(_FIELD) for field in told)


def answers_to(act: Act, verdict: Iterable[Finding], sentence: str) -> frozenset[str]:
    """The codes that this person's sentence answers, of the stops in a verdict.

    Raises:
        Invalid: field ``confirmation``: a sentence of less than ten letters.
    """
    if not sentence.strip():
        return frozenset()
    if not is_sentence(sentence):
        words = f"Say in a sentence how the condition is met ({SHORTEST_SENTENCE} letters or more)."
        raise Invalid(words, {"confirmation": words})
    rows = answerable(never_with())
    return frozenset(
        f.code
        for f in verdict
        if f.severity is Severity.STOP and f.code in rows and may_answer(rows[f.code], act.actor.role)
    )


def keep_answers(act: Act, batch: Batch, codes: Iterable[str], sentence: str) -> None:
    """Write down who confirmed which condition of a batch, and in which words."""
    for code in sorted(codes):
        note_change(
            act.session, act.actor, act.recorded_at, ("batch", batch.id), f"{_FIELD}{code}"[:60], None,
            " ".join(sentence.split()),
        )  # fmt: skip


def judge_addition(act: Act, batch: Batch, material: Material, sentence: str) -> None:
    """What one more material meets in a running batch; nothing is booked where it is stopped.

    What has happened already is recorded with the finding, and a keeper owes an answer.

    Raises:
        Refused: a row stops it that nobody has answered, or may answer.
        Invalid: it has happened, and nobody says why; or the confirmation is no sentence.
    """
    assert batch.id is not None
    inside = [one.material for one in additions_of(act.session, batch.id) if not one.reversed]
    met = [
        f
        for f in judge_never_with(act.session, [*inside, material])
        # What is not known of something that is in it already is said again at every addition.
        if f.severity is Severity.UNKNOWN or _is_about(f, material.name)
    ]
    now = answers_to(act, met, sentence)
    keep_answers(act, batch, now, sentence)
    left = without_answered(met, now | answered(act.session, batch.id))
    refuse_or_record(act, left, f"batch {batch.id}")


def _is_about(finding: Finding, name: str) -> bool:
    about = finding.about
    return about == name or about.startswith(f"{name}, ") or about.endswith(f", {name}")


def _things(session: Session, materials: Sequence[Material]) -> list[MixedThing]:
    numbers = [m.id for m in materials if m.id is not None]
    behind = {number: _behind(session, number, 1) for number in numbers if _is_mix(materials, number)}
    every = [*materials, *(m for inner in behind.values() for m in inner)]
    own = components_of_all(session, sorted({m.id for m in every if m.id is not None}))
    found = []
    for material in materials:
        inside = behind.get(material.id or 0, [])
        in_it = [(m, own.get(m.id or 0, ())) for m in inside]
        found.append(_thing(material, own.get(material.id or 0, ()), in_it))
    return found


def _is_mix(materials: Sequence[Material], number: int) -> bool:
    return any(m.id == number and m.kind is MaterialKind.MADE_MIX for m in materials)


def _behind(session: Session, material_id: int, depth: int) -> list[Material]:
    """What goes into a made mix, and into the mixes in it: by its recipe and by all its batches."""
    found: dict[int, Material] = {}
    for material in materials_behind(session, material_id):
        if material.id is None or material.id == material_id:
            continue
        found[material.id] = material
        if material.kind is MaterialKind.MADE_MIX and depth < _DEEPEST:
            found |= {m.id: m for m in _behind(session, material.id, depth + 1) if m.id is not None}
    return list(found.values())


def _thing(
    material: Material,
    own: Sequence[MaterialComponent],
    inside: Sequence[tuple[Material, Sequence[MaterialComponent]]],
) -> MixedThing:
    hazards, statements = _classes(material)
    parts = [_parts(material, own), *(names for m, rows in inside for names in (_itself(m), _parts(m, rows)))]
    for other, _ in inside:
        more, said = _classes(other)
        hazards = None if hazards is None and more is None else (*(hazards or ()), *(more or ()))
        statements |= said
    metals = [m.toxic_metals for m in (material, *(m for m, _ in inside)) if m.toxic_metals is not None]
    published = known(material.known_key) if material.known_key else None
    kinds = frozenset(m.kind for m, _ in inside)
    return MixedThing(
        name=material.name,
        kind=_kind(material, kinds),
        itself=_itself(material),
        parts=_together(parts),
        hazards=hazards,
        statements=statements,
        metals=frozenset(str(metal) for row in metals for metal in row)
        | frozenset(published.toxic_metals or () if published else ()),
        oily=any(facts_self_heating(own_facts(m)) for m in (material, *(m for m, _ in inside))),
        kinds_inside=kinds,
        inside=tuple(_thing(m, rows, ()) for m, rows in inside),
    )


def _kind(material: Material, inside: frozenset[MaterialKind]) -> MaterialKind:
    """A mix of dry colours that is still a powder is a dry colour."""
    dry = material.form is Form.POWDER and MaterialKind.DRY_PIGMENT in inside
    return MaterialKind.DRY_PIGMENT if dry and material.kind is MaterialKind.MADE_MIX else material.kind


def _itself(material: Material) -> Names:
    published = known(material.known_key) if material.known_key else None
    cas, ci = _list(material.cas), [name.casefold() for name in _list(material.ci_name)]
    called = [material.name]
    if published is not None:
        cas += published.cas
        ci += [name.casefold() for name in published.ci_generic]
        called.append(published.name)
    keys = frozenset({published.key}) if published else frozenset()
    return Names(keys, frozenset(cas), frozenset(ci), tuple(dict.fromkeys(called)))


def _parts(material: Material, own: Sequence[MaterialComponent]) -> Names:
    if own:
        counted = [row for row in own if row.high is None or row.high >= _SHARE_COUNTS]
        return Names(
            cas=frozenset(row.cas for row in counted if row.cas), called=tuple(row.name for row in counted)
        )
    lines = [
        line
        for line in composition_of(material.known_key or "")
        if line.role is not PartRole.NOT_KNOWN and (line.high is None or line.high >= _SHARE_COUNTS)
    ]
    return Names(
        cas=frozenset(line.cas for line in lines if line.cas), called=tuple(line.substance for line in lines)
    )


def _together(names: Sequence[Names]) -> Names:
    return Names(
        frozenset().union(*(one.keys for one in names)),
        frozenset().union(*(one.cas for one in names)),
        frozenset().union(*(one.ci for one in names)),
        tuple(dict.fromkeys(name for one in names for name in one.called)),
    )


def _classes(material: Material) -> tuple[tuple[Hazard, ...] | None, frozenset[str]]:
    """The supplier's classes and statements; a line that cannot be read tells nothing here.

    Of an other chemical whose classes nobody copied, those that the published lists give for its number.
    Not of a colour: a list that calls an ore an oxidiser would stop every umber in oil.
    """
    if material.hazards is None:
        rows = [listed(cas, Regime.UN_GHS).hazards for cas in _list(material.cas)]
        told = [hazard for row in rows for hazard in row or ()]
        if material.kind is not MaterialKind.OTHER_CHEMICAL or not any(row is not None for row in rows):
            return None, frozenset()
        return tuple(told), frozenset(hazard.code for hazard in told)
    hazards: list[Hazard] = []
    statements: set[str] = set()
    for written in material.hazards:
        try:
            read = read_class(str(written))
        except Invalid:
            continue
        hazards += read.hazards
        statements |= {*read.supplements, *(hazard.code for hazard in read.hazards)}
    return tuple(hazards), frozenset(statements)


def _list(text: str) -> list[str]:
    return [part.strip() for part in text.replace(",", ";").split(";") if part.strip()]


def conditions(verdict: Iterable[Finding]) -> list[NeverWith]:
    """The rows behind the stops of a verdict that somebody may answer, once each."""
    rows = answerable(never_with())
    codes = dict.fromkeys(f.code for f in verdict if f.severity is Severity.STOP)
    return [rows[code] for code in codes if code in rows]
