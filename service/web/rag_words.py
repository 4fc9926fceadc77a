"""Oily rags as pages show them: steps in words, a load in facts, its clocks with their reasons."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Final

from sqlmodel import Session

from service.core.access import Actor, Permission, may
from service.core.findings import NotAllowed
from service.core.rag_judgement import Phase, words
from service.core.rags import RagStep, RemovalHow, Water
from service.records.job_queries import is_in_job
from service.records.people import Person
from service.records.places import Place, PlaceKind
from service.records.rag_queries import JudgedLoad, rag_cans
from service.records.rags import RagLogRow
from service.web.render import instant, number

# NIST SP 811, 2008, appendix B: a US gallon.
_LITRES_A_GALLON: Final = Decimal("3.785412")
STEPS: Final[dict[RagStep, tuple[str, str]]] = {
    RagStep.IN_CAN: ("In the rag can", "Metal, lid shut, listed for oily waste"),
    RagStep.UNDER_WATER: ("Under water in a lidded can", "Nothing stands out of the water"),
    RagStep.OUTSIDE_DRUM: ("In the drum outside", "Under water, lid on, away from the building"),
    RagStep.REMOVED: (
        "Somebody took them",
        "Hauler, municipality, industrial laundry, or burned under a permit",
    ),
    RagStep.LAID_FLAT: ("Laid flat outdoors", "One layer, weighted; it does not count as put away"),
    RagStep.LOOSE: ("They are loose", "In hand, in a pile, a box or a bag"),
    RagStep.NONE_MADE: ("None were made", "No rag, wipe, strainer, steel wool or dust came of it"),
}
NO_END: Final = "It does not count: they stay owed"
HOW: Final[dict[RemovalHow, tuple[str, str]]] = {
    RemovalHow.HAULER: ("The hauler took them", ""),
    RemovalHow.MUNICIPALITY: ("Handed to the municipality", ""),
    RemovalHow.INDUSTRIAL_LAUNDRY: (
        "Sent to an industrial laundry",
        "A named laundry that takes oily cloth",
    ),
    RemovalHow.BURNED_UNDER_PERMIT: ("Burned under a permit", "With its number"),
    RemovalHow.WASHED_HERE: ("Washed or tumble-dried here", NO_END),
    RemovalHow.DRIED: ("Dried", NO_END),
    RemovalHow.BIN: ("Into the ordinary bin", NO_END),
    RemovalHow.TAKEN_HOME: ("Taken home", NO_END),
}
def how_choices() -> list[tuple[str, str, str]]:
    """The ways in which rags end; what is no end is said beside them and not offered."""
    return [(how.value, *words) for how, words in HOW.items() if words[1] != NO_END]


WATER: Final = [
    (Water.FULL.value, "Wholly under water", "Nothing stands out"),
    (Water.PARTLY.value, "Partly", "Something stands out"),
    (Water.NONE.value, "No water", ""),
]
LOG_WORDS: Final = {
    "load-made": "load begun", "draw-joined": "draw", "went-on": "use went on",
    "given-to": "given to another", "job-closed": "job closed",
    "violation": "violation", "answer": "answer to a violation", "override": "override given",
    "handed-out": "handed out", "handed-in": "handed in", "day-closed": "day closed",
    "can-emptied": "can emptied", "can-carried": "can carried",
    "wipes-begun": "solvent wipes begun", "wipes-sent": "solvent wipes handed over",
    "override-used": "override used", "unexplained-use": "use not explained", "correction": "correction",
}  # fmt: skip
PHASES: Final = {
    Phase.IN_USE: ("look-first", "in use or loose"),
    Phase.CONTAINED: ("look-first", "put away, still here"),
    Phase.WAITING: ("look-first", "outside, waits for collection"),
    Phase.OVERDUE: ("past", "overdue"),
    Phase.ENDED: ("in-date", "ended"),
}
_KINDS: Final = {
    RagStep.IN_CAN: (PlaceKind.RAG_CAN,),
    RagStep.UNDER_WATER: (PlaceKind.RAG_CAN, PlaceKind.WASTE_DRUM, PlaceKind.OUTSIDE_DRUM),
    RagStep.OUTSIDE_DRUM: (PlaceKind.OUTSIDE_DRUM,),
}


@dataclass(frozen=True)
class LoadShown:
    """One load as a card or a page head shows it."""

    id: int
    name: str
    tag: str
    tag_words: str
    sentence: str
    owed_by: str
    contain: str
    remove: str
    left: int | None
    ended: bool
    contained: bool
    late: bool


def shown(seen: JudgedLoad, zone: str) -> LoadShown:
    """A load in words, its times on the shop's clock."""
    judgement = seen.judgement
    tag, tag_words = PHASES[judgement.phase]
    if judgement.minutes_late and judgement.phase is Phase.OVERDUE:
        tag_words = f"overdue {words(judgement.minutes_late)}"
    return LoadShown(
        id=seen.load_id,
        name=judgement.load.name,
        tag=tag,
        tag_words=tag_words,
        sentence=judgement.sentence,
        owed_by=judgement.load.owed_by,
        contain=_clock(
            judgement.load.contain_by, zone, judgement.contain_minutes_late, met=seen.state.contained
        ),
        remove=_clock(
            judgement.load.remove_by, zone, judgement.remove_minutes_late, met=seen.state.remove_met
        ),
        left=judgement.minutes_left,
        ended=seen.state.ended,
        contained=seen.state.contained,
        late=judgement.blocks,
    )


def _clock(by: datetime, zone: str, late: int, *, met: bool) -> str:
    """A time with what became of it: met, late by so much, or late until now. Late is never met."""
    if late:
        return f"{instant(by, zone)} (late by {words(late)}{'' if met else ' so far'})"
    return f"{instant(by, zone)}{' (met)' if met else ''}"


def because(seen: JudgedLoad) -> list[tuple[str, str, str]]:
    """Why each clock stands where it stands: which clock, how the rule is read, its citation."""
    names = {"contain": "Put away by", "remove": "Out of the building by"}
    return [(names.get(b["clock"], b["clock"]), b["reading"], b["citation"]) for b in seen.row.because]


def steps_for(actor: Actor, *, own: bool, in_drum: bool) -> list[RagStep]:
    """The steps this person may say of a load; the action judges again."""
    if not may(actor.role, Permission.HAND_IN_RAGS):
        return []
    if not may(actor.role, Permission.CONTAIN_RAGS):
        return [RagStep.IN_CAN, RagStep.UNDER_WATER, RagStep.LOOSE] if own else []
    steps = list(STEPS)
    if in_drum and not may(actor.role, Permission.WASTE_HAND_OVER):
        steps.remove(RagStep.REMOVED)
    if not own and not may(actor.role, Permission.REVERSE_ANY):
        steps.remove(RagStep.NONE_MADE)
    return steps


def may_see(session: Session, actor: Actor, seen: JudgedLoad) -> bool:
    """Who sees the logs sees every load; a student those of their own jobs."""
    return may(actor.role, Permission.SEE_LOGS) or is_in_job(session, seen.job, actor.person_id)


def require_seen(session: Session, actor: Actor, seen: JudgedLoad) -> JudgedLoad:
    """The load, if this person may see it.

    Raises:
        NotAllowed: a student whose job it is not.
    """
    if not may_see(session, actor, seen):
        raise NotAllowed("These are the rags of another job. Ask its leader.")
    return seen


def cans_for(session: Session, step: RagStep) -> list[Place]:
    """The places that a step may name."""
    return [place for place in rag_cans(session) if place.kind in _KINDS.get(step, ())]


def log_lines(session: Session, rows: Sequence[RagLogRow], zone: str) -> list[dict[str, Any]]:
    """Log entries as table rows: number, what, who, when, late or not."""
    lines: list[dict[str, Any]] = []
    for row in rows:
        person = session.get(Person, row.person_id) if row.person_id else None
        late = row.recorded_at - row.happened_at
        when: list[Any] = [instant(row.happened_at, zone)]
        if late.total_seconds() > 15 * 60:
            when.append(f"written down {words(int(late.total_seconds() // 60))} later")
        lines.append({
            "number": str(row.id), "what": _said(row), "who": person.name if person else "the service",
            "when": {"lines": when},
        })  # fmt: skip
    return lines


def draw_choices(
    rows: Sequence[RagLogRow], refs: Sequence[str], zone: str
) -> list[tuple[str, str, str]]:
    """The draws of a load to choose among: what was drawn from which container, and when."""
    told = {json.loads(row.body).get("ref"): row for row in rows if row.kind in ("draw-joined", "went-on")}
    choices = []
    for ref in refs:
        row = told.get(ref)
        what = json.loads(row.body).get("what", "") if row else ""
        when = f", {instant(row.happened_at, zone)}" if row else ""
        choices.append((ref, what or ref.capitalize(), f"{ref.capitalize()}{when}"))
    return choices


def said_of_entry(row: RagLogRow) -> str:
    """What an entry says, in one line."""
    return "; ".join(_said(row)["lines"])


def _said(row: RagLogRow) -> dict[str, list[str]]:
    body = json.loads(row.body)
    if row.kind != "step":
        first = LOG_WORDS.get(row.kind, row.kind)
        load = f", load {row.load_id}" if row.load_id else ""
        texts = [str(body[k]) for k in ("what", "sentence", "name", "reason", "answer") if body.get(k)]
        return {"lines": [f"{first}{load}", *texts]}
    said = [f"{STEPS[RagStep(body['step'])][0]}, load {row.load_id}"]
    removal = body.get("removal")
    if removal:
        told = HOW.get(RemovalHow(removal["how"]), (removal["how"], ""))[0]
        said.append(f"{told}: {removal['named'] or removal['permit']}")
    labels = (
        ("can_name", "{}"), ("mass", "mass: {}"), ("count", "{} pieces counted"), ("witness", "seen by {}"),
        ("note", "{}"),
    )  # fmt: skip
    said += [form.format(body[key]) for key, form in labels if body.get(key)]
    if body.get("late_reason"):
        said.append(f"late: {body['late_reason']}")
    return {"lines": said}


def can_holds(place: Place) -> str | None:
    """What a can or drum holds in words, in litres and US gallons; None: not known."""
    if place.capacity_ml is None:
        return None
    litres = Decimal(place.capacity_ml) / 1000
    gallons = round(litres / _LITRES_A_GALLON, 1).normalize()
    return f"{number(litres)} l ({gallons:f} US gal)"
