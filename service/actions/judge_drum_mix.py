"""Whether what goes into a drum of waste may be in it together, by the rows of a pot and those of a store.

A drum is closed and stands for months. What a row allows for use at once is never allowed here, and an answer
holds for the two things it was given for alone. What only spoils a colour is said and stops nothing. What was
put in by words that no rule reads was not judged, and that is said wherever the drum is looked at.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

from sqlmodel import Session, col, select

from service.actions.drum_entries import counted
from service.actions.expand_mixes import batches_in_container
from service.actions.judge_never_with import answers_to
from service.actions.note_change import note_change
from service.actions.rag_duty import refuse_or_record
from service.actions.read_mixed_things import InPot, read_mixed_things
from service.actions.settle import Act
from service.core.drum_mix import DrumThing, judge_in_drum
from service.core.drum_words import plain_solvent, says_oil, says_rags, says_water, things_of
from service.core.findings import Finding, Severity, Verdict, warn
from service.core.materials import Form, MaterialKind, SelfHeating
from service.core.mixed_things import plain_name
from service.core.never_with import CONFIRMED, CONFIRMED_FIELD
from service.core.shelf_codes import show_code
from service.core.waste_drums import DrumStep, counting_whole
from service.records.knowledge_never_with import never_with
from service.records.knowledge_storage import storage_tables
from service.records.materials import Material
from service.records.shop import Change
from service.records.stock import Container, Movement
from service.records.waste_drum_queries import SeenDrum, seen_drum

_KIND: Final = "waste-drum"
STANDS: Final = "waste-drum-stop-stands"


def met_in_drum(session: Session, seen: SeenDrum) -> Verdict:
    """All that is found against what stands in a drum together; what was answered is a warning."""
    told = _answered(session, seen.number)
    return Verdict.of(
        warn(CONFIRMED, f"Confirmed in writing. {one.sentence}", one.source, one.about)
        if one.severity is Severity.STOP and (one.code, one.about) in told
        else one
        for one in judge_in_drum(never_with(), storage_tables().kept_apart, _things(session, seen))
    )


def judge_put_in(act: Act, before: SeenDrum, sentence: str, sorted_in: Sequence[int] = ()) -> None:
    """What went into a drum since ``before`` meets in it, after what this person's sentence answers of it.

    Args:
        sorted_in: movements of which a keeper says that they are in this drum. What met in it before without
            them is said and stops that no more: sorting anew is how a wrong entry is put right.

    Raises:
        Refused: a row stops it that nobody has answered, or may answer. What has happened is recorded.
        Invalid: field ``confirmation``: what is written is no sentence.
    """
    act.session.flush()
    after = seen_drum(act.session, before.number)
    had = {(one.code, one.sentence) for one in met_in_drum(act.session, before)}
    # A stop that nobody answered stops again, whatever goes in; so is said again what was not judged.
    again = (Severity.STOP, Severity.UNKNOWN)
    found = met_in_drum(act.session, after)
    names = [material.name for _, material in _boxes(act.session, sorted_in)]
    stood = [
        one for one in found
        if names and one.severity is Severity.STOP and (one.code, one.sentence) in had
        and not any(name in one.about for name in names)
    ]  # fmt: skip
    met = [
        one for one in found
        if (one.severity in again or (one.code, one.sentence) not in had) and one not in stood
    ]  # fmt: skip
    act.note(*(_stood_before(before, one) for one in stood))
    now = answers_to(act, met, sentence)
    for one in now:
        note_change(
            act.session, act.actor, act.recorded_at, (_KIND, before.number),
            f"{CONFIRMED_FIELD}{one.code}"[:60], None, " ".join(sentence.split()), reason=one.about,
        )  # fmt: skip
    left = [
        warn(CONFIRMED, f"Confirmed in writing. {one.sentence}", one.source, one.about) if one in now else one
        for one in met
    ]
    refuse_or_record(act, Verdict.of(left), f"waste drum {before.row.name}")


def _stood_before(seen: SeenDrum, one: Finding) -> Finding:
    words = (
        f"In {seen.row.name} this met before, and nobody answered it: {one.sentence} Take the entry back of "
        "what is not in it, or have the drum taken away by somebody who knows of it."
    )
    return warn(STANDS, words, one.source, one.about)


def _answered(session: Session, number: int) -> set[tuple[str, str]]:
    """Code and names of what was confirmed in writing for this drum."""
    rows = session.exec(
        select(Change.field, Change.reason).where(
            col(Change.about_kind) == _KIND,
            col(Change.about_id) == number,
            col(Change.field).startswith(CONFIRMED_FIELD, autoescape=True),
        )
    ).all()
    return {(field.removeprefix(CONFIRMED_FIELD), about) for field, about in rows}


def _things(session: Session, seen: SeenDrum) -> list[DrumThing]:
    """What is in a drum, each once: materials of the store, and what was put in by words."""
    puts = [one for one in counted(seen) if one.step is DrumStep.PUT_IN]
    pot: dict[object, InPot] = {}
    moved = [one.movement_id for one in puts if one.movement_id is not None]
    for box, material in _boxes(session, moved):
        batches = batches_in_container(session, box) if material.kind is MaterialKind.MADE_MIX else None
        inside = None if batches is None else tuple(batches)
        pot.setdefault((material.id, inside), InPot(material, inside, show_code(box.code)))
    found = [DrumThing(thing) for thing in read_mixed_things(session, list(pot.values()))]
    words: dict[str, tuple[bool, int]] = {}
    for one in puts:
        if one.movement_id is None:
            rags = one.load_id is not None and (not one.what or says_rags(one.what))
            own = one.what or (f"oily rags of load {one.load_id}" if rags else "")
            if one.load_id is not None and not rags:
                # What was written with a load and says something else than rags is beside it.
                words.setdefault(f"oily rags of load {one.load_id}", (True, one.id or 0))
            # What was in it when the book began with it is what the drum was begun for.
            begun = not own or one.what == BEGUN_WITH
            for part in things_of(seen.row.stream if begun else own):
                said_rags = says_rags(part)
                words.setdefault(part, (rags or said_rags, one.id or 0))
    held = [
        one for one in counting_whole(seen.state.facts, [one.entry for one in seen.entries])
        if one.step in (DrumStep.PUT_IN, DrumStep.WEIGHED)
    ]  # fmt: skip
    if held and (held[0].number == 0 or held[0].step is DrumStep.WEIGHED):
        # Something was in it of which nobody wrote that it was put in.
        for part in things_of(seen.row.stream):
            words.setdefault(part, (says_rags(part), 0))
    told = [_worded(session, seen, text, rags, line) for text, (rags, line) in words.items()]
    names = {plain_name(one.thing.name) for one in (*found, *told)}
    called = dict.fromkeys((*things_of(seen.row.stream), *things_of(seen.row.hazards)))
    return [
        *found, *told,
        *(
            replace(_worded(session, seen, text, says_rags(text), 0), name_only=True)
            for text in called if plain_name(text) not in names
        ),
    ]  # fmt: skip


BEGUN_WITH: Final = "what was in it when the book began with it"
"""What the first entry of a drum says that was filled already."""


def _boxes(session: Session, movements: Sequence[int]) -> Iterable[tuple[Container, Material]]:
    query = (
        select(Container, Material)
        .join(Movement, col(Movement.container_id) == col(Container.id))
        .join(Material, col(Material.id) == col(Container.material_id))
        .where(col(Movement.id).in_(movements))
        .order_by(col(Movement.id))
    )
    return session.exec(query).all() if movements else ()


def _worded(session: Session, seen: SeenDrum, text: str, rags: bool, line: int) -> DrumThing:
    """A thing of which the book has only words; whether it holds oil is a guess but for rags."""
    heats = SelfHeating.YES if rags else SelfHeating.NOT_KNOWN
    oil = says_oil(text)
    solvent = plain_solvent(text) or (oil and "oil" not in plain_name(text).split())
    kind = MaterialKind.SOLVENT if solvent else MaterialKind.CONSUMABLE
    named = Material(
        name=text, kind=kind, form=Form.LIQUID, self_heating=heats,
        created_at=seen.row.recorded_at,
    )  # fmt: skip
    [thing] = read_mixed_things(session, [InPot(named)])
    plain = not oil and (solvent or says_water(text))
    return DrumThing(thing, by_words=True, rags=rags, line=line, plain=plain, oil=oil)
