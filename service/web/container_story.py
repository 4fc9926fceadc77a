"""What the page of a container tells: its facts, its ledger with corrections, its events, its next acts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from service.core.access import Actor, Permission, may
from service.core.ageing import PEROXIDES
from service.core.conditions import found_words
from service.core.containers import Condition, ContainerState, EventKind, Standing
from service.core.ledger import MOVEMENT_WORDS, MovementKind
from service.core.materials import Unknown
from service.core.quantities import show_amount
from service.core.shelf_codes import show_code
from service.records.ageing_queries import standing_of, tellings_among
from service.records.people import Person
from service.records.places import Place
from service.records.stock import Container
from service.records.stock_queries import events_of, material_of, promised
from service.records.store_queries import LedgerRow, LedgerWanted, find_movements
from service.web.act_view import ActView
from service.web.render import day, instant

SHOWN: Final = 100
"""So many lines of its ledger stand on a container's page; the rest is in the records."""

LEDGER_COLUMNS: Final = [
    {"key": "what", "label": "What"},
    {"key": "change", "label": "Change", "number": True},
    {"key": "left", "label": "Left", "number": True},
    {"key": "when", "label": "When"},
    {"key": "who", "label": "Who"},
    {"key": "remark", "label": "Remark"},
]
EVENT_COLUMNS: Final = [
    {"key": "what", "label": "What"},
    {"key": "on", "label": "Day meant"},
    {"key": "when", "label": "Written"},
    {"key": "who", "label": "Who"},
    {"key": "remark", "label": "Remark"},
]

_S, _O, _E = ContainerState.SEALED, ContainerState.OPEN, ContainerState.EMPTY
_ACTS: Final = (
    ("draw", "Draw from it", Permission.DRAW, (_S, _O)),
    ("return", "Put some back", Permission.RETURN, (_O, _E)),
    ("move", "Move it", Permission.MOVE, (_S, _O, _E)),
    ("count", "Count what is there", Permission.COUNT, (_S, _O, _E)),
    ("check", "Look at its condition", Permission.CHECK, (_S, _O)),
    ("tell", "Tell a keeper what I saw", Permission.TELL, (_S, _O)),
    ("open", "Open it", Permission.OPEN, (_S, _O)),
    ("close", "The lid is on again", Permission.OPEN, (_O,)),
    ("decant", "Decant it", Permission.DECANT, (_S, _O)),
    ("lose", "Book a loss", Permission.LOSS, (_S, _O)),
    ("vapour-free", "No vapour left in it", Permission.CHECK, (_E,)),
    ("vessel", "What it is made of", Permission.RECEIVE, (_S, _O, _E)),
    ("relabel", "It got a new label", Permission.PRINT_LABELS, (_S, _O, _E)),
    ("discard", "Throw it away", Permission.DISCARD, (_S, _O, _E)),
)
_TAKES: Final = frozenset({"draw", "open", "decant"})
_TOUCHES: Final = _TAKES | {"return", "move", "close", "lose", "relabel"}
_CALLS_FOR: Final = {
    Standing.PAST: "discard",
    Standing.LOOK_FIRST: "check",
    Standing.NOT_KNOWN: "check",
}


@dataclass(frozen=True)
class WayOn:
    """One button of the page."""

    href: str
    words: str


def acts_for(view: ActView, actor: Actor) -> list[WayOn]:
    """What this person may do with it in the state it is in: the common acts first, discarding last.

    What its standing calls for goes before all: a discard when past, a look when old or not known, a sound
    container when it leaks. What is not for students offers them no way into it; one over the peroxide limit
    offers nobody what touches it.
    """
    barred = _TAKES if view.keeper_only and not may(actor.role, Permission.DRAW_KEEPER_ONLY) else frozenset()
    urgent = _CALLS_FOR.get(view.standing) or ("decant" if view.leaking else None)
    if PEROXIDES in view.verdict.codes:
        barred, urgent = _TOUCHES, None
    return [
        WayOn(f"/containers/{view.code}/{path}", words)
        for path, words, permission, states in sorted(_ACTS, key=lambda act: act[0] != urgent)
        if view.state in states and may(actor.role, permission) and path not in barred
    ]


def facts_about(session: Session, box: Container) -> list[tuple[Any, ...]]:
    """What is written down of it, as (label, value, note)."""
    assert box.id is not None
    material = material_of(session, box)
    basis = material.basis
    aside = promised(session, [box.id]).get(box.id, 0)
    facts: list[tuple[Any, ...]] = [
        ("Packed", day(box.packed_on)),
        # A jar takes over the date of what went in: it was not received on that day, or ever.
        ("Oldest part came in" if box.made_by_batch_id else "Received", day(box.received_on)),
        ("First opened", day(box.opened_on) if box.ever_opened else "never opened"),
        ("Printed date", day(box.printed_date) if box.printed_date else "none"),
        ("Lot", box.lot or None),
        ("Supplier", box.supplier or None),
        ("Holds when full", box.capacity_written or None),
        ("Came", None if box.condition is Condition.NOT_KNOWN else box.condition.value),
        ("Safety data sheet came with it", _THREE[box.sheet_came]),
    ]
    if aside and basis is not None:
        facts.append(("Set aside for batches", show_amount(aside, basis)))
    if box.note:
        facts.append(("Note", box.note))
    return facts


_THREE: Final = {Unknown.YES: "yes", Unknown.NO: "no", Unknown.NOT_KNOWN: None}


def why_lines(session: Session, box: Container, today: Any) -> list[str]:
    """How its date was found, step by step."""
    ageing = standing_of(session, box, material_of(session, box), today)
    return [reason.sentence for reason in ageing.because]


def ledger_lines_of(session: Session, box: Container, actor: Actor, zone: ZoneInfo) -> list[dict[str, Any]]:
    """Its movements, the newest first, corrections struck through."""
    rows, _ = find_movements(session, LedgerWanted(container_id=box.id), 0, SHOWN)
    return [ledger_cells(row, actor, zone) for row in rows]


def ledger_cells(row: LedgerRow, actor: Actor, zone: ZoneInfo, *, named: bool = False) -> dict[str, Any]:
    """One line of the ledger as table cells. ``named``: with the container's name in front."""
    m, basis = row.movement, row.material.basis
    undone = row.reversed_by is not None
    words = MOVEMENT_WORDS[m.kind]
    remark = [m.other_text, m.written and f"written “{m.written}”", m.reason]
    if m.late:
        remark.insert(0, f"late entry, written {instant(m.recorded_at, zone.key)}")
    if undone:
        remark.insert(0, f"taken back by entry {row.reversed_by}")
    cells: dict[str, Any] = {
        "what": f"{words[:1].upper()}{words[1:]}, entry {m.id}",
        "change": _signed(m.change, basis, m.kind),
        "left": show_amount(m.balance_after, basis) if basis else "not known",
        "when": instant(m.happened_at, zone.key),
        "who": row.person,
        "remark": "; ".join(part for part in remark if part) or "none",
    }
    if named:
        href = f"/containers/{row.container.code}"
        cells["container"] = {"href": href, "words": f"{row.material.name}, {show_code(row.container.code)}"}
    if undone:
        cells["_class"] = "struck"
    elif m.kind is not MovementKind.REVERSAL and _may_try(actor, m.person_id):
        href = f"/movements/{m.id}/correct"
        cells["what"] = {"href": href, "words": cells["what"]}
        cells["_act"] = {"href": href, "words": "Correct this"}
    return cells


def _may_try(actor: Actor, person_id: int) -> bool:
    own = person_id == actor.person_id and may(actor.role, Permission.REVERSE_OWN_SOON)
    return own or may(actor.role, Permission.REVERSE_ANY)


def _signed(change: int | None, basis: Any, kind: MovementKind) -> str:
    if basis is None or change is None:
        return "not known"
    words = show_amount(change, basis)
    return f"+{words}" if change > 0 else words


def event_lines(session: Session, box: Container, zone: ZoneInfo) -> list[dict[str, Any]]:
    """Its events, the newest first."""
    assert box.id is not None
    rows = list(reversed(events_of(session, box.id)))[:SHOWN]
    people = _names(session, {e.person_id for e in rows})
    told = tellings_among(session, {e.posting_id for e in rows})
    places = _places(session, {n for e in rows for n in (e.from_place_id, e.to_place_id) if n})
    return [
        {
            "what": _event_words(e.kind, found_words(e.found) or e.outcome, e.posting_id in told),
            "on": _meant(e.kind, e.on_date),
            "when": instant(e.recorded_at, zone.key),
            "who": people.get(e.person_id, "not known"),
            "remark": _remark(e, places, zone) or "none",
        }
        for e in rows
    ]


def _meant(kind: EventKind, on: Any) -> str:
    dated = kind in (EventKind.OPENED, EventKind.CHECKED)
    return day(on) if on is not None or dated else ""


def _event_words(kind: EventKind, outcome: str, told: bool) -> str:
    words = "seen and told" if told else kind.value.replace("-", " ")
    return f"{words[:1].upper()}{words[1:]}" + (f": {outcome.replace('-', ' ')}" if outcome else "")


def _remark(event: Any, places: dict[int, str], zone: ZoneInfo) -> str:
    parts = [event.note]
    if event.measured_mg_l is not None:
        parts.append(f"The strip showed {event.measured_mg_l:f} mg/l.")
    if event.kind is EventKind.MOVED:
        start = places.get(event.from_place_id or 0, "a place not known")
        parts.insert(0, f"from {start} to {places.get(event.to_place_id or 0, 'outside the shop')}")
    if event.late:
        at: datetime = event.happened_at
        parts.insert(0, f"late entry, happened {instant(at, zone.key)}")
    return "; ".join(part for part in parts if part)


def _names(session: Session, numbers: set[int]) -> dict[int, str]:
    rows = session.exec(select(Person.id, Person.name).where(col(Person.id).in_(sorted(numbers)))).all()
    return {number: name for number, name in rows if number is not None}


def _places(session: Session, numbers: set[int]) -> dict[int, str]:
    rows = session.exec(select(Place.id, Place.name).where(col(Place.id).in_(sorted(numbers)))).all()
    return {number: name for number, name in rows if number is not None}
