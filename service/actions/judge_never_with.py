"""Whether what is put together is never mixed: one rule for writing, checking, beginning and adding.

A stop that names a condition is answered in writing by the role the row names; the answer stands with the
batch (`change`, kind ``batch``) and holds for that one batch.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from dataclasses import replace
from functools import lru_cache

from sqlmodel import Session, col, select

from service.actions.expand_mixes import batches_in_container
from service.actions.note_change import note_change
from service.actions.rag_duty import refuse_or_record
from service.actions.read_mixed_things import InPot, read_mixed_things
from service.actions.settle import Act
from service.core.findings import Finding, Invalid, Severity, Verdict, warn
from service.core.judge_together import judge_together
from service.core.materials import MaterialKind
from service.core.mixed_things import MixedThing
from service.core.never_with import (
    CONFIRMED_FIELD,
    NOT_IDENTIFIED,
    NeverWith,
    answer_key,
    answerable,
    key_of,
    may_answer,
    without_answered,
)
from service.core.read_confirmation import names_in_confirmation
from service.core.shelf_codes import show_code
from service.core.written_reason import A_SENTENCE, is_sentence
from service.records.knowledge_never_with import never_with
from service.records.materials import Material
from service.records.mixing import Batch
from service.records.mixing_queries import additions_of
from service.records.shop import Change
from service.records.stock import Container


def judge_never_with(
    session: Session, materials: Iterable[Material], boxes: Iterable[Container] = ()
) -> Verdict:
    """What is found against mixing these materials; made mixes count as what goes into them.

    Materials that are in no book (published rows) have no number and are judged by their facts.

    Args:
        boxes: the containers they come from, as far as they are known. Each jar of a made mix counts as what
            went into its own batch, and two of them are judged against each other too.
    """
    each: dict[object, InPot] = {}
    for material in materials:
        number = material.id if material.id is not None else f"{material.known_key} {material.name}"
        each.setdefault(number, InPot(material))
    for box in boxes:
        one = each.get(box.material_id)
        if one is None or one.material.kind is not MaterialKind.MADE_MIX:
            continue
        batches = batches_in_container(session, box)
        inside = None if batches is None else tuple(batches)
        each.setdefault((box.material_id, inside), InPot(one.material, inside, show_code(box.code)))
    told = {key[0] for key in each if isinstance(key, tuple)}
    pot = [one for key, one in each.items() if key not in told]
    return _judged(tuple(read_mixed_things(session, pot)))


@lru_cache(maxsize=512)
def _judged(things: tuple[MixedThing, ...]) -> Verdict:
    """The verdict by all that is known of the things now: a plan asks it of the same recipes at each look."""
    return judge_together(never_with(), things)


def judge_batches_together(session: Session, material: Material, batches: Iterable[int]) -> Verdict:
    """What is found against batches of one mix that stand in one jar."""
    pot = [InPot(material, (number,), f"batch {number}") for number in batches]
    return judge_together(never_with(), read_mixed_things(session, pot))


def warnings_only(verdict: Verdict) -> list[Finding]:
    """The same findings for somebody who only writes: nothing is refused yet, and all of it is said."""
    return [
        warn(f.code, f.sentence, f.source, f.about) if f.severity is Severity.STOP else f for f in verdict
    ]


def answered(session: Session, batch_id: int) -> frozenset[str]:
    """The keys (`answer_key`) of what was confirmed in writing for a batch."""
    told = session.exec(
        select(Change.field, Change.reason).where(
            col(Change.about_kind) == "batch",
            col(Change.about_id) == batch_id,
            col(Change.field).startswith(CONFIRMED_FIELD, autoescape=True),
        )
    ).all()
    return frozenset(key_of(field.removeprefix(CONFIRMED_FIELD), about) for field, about in told)


def answers_to(
    act: Act, verdict: Iterable[Finding], sentence: str, before: Collection[str] = ()
) -> list[Finding]:
    """The stops of a verdict that this person's sentence answers; ``before``: keys that are answered already.

    Raises:
        Invalid: field ``confirmation``: what is written is no sentence, or it says of something that nobody
            has identified that it is what some row stops.
    """
    if not sentence.strip():
        return []
    if not is_sentence(sentence):
        words = f"Write how the condition is met in {A_SENTENCE}."
        raise Invalid(words, {"confirmation": words})
    rows = answerable(never_with())
    now = [
        f
        for f in verdict
        if f.severity is Severity.STOP and f.code in rows and may_answer(rows[f.code], act.actor.role)
    ]
    for f in now:
        if f.code == NOT_IDENTIFIED.code and answer_key(f) not in before:
            _refuse_a_name(sentence, f.about)
    return now


def _refuse_a_name(sentence: str, pair: str) -> None:
    """A sentence that names what some row stops is a name, and belongs to the material.

    Raises:
        Invalid: field ``confirmation``.
    """
    if named := names_in_confirmation(never_with(), sentence, pair):
        words = (
            f"What you wrote names {named[0]}. If that is what one of {pair} is, then enter it as the "
            "material's name, so that every rule reads it. If not, say it without that word."
        )
        raise Invalid(words, {"confirmation": words})


def keep_answers(act: Act, batch: Batch, stops: Iterable[Finding], sentence: str) -> None:
    """Write down who confirmed which condition of a batch, in which words; of something nobody can identify
    also for which two things, as it holds for them alone.
    """
    told = {(f.code, f.about if f.code == NOT_IDENTIFIED.code else "") for f in stops}
    for code, about in sorted(told):
        note_change(
            act.session, act.actor, act.recorded_at, ("batch", batch.id),
            f"{CONFIRMED_FIELD}{code}"[:60], None, " ".join(sentence.split()), reason=about,
        )  # fmt: skip


def judge_pot(
    session: Session, batch_id: int, material: Material | None = None, boxes: Iterable[Container] = ()
) -> Verdict:
    """What is found against what stands in a batch as it is, and one more material, from these containers."""
    inside = [one for one in additions_of(session, batch_id) if not one.reversed]
    every = [one.material for one in inside]
    drawn = [one.container for one in inside if one.container is not None]
    more = [] if material is None else [material]
    return judge_never_with(session, [*every, *more], [*drawn, *boxes])


def judge_addition(
    act: Act, batch: Batch, material: Material, sentence: str, boxes: Iterable[Container] = ()
) -> None:
    """What one more material meets in a running batch; nothing is booked where it is stopped.

    What has happened already is recorded with the finding, and a keeper owes an answer.

    Raises:
        Refused: a row stops it that nobody has answered, or may answer.
        Invalid: it has happened, and nobody says why; or the confirmation is no sentence.
    """
    assert batch.id is not None
    met = [
        f
        for f in judge_pot(act.session, batch.id, material, boxes)
        # What is not known of something that is in it already is said again at every addition.
        if f.severity is Severity.UNKNOWN or _is_about(f, material.name)
    ]
    before = answered(act.session, batch.id)
    now = answers_to(act, met, sentence, before)
    keep_answers(act, batch, now, sentence)
    left = without_answered(met, {*map(answer_key, now), *before})
    refuse_or_record(act, left, f"batch {batch.id}")


def _is_about(finding: Finding, name: str) -> bool:
    about = finding.about
    # One of two jars of a mix is called "name in code".
    names = re.escape(name) + r"(?: in [A-Z0-9 ]{3,9})?"
    return re.search(rf"^{names}(, |$)|, {names}$", about) is not None


def conditions(verdict: Iterable[Finding]) -> list[NeverWith]:
    """The rows behind the stops of a verdict that somebody may answer, once each; that of something nobody
    can identify once for each pair, with their names in its sentence.
    """
    rows = answerable(never_with())
    found: dict[str, NeverWith] = {}
    for f in verdict:
        if f.severity is Severity.STOP and f.code in rows:
            row = rows[f.code]
            if row is NOT_IDENTIFIED:
                row = replace(row, sentence=f.sentence.rpartition(" Only if ")[0])
            found.setdefault(row.sentence, row)
    return list(found.values())
